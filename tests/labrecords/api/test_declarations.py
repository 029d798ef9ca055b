"""Declarations as data, also of what is declared only now: one declaration, no further edit."""

import dataclasses

import pytest

from analysis import CRITERION_KINDS, METHODS, QUANTITIES, Method, ReadingKind, Setting, register_method
from labrecords.processes import HAZARDS, KINDS, StepField, StepKind, register
from tests.factories import make_coupon, make_instrument

pytestmark = pytest.mark.django_db


@pytest.fixture
def new_method():
    method = Method(
        key="invented_tilt_recoil",
        title="Invented recoil",
        purpose="A method that exists in this test alone.",
        readings=(ReadingKind("static_angle"), ReadingKind("viscosity", is_required=False)),
        settings=(Setting("spin_rpm", "Spin", "1/min", 10, 500),),
        conditions=("instrument",),
        replicate_plan="once",
        checks=(),
        coupon_statistics=("static_angle_mean",),
    )
    yield register_method(method)
    del METHODS[method.key]


@pytest.fixture
def new_kind():
    kind = StepKind(
        "invented_rub", "Invented rubbing", "Texturing", (StepField("strokes", "Strokes", "", 1, 40),), ("laser",)
    )
    yield register(kind)
    del KINDS[kind.key]


def test_lists_hold_every_declaration(operator):
    for noun, registry in {
        "methods": METHODS, "step-kinds": KINDS, "criterion-kinds": CRITERION_KINDS, "quantities": QUANTITIES,
    }.items():  # fmt: skip
        status, data = operator.get(f"{noun}/")
        assert (status, [item["key"] for item in data]) == (200, list(registry))


def test_method_says_what_is_read_with_bounds_settings_and_conditions(operator):
    _, data = operator.get("methods/sliding_angle/")
    reading = data["readings"][0]
    assert (reading["quantity"], reading["can_be_not_moved"]) == ("sliding_angle", True)
    assert (reading["declared"]["unit"], reading["declared"]["high"]) == ("°", 90)
    assert "drop_volume_ul" in data["conditions"]
    assert {"key", "label", "unit", "low", "high", "is_required"} <= set(data["settings"][0])
    assert data["standards"][0]["citation"].startswith("ISO 19403-7")


def test_step_kind_carries_its_cautions(operator):
    _, data = operator.get("step-kinds/fluoride_etch/")
    assert data["cautions"][0] == HAZARDS["hydrofluoric_acid"].line
    assert data["cautions"][-1].startswith("Defer to")


def test_unknown_declaration_is_not_there(operator):
    status, data = operator.get("methods/divination/")
    assert (status, data["message"]) == (404, "There is no method “divination”.")


def test_new_method_needs_no_edit_of_the_api(quality, new_method):
    assert quality.get("methods/invented_tilt_recoil/")[1]["settings"][0]["high"] == 500
    refused = quality.post("method-versions/", {"method": new_method.key, "settings": {"spin_rpm": 501}})
    assert (refused[0], refused[1]["message"]) == (400, "Spin: “501” is above 500.")
    assert quality.post("method-versions/", {"method": new_method.key, "settings": {"spin_rpm": "20,5"}})[0] == 201
    run = {
        "coupon": make_coupon(quality.person).code,
        "method": new_method.key,
        "instrument": make_instrument(quality.person).code,
        "observed_at": "2026-03-02 09:00",
    }
    status, data = quality.post("runs/", run)
    assert (status, data["method_version"]) == (201, 1)
    readings = [{"quantity": "static_angle", "value": "101,5"}, {"quantity": "viscosity", "value": 2}]
    status, data = quality.post(f"runs/{data['code']}/readings/", {"version": 1, "readings": readings})
    assert (status, [row["value"] for row in data["readings"]]) == (200, [101.5, 2])


def test_new_step_kind_needs_no_edit_of_the_api(quality, new_kind):
    body = {"code": "RUB", "title": "Rubbed", "steps": [{"kind": new_kind.key, "planned": {"strokes": {"value": 12}}}]}
    status, data = quality.post("recipes/", body)
    step = data["revisions"][0]["steps"][0]
    assert (status, step["name"], step["planned"]) == (
        201,
        "Invented rubbing",
        {"strokes": {"value": 12, "tolerance": None}},
    )
    assert step["cautions"] == new_kind.cautions
    body["code"], body["steps"][0]["planned"] = "RUB2", {"strokes": {"value": 41}}
    assert quality.post("recipes/", body)[1]["field"] == "strokes"
    assert quality.get("step-kinds/invented_rub/")[1]["fields"] == [dataclasses.asdict(new_kind.fields[0])]
