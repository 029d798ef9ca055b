"""What holds for every page: signed in, nothing written by looking, no inline script or style, CSRF on every form."""

import re
import time

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labrecords.actions import processing
from labrecords.models import BathLot, ChallengeLiquid, Instrument
from tests.factories import make_batch, make_instrument, make_liquid_lot, make_lot

pytestmark = pytest.mark.django_db


@pytest.fixture
def addresses(person):
    """Every page of this part, with something on it."""
    batch = make_batch(person, n=2)
    coupon = batch.members.first().coupon
    step = batch.recipe_revision.steps.get(order=1)
    processing.record(by=person, batch=batch, step=step, coupons=[coupon], started_at="2026-03-02T09:00Z")
    rig, liquid = make_instrument(person), make_liquid_lot(person).liquid
    names = ["today", "coupons", "coupon-log", "materials", "material-log", "liquids", "instruments",
             "instrument-add", "recipes", "recipe-new", "health"]  # fmt: skip
    of_coupon = ["coupon", "coupon-split", "coupon-move", "coupon-amend"]
    recipe = batch.recipe_revision.recipe.code
    return [
        *(reverse(name) for name in names),
        *(reverse(name, args=[coupon.code]) for name in of_coupon),
        *(reverse("liquid-add", args=[shelf]) for shelf in ("liquids", "liquid-lots", "lubricants", "baths")),
        reverse("property-add", args=["liquid", liquid.code]),
        reverse("instrument-calibrate", args=[rig.code]),
        reverse("recipe", args=[recipe]),
        reverse("recipe-revise", args=[recipe]),
        reverse("batch-step", args=[batch.code, 1]),
        reverse("batch-step", args=[batch.code, 2]) + "?later",
        reverse("batch-step-mark", args=[batch.code, 1, "temperature_c"]),
    ]


def test_nobody_sees_a_page_without_signing_in(addresses, client):
    for address in addresses:
        answer = client.get(address)
        assert (answer.status_code, answer.url.partition("?")[0]) == (302, reverse("sign-in")), address


def test_looking_writes_nothing(addresses, page):
    for address in addresses:
        with CaptureQueriesContext(connection) as seen:
            assert page.get(address).status_code == 200
        reads = ("SELECT", "DECLARE")  # a long list of choices is read through a cursor
        assert [query["sql"] for query in seen if not query["sql"].lstrip("(\n ").startswith(reads)] == [], address


def test_pages_hold_no_inline_script_or_style(addresses, page):
    for address in addresses:
        text = page.get(address).text
        assert re.findall(r"<script(?![^>]*\bsrc=)|\sstyle=|\son[a-z]+=|<style|https?://(?!www\.w3\.org)", text) == []


def test_every_post_form_carries_a_token_and_is_refused_without_it(addresses, page, person):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(person)
    for address in addresses:
        forms = re.findall(r'<form[^>]*method="post".*?</form>', page.get(address).text, re.DOTALL)
        assert all("csrfmiddlewaretoken" in form for form in forms), address
        assert strict.post(address, {"do": "save"}).status_code == 403, address


@pytest.mark.parametrize("address", ["/coupons/A%00B/", "/recipes/a%00b/", "/coupons/?q=%00", "/batches/X/step/1/"])
def test_address_that_can_name_nothing_is_not_found(page, address):
    assert page.get(address).status_code == 404


def test_every_field_has_a_label(addresses, page):
    for address in addresses:
        text = page.get(address).text
        fields = re.findall(r"<(?:input|select|textarea)[^>]*>", text)
        named = {re.search(r'\bid="([^"]+)"', tag)[1] for tag in fields if 'type="hidden"' not in tag}
        labels = set(re.findall(r'<label[^>]*for="([^"]+)"', text))
        assert named - labels == set(), address


@pytest.mark.alone
@pytest.mark.parametrize("name", ["materials", "liquids", "instruments", "recipes", "today"])
def test_lists_answer_within_a_tenth_of_a_second(page, person, name):
    from labrecords import trail

    with trail.recorded("tests", "many rows"):
        make_lot(person)
        own = {"created_by": person}
        ChallengeLiquid.objects.bulk_create(ChallengeLiquid(code=f"L{n}", name="Water", **own) for n in range(300))
        Instrument.objects.bulk_create(Instrument(code=f"I{n}", title="Rig", **own) for n in range(300))
        BathLot.objects.bulk_create(
            BathLot(code=f"B{n}", title="Bath", prepared_on="2026-01-05", **own) for n in range(300)
        )
    took = []
    for _ in range(5):
        start = time.perf_counter()
        assert page.get(reverse(name)).status_code == 200
        took.append(time.perf_counter() - start)
    assert min(took) < 0.1
