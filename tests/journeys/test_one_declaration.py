"""A new test method and a new texturing process, each one declaration, show up everywhere without further edits."""

import io
from datetime import datetime

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader
from rest_framework.test import APIClient

from analysis import METHODS, Method, ReadingKind, Setting, analyse_run, register_method
from labrecords import processes
from labrecords.actions import batches, coupons, methods, processing, recipes, runs
from labrecords.exchange.readings import import_file
from labrecords.models import TestRun
from tests.factories import PASSWORD, issue_report, make_criteria, make_liquid_lot, make_lot, make_person, make_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def new_method():
    """Fabrics: a drop falls from a set height on the tilted cloth. One declaration, reduced like a sliding angle."""
    method = register_method(
        Method(
            key="shedding_angle",
            title="Shedding angle of a falling drop",
            purpose="The tilt from which a drop that falls on cloth rolls off it.",
            readings=(ReadingKind("sliding_angle", can_be_not_moved=True),),
            settings=(
                Setting("fall_height_mm", "Height of fall", "mm", 0, 500),
                Setting("stage_limit_deg", "Stage limit", "°", 1, 90, limits_quantity="sliding_angle"),
            ),
            stage_limit_setting="stage_limit_deg",
            conditions=("liquid", "drop_volume_ul"),
            replicate_plan="three places a specimen",
            checks=METHODS["sliding_angle"].checks[:1],
            coupon_statistics=("sliding_angle_median",),
        )
    )
    yield method
    del METHODS[method.key]


@pytest.fixture
def new_process():
    kind = processes.register(
        processes.StepKind(
            key="frost_casting",
            title="Texturing under growing frost",
            family=processes.FAMILIES["texturing"],
            fields=(processes.StepField("cooling_rate_k_min", "Cooling rate", "K/min", 0, 1000),),
            hazards=("solvent",),
            makes_texture=True,
        )
    )
    yield kind
    del processes.KINDS[kind.key]


@pytest.fixture
def quality():
    return make_person("quality")


@pytest.fixture
def pages(quality):
    client = Client()
    client.force_login(quality)
    return client


@pytest.fixture
def api(quality):
    client = APIClient()
    token = client.post("/api/sign-in/", {"username": quality.username, "password": PASSWORD}, format="json").json()[
        "token"
    ]
    client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    return client


def text_of(page):
    assert page.status_code == 200
    return page.content.decode()


def report_text(quality, batch, **criterion):
    issued = issue_report(batch, make_criteria(quality, rows=[criterion]), approver=quality)
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(bytes(issued.file))).pages)


def test_new_method_is_in_form_api_import_and_report(new_method, quality, pages, api):
    version = methods.fix_version(
        by=quality, method=new_method.key, settings={"fall_height_mm": 10, "stage_limit_deg": 45}
    )
    assert "Height of fall" in text_of(pages.get(reverse("method-version-new", args=[new_method.key])))
    assert new_method.title in text_of(pages.get(reverse("methods")))
    assert new_method.title in text_of(pages.get(reverse("run-new")))
    run = make_run(quality, method_version=version)
    grid = text_of(pages.get(reverse("run", args=[run.code])))
    assert "sliding_angle" in grid
    assert "stage limit 45" in grid

    declared = {row["key"]: row for row in api.get("/api/methods/").json()}
    assert [row["key"] for row in declared["shedding_angle"]["settings"]] == ["fall_height_mm", "stage_limit_deg"]
    body = {"version": 1, "readings": [{"quantity": "sliding_angle", "value": "50"}]}
    refused = api.post(f"/api/runs/{run.code}/readings/", body, format="json")
    assert (refused.status_code, "stage limit" in refused.json()["message"]) == (400, True)

    batch, lot = batch_of(quality), make_liquid_lot(quality)
    rows = ["run,coupon,method,liquid,drop_volume_ul,dose,position,drop,quantity,value,qualifier"]
    for number, member in enumerate(batch.members.all()):
        rows.append(f"X{number},{member.coupon.code},shedding_angle,{lot.code},20,0,1,1,sliding_angle,{11 + number},")
        rows.append(f"X{number},{member.coupon.code},shedding_angle,{lot.code},20,0,2,1,sliding_angle,,not_moved")
    report = import_file(by=quality, data="\n".join(rows).encode(), name="falling.csv")
    assert (report.runs_added, report.readings_added) == (3, 6)
    stored = TestRun.objects.get(code="X0")
    assert stored.analyses.get(is_current=True).content["n_readings"] == 2
    text = report_text(quality, batch, label="F1", kind="count_not_moved", quantity="sliding_angle", limit=3)
    for words in ("Shedding angle of a falling drop", "Height of fall", "three places a specimen", "> 45.0"):
        assert words in text


def batch_of(quality, revision=None):
    lot = make_lot(quality)
    revision = revision or recipes.create(
        by=quality, code="R-ONE", title="One step", steps=[{"kind": "rinse", "planned": {}}]
    )
    return batches.form(
        by=quality, code="B-ONE", recipe_revision=revision, lot=lot, treated=coupons.log(by=quality, lot=lot, count=3)
    )


def test_new_texturing_process_is_in_form_api_and_report(new_process, quality, pages, api):
    assert new_process.title in text_of(pages.post(reverse("recipe-new"), {"do": "add"}))
    declared = {row["key"]: row for row in api.get("/api/step-kinds/").json()}
    assert [row["key"] for row in declared["frost_casting"]["fields"]] == ["cooling_rate_k_min"]
    steps = [{"kind": "frost_casting", "planned": {"cooling_rate_k_min": {"value": 2, "tolerance": 0.5}}}]
    made = api.post("/api/recipes/", {"code": "R-ICE", "title": "Frost", "steps": steps}, format="json")
    assert made.status_code == 201
    outside = api.post(
        "/api/recipes/",
        {
            "code": "R-BAD",
            "title": "Frost",
            "steps": [{"kind": "frost_casting", "planned": {"cooling_rate_k_min": {"value": 2000}}}],
        },
        format="json",
    )
    assert (outside.status_code, "outside 0 to 1000" in outside.json()["message"]) == (400, True)

    page = text_of(pages.get(reverse("recipe", args=["R-ICE"])))
    assert "Cooling rate" in page
    assert "flash fire" in page  # the caution of its hazard
    from labrecords.models import RecipeRevision

    revision = RecipeRevision.objects.get(recipe__code="R-ICE")
    assert revision.is_textured
    batch = batch_of(quality, revision)
    assert "Cooling rate" in text_of(pages.get(reverse("batch-step", args=[batch.code, 1])))
    at = timezone.make_aware(datetime(2026, 3, 1, 8))
    members = [member.coupon for member in batch.members.all()]
    processing.record(
        by=quality,
        batch=batch,
        step=revision.steps.get(),
        coupons=members,
        started_at=at,
        finished_at=at,
        actual={"cooling_rate_k_min": "3"},
        reasons={"cooling_rate_k_min": "cold day"},
    )
    run = make_run(quality, coupon=members[0])
    runs.record(by=quality, run=run, readings=[runs.Typed("sliding_angle", value="5")])
    runs.complete(by=quality, run=run)
    text = report_text(quality, batch, label="F1", kind="count_not_moved", quantity="sliding_angle", limit=3)
    for words in ("Texturing under growing frost", "Cooling rate", "2 ± 0.5", "cold day", "flash fire"):
        assert words in text


def test_a_declared_method_is_analysed_without_a_database(new_method):
    """The analysis side of the same declaration, alone."""
    from analysis import Reading, Run

    readings = tuple(Reading("sliding_angle", value, position=str(n)) for n, value in enumerate([4.0, 6.0, 9.0]))
    result = analyse_run(Run("R", "C", "shedding_angle", readings, settings={"stage_limit_deg": 45}))
    assert result.statistic("sliding_angle_median").value == 6.0  # hand: the middle one of three


def test_every_step_that_can_hurt_shows_a_caution():
    """Common practice, no source: looking, rinsing, drying, resting and dipping in suspensions carry none."""
    harmless = {"water_break", "rinse", "dry", "rest", "layer_by_layer"}
    assert {key for key, kind in processes.KINDS.items() if not kind.cautions} == harmless
    assert all(kind.cautions[-1] == processes.DEFER for kind in processes.KINDS.values() if kind.cautions)
