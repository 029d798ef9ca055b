"""The lab's page: its data, projects, people."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from labrecords import trail
from labrecords.actions import coupons, laboratory, materials
from labrecords.errors import ValueRefused
from labrecords.models import Laboratory, Person, Project
from tests.factories import make_lab, make_lot, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper():
    client = Client()
    client.force_login(make_person("administrator"))
    return client


def test_lab_is_set_up_and_changed(keeper):
    assert "Not set up yet" in keeper.get(reverse("laboratory")).text
    lab = {"name": "Invented Lab", "address": "1 Example Lane", "site": "iv", "coupon_scheme": "{site}-{number:05d}"}
    assert keeper.post(reverse("laboratory-set-up"), lab).status_code == 302
    assert Laboratory.objects.get().site == "IV"
    assert 'value="Invented Lab"' in keeper.get(reverse("laboratory-set-up")).text
    refused = keeper.post(reverse("laboratory-set-up"), lab | {"coupon_scheme": "{place}-{number}"}).text
    assert "may use {site}, {year} and {number} only" in refused


@pytest.mark.parametrize(
    ("scheme", "rule"),
    [
        ("{number:099999999d}", "at most 12 digits"),
        ("{site}-{number:013d}", "at most 12 digits"),
        ("{site}-{number:012}{year:99d}", "at most 12 digits"),
        ("{number.__class__}", "may use {site}, {year} and {number} only"),
        ("{number[0]}", "may use {site}, {year} and {number} only"),
        ("{number!r}", "may use {site}, {year} and {number} only"),
        ("{number:{year}}", "may use {site}, {year} and {number} only"),
        ("{number:.9f}", "may use {site}, {year} and {number} only"),
        ("{number:>12}", "may use {site}, {year} and {number} only"),
        ("{site:>12}{number}", "may use {site}, {year} and {number} only"),
        ("{}{number}", "may use {site}, {year} and {number} only"),
        ("{0}{number}", "may use {site}, {year} and {number} only"),
        ("{number", "may use {site}, {year} and {number} only"),
        ("{site}-fixed", "has no {number}"),
        ("{site}-{{number}}", "has no {number}"),
    ],
)
def test_scheme_that_is_more_than_a_code_is_refused_in_words(scheme, rule):
    lab = {"name": "Invented Lab", "address": "1 Example Lane", "site": "IV"}
    with pytest.raises(ValueRefused) as refused:
        laboratory.set_up(by=make_person("administrator"), **lab, coupon_scheme=scheme)
    assert rule in str(refused.value)
    assert refused.value.field == "coupon_scheme"
    assert not Laboratory.objects.exists()


@pytest.mark.parametrize(
    ("scheme", "code"),
    [("{site}-{year:02d}-{number:04d}", "TS-{year}-0001-"), ("C{number}", "C1-"), ("{number:012d}", "000000000001-")],
)  # fmt: skip
def test_scheme_of_the_three_fields_makes_codes(scheme, code):
    by = make_person("quality")
    make_lab(by)
    lot = make_lot(by)
    with trail.recorded("tests", "another scheme"):
        Laboratory.objects.update(coupon_scheme=scheme)
    laboratory.check_scheme(scheme)
    [coupon] = coupons.log(by=by, lot=lot, exposed_area_mm2=1600.0)
    assert coupon.code.startswith(code.format(year=timezone.localdate().year % 100))


def test_scheme_that_an_earlier_release_let_in_makes_no_coupon():
    by = make_person("quality")
    make_lab(by)
    lot = make_lot(by)
    with trail.recorded("tests", "as an earlier release"):
        Laboratory.objects.update(coupon_scheme="{number:099999999d}")
    with pytest.raises(ValueRefused, match="at most 12 digits"):
        coupons.log(by=by, lot=lot, exposed_area_mm2=1600.0)


def test_project_is_started(page):
    page.post(reverse("project-start"), {"code": "WX-9", "title": "Gauges", "customer": "Invented Customer"})
    assert Project.objects.get().customer == "Invented Customer"
    assert "WX-9" in page.get(reverse("laboratory")).text


def test_person_is_added_and_disabled_by_the_administrator_only(keeper, page):
    body = {"username": "nils", "full_name": "New Hand", "role": "operator", "password": "long-enough-77"}
    assert "may not add people: that is open to administrator" in page.post(reverse("person-add"), body).text
    assert "too short" in keeper.post(reverse("person-add"), body | {"password": "abc"}).text
    keeper.post(reverse("person-add"), body)
    person = Person.objects.get(username="nils")
    assert Client().login(username="nils", password="long-enough-77")
    address = reverse("person-disable", args=[person.pk])
    assert "Say why" in keeper.post(address, {"why": ""}).text
    keeper.post(address, {"why": "left the lab"})
    assert not Client().login(username="nils", password="long-enough-77")
    assert person.events.order_by("-pgh_id").first().pgh_context.metadata["why"] == "left the lab"


def test_log_without_a_lab_says_what_comes_first(page, person):
    lot = materials.log_lot(by=person, code="S1", material="Glass", form="plate")
    text = page.post(reverse("coupon-log"), {"lot": lot.pk, "count": "1"}).text
    assert "The lab is not set up yet" in text
