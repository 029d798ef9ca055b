"""Every verb but those of runs and people once, for real; what went in comes out."""

import pytest

from labrecords.actions import coupons
from labrecords.models import Coupon, Deviation, Laboratory
from tests.factories import make_batch, make_coupon, make_lab, make_liquid, make_lot, make_person, make_recipe

pytestmark = pytest.mark.django_db
BOILED = [
    {
        "kind": "boiling",
        "planned": {"temperature_c": {"value": "97,0", "tolerance": 2}, "water": {"text": "deionised"}},
    },
    {"kind": "dry", "title": "Blown dry", "planned": {}},
]


def test_laboratory_is_set_up_and_read(quality):
    assert quality.get("laboratory/")[0] == 404
    body = {"name": "Invented Lab", "address": "1 Example Lane", "site": "xy"}
    status, data = quality.post("laboratory/", body)
    assert (status, data["site"]) == (200, "XY")
    assert quality.get("laboratory/")[1]["name"] == "Invented Lab"
    assert quality.post("laboratory/", body | {"last_coupon_number": 7})[1]["field"] == "last_coupon_number"
    assert Laboratory.objects.get().last_coupon_number == 0


def test_project_is_started(quality):
    status, data = quality.post("projects/", {"code": "P1", "title": "Ice", "customer": "Invented Customer"})
    assert (status, data["code"], data["created_by"]) == (201, "P1", quality.person.username)
    assert quality.get("projects/", customer="invented")[1]["count"] == 1


def test_substrate_lot_is_logged_and_coupons_from_it(quality):
    make_lab(quality.person)
    lot = {"code": "S1", "material": "Aluminium", "form": "sheet", "thickness_mm": "1,5", "received_on": "2026-01-07"}
    status, data = quality.post("materials/", lot)
    assert (status, data["thickness_mm"], data["received_on"]) == (201, 1.5, "2026-01-07")
    body = {"lot": "s1", "count": 2, "marks": ["A", "B"], "exposed_area_mm2": 1600, "place": "box 3"}
    status, data = quality.post("coupons/", body)
    assert (status, [(row["mark"], row["lot"], row["state"]) for row in data]) == (
        201, [("A", "S1", "in_stock"), ("B", "S1", "in_stock")],
    )  # fmt: skip
    assert all(coupons.has_valid_check_character(row["code"]) for row in data)


def test_coupon_is_split_moved_and_amended_with_its_history(quality):
    coupon = make_coupon(quality.person)
    status, data = quality.post(f"coupons/{coupon.code}/amend/", {"place": "drawer 4", "why": "moved house"})
    assert (status, data["place"]) == (200, "drawer 4")
    status, data = quality.post(f"coupons/{coupon.code}/move/", {"state": "retained", "why": "kept"})
    assert (status, data["state"]) == (200, "retained")
    status, data = quality.post(
        f"coupons/{coupon.code}/split/", {"pieces": [{"mark": "L"}, {"mark": "R", "width_mm": 9.5}]}
    )
    assert (status, [(row["mark"], row["parent"], row["width_mm"]) for row in data]) == (
        201, [("L", coupon.code, None), ("R", coupon.code, 9.5)],
    )  # fmt: skip
    _, page = quality.get(f"coupons/{coupon.code.lower()}/")
    assert (page["state"], page["children"]) == ("consumed", [row["code"] for row in data])
    _, history = quality.get(f"coupons/{coupon.code}/history/")
    assert [(line["why"], line["changed"].get("state")) for line in history] == [
        ("logged", "in_stock"), ("moved house", None), ("kept", "retained"), ("split", "consumed"),
    ]  # fmt: skip
    assert {line["who"] for line in history} == {quality.person.username}


def test_recipe_is_created_and_revised(quality):
    status, data = quality.post("recipes/", {"code": "R1", "title": "Boiled", "steps": BOILED})
    step = data["revisions"][0]["steps"][0]
    assert status == 201
    assert step["planned"] == {"temperature_c": {"value": 97.0, "tolerance": 2.0}, "water": {"text": "deionised"}}
    assert "scald" in step["cautions"][0]
    assert quality.post("recipes/R1/revise/", {"steps": BOILED})[1]["code"] == "ReasonMissing"
    status, data = quality.post("recipes/R1/revise/", {"steps": BOILED[:1], "why": "no drying"})
    assert (status, [(row["number"], row["note"], len(row["steps"])) for row in data["revisions"]]) == (
        201, [(1, "", 2), (2, "no drying", 1)],
    )  # fmt: skip


def test_batch_is_formed_from_a_revision_and_joined(quality):
    recipe = make_recipe(quality.person).recipe
    lot = make_lot(quality.person)
    codes = [row.code for row in coupons.log(by=quality.person, lot=lot, count=4)]
    body = {"code": "B1", "recipe": recipe.code, "lot": lot.code, "treated": codes[:2], "control": codes[2:3]}
    status, data = quality.post("batches/", body)
    assert (status, data["recipe"], data["revision"]) == (201, recipe.code, 1)
    assert [row["role"] for row in data["members"]] == ["treated", "treated", "control"]
    status, data = quality.post("batches/B1/join/", {"coupon": codes[3], "role": "treated", "why": "inconclusive"})
    assert (status, len(data["members"])) == (201, 4)
    refused = quality.post("batches/", body | {"code": "B2", "revision": 9})
    assert refused == (
        400,
        {"code": "UnknownCode", "field": "recipe", "message": f"There is no recipe revision “{recipe.code} 9”."},
    )
    assert quality.get("batches/", coupon=codes[0])[1]["count"] == 1


def test_step_is_recorded_with_masses_and_deviation_and_the_next_finished(quality):
    batch = make_batch(quality.person, n=2)
    codes = list(Coupon.objects.filter(memberships__batch=batch).values_list("code", flat=True))
    body = {
        "batch": batch.code,
        "step": 1,
        "coupons": [{"coupon": codes[0], "mass_before_mg": "1000,25", "rack_position": "3"}, {"coupon": codes[1]}],
        "started_at": "2026-03-01T08:00:00Z",
        "finished_at": "2026-03-01T08:20:00Z",
        "actual": {"temperature_c": 93, "duration_min": "20"},
    }
    status, data = quality.post("processing/", body)
    assert (status, data["code"], data["field"]) == (400, "DeviationNeedsReason", "temperature_c")
    assert "93 °C, outside 95 to 99 °C" in data["message"]
    status, data = quality.post("processing/", body | {"reasons": {"temperature_c": "lid left open"}})
    assert (status, data["kind"], data["actual"]["temperature_c"], data["coupons"][0]["mass_before_mg"]) == (
        201, "boiling", 93, 1000.25,
    )  # fmt: skip
    assert Deviation.objects.get().reason == "lid left open"
    started = {"batch": batch.code, "step": 2, "coupons": [{"coupon": codes[0]}], "started_at": "2026-03-01 08:30"}
    process = quality.post("processing/", started)[1]["id"]
    assert quality.get("processing/", is_open="true")[1]["count"] == 1
    finished = {
        "finished_at": "2026-03-01 08:40",
        "actual": {"way": "nitrogen"},
        "coupons": [{"coupon": codes[0], "mass_after_mg": 1001}],
    }
    status, data = quality.post(f"processing/{process}/finish/", finished)
    assert (status, data["actual"], data["coupons"][0]["mass_after_mg"]) == (200, {"way": "nitrogen"}, 1001)
    assert quality.get(f"coupons/{codes[0]}/")[1]["state"] == "ready"


def test_deviation_is_noted(quality):
    batch = make_batch(quality.person)
    body = {"batch": batch.code, "what": "rack tipped over", "reason": "loose screw", "impact": "none seen"}
    status, data = quality.post("deviations/", body)
    assert (status, data["batch"], data["process"]) == (201, batch.code, None)
    assert quality.get(f"batches/{batch.code}/")[1]["deviations"][0]["what"] == "rack tipped over"


def test_step_of_another_batch_and_operator_who_is_none_are_refused(quality):
    batch, other = make_batch(quality.person, n=1), make_batch(quality.person, n=1)
    customer = make_person("customer")
    body = {
        "batch": batch.code,
        "step": 1,
        "coupons": [{"coupon": batch.members.get().coupon.code}],
        "started_at": "2026-03-01T08:00:00Z",
    }
    status, data = quality.post("processing/", body | {"operator": customer.username})
    assert (status, data["code"], data["field"]) == (400, "ValueRefused", "operator")
    process = quality.post("processing/", body)[1]["id"]
    said = {"what": "rack tipped over", "reason": "loose screw", "process": process}
    status, data = quality.post("deviations/", said | {"batch": other.code})
    assert (status, data["code"], data["field"]) == (400, "ValueRefused", "process")
    status, data = quality.post("deviations/", said | {"batch": batch.code})
    assert (status, data["process"]) == (201, process)


def test_liquids_lubricants_baths_and_their_lots(quality):
    assert quality.post("liquids/", {"code": "W", "name": "Water", "hazards": ["solvent"]})[0] == 201
    assert quality.post("liquids/", {"code": "X", "name": "X", "hazards": ["dragon"]})[1]["field"] == "hazards"
    status, data = quality.post("liquid-lots/", {"code": "W1", "liquid": "W", "prepared_on": "2026-01-05"})
    assert (status, data["liquid"], data["expires_on"]) == (201, "W", None)
    assert quality.post("lubricants/", {"code": "O", "name": "Oil", "is_pfas": False})[1]["is_pfas"] is False
    assert quality.post("lubricant-lots/", {"code": "O1", "lubricant": "O", "prepared_on": "2026-01-05"})[0] == 201
    bath = {"code": "BATH1", "title": "Rinse", "prepared_on": "2026-01-05", "ph": 6.8, "hazards": []}
    assert quality.post("bath-lots/", bath)[1]["ph"] == 6.8


def test_property_belongs_to_one_owner_and_names_its_source(quality):
    liquid = make_liquid(quality.person)
    body = {"liquid": liquid.code, "quantity": "viscosity", "value": "1,002", "temperature_c": 20, "source": "invented"}
    status, data = quality.post("properties/", body)
    assert (status, data["value"], data["unit"]) == (201, 1.002, "mPa·s")
    assert quality.get("properties/", liquid=liquid.code, quantity="viscosity")[1]["count"] == 1
    assert quality.post("properties/", body | {"recipe": make_recipe(quality.person).recipe.code})[0] == 400
    assert quality.post("properties/", body | {"source": ""})[0] == 400


def test_instrument_is_added_and_calibrated(quality):
    assert quality.post("instruments/", {"code": "RIG", "title": "Stage", "serial_number": "7"})[0] == 201
    body = {"done_on": "2026-01-01", "due_on": "2027-01-01", "result": "zero within 0.1°"}
    status, data = quality.post("instruments/RIG/calibrate/", body)
    assert (status, data["calibrations"][0]["due_on"]) == (201, "2027-01-01")
    status, data = quality.post("instruments/RIG/calibrate/", body)
    assert (status, data["code"]) == (400, "ValueRefused")  # twice on one day


def test_specification_is_created_and_revised(quality):
    line = {
        "label": "C1",
        "kind": "mean_interval",
        "quantity": "hysteresis",
        "limit": "3,5",
        "parameters": {"confidence": 0.9},
    }
    body = {
        "code": "Q1",
        "title": "Shedding",
        "fixed_on": "2026-01-01",
        "when_inconclusive": "six more",
        "criteria": [line],
    }
    status, data = quality.post("specifications/", body)
    stored = data["revisions"][0]["criteria"][0]
    assert (status, stored["limit"], stored["parameters"]) == (201, 3.5, {"confidence": 0.9})
    body = {"fixed_on": "2026-02-01", "when_inconclusive": "fail", "criteria": [line], "why": "customer asked"}
    status, data = quality.post("specifications/Q1/revise/", body)
    assert (status, data["revisions"][1]["number"], data["revisions"][1]["note"]) == (201, 2, "customer asked")
    for parameters in ({"confidence": "1_0"}, {"confidence": 7}, {"luck": 1}, {"statistic": "mode"}):
        body["criteria"] = [line | {"parameters": parameters}]
        assert quality.post("specifications/Q1/revise/", body)[1]["field"] == "parameters", parameters
    assert quality.get("specifications/", quantity="hysteresis")[1]["count"] == 1
