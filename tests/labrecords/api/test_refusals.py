"""Bad input: a clear refusal in the same words as everywhere, nothing stored, never an error of the server."""

from datetime import date

import pytest
from django.db import DataError, IntegrityError, InternalError, OperationalError
from django.db.models import ProtectedError

from labrecords.actions import coupons
from labrecords.api import refusals
from labrecords.models import Coupon, Reading, TestRun
from tests.factories import (
    make_coupon,
    make_instrument,
    make_liquid_lot,
    make_lot,
    make_method_version,
    make_run,
)

pytestmark = pytest.mark.django_db


def entry_of(person, **changes):
    body = {
        "coupon": make_coupon(person).code, "method": "sliding_angle", "liquid_lot": make_liquid_lot(person).code,
        "drop_volume_ul": 10, "instrument": make_instrument(person).code, "room_temperature_c": 23,
        "room_humidity_pct": 50, "observed_at": "2026-03-02T09:00:00Z",
    }  # fmt: skip
    make_method_version(person)
    return {name: value for name, value in (body | changes).items() if value is not ...}


def put(caller, run, *readings, version=1, **more):
    rows = [{"quantity": "sliding_angle"} | row for row in readings]
    return caller.post(f"runs/{run.code}/readings/", {"version": version, "readings": rows} | more)


def test_mistyped_coupon(quality):
    body = entry_of(quality.person)
    wrong = body["coupon"][:-1] + ("A" if body["coupon"][-1] != "A" else "B")
    status, data = quality.post("runs/", body | {"coupon": wrong})
    assert (status, data["code"], data["field"]) == (400, "MistypedCode", "coupon")
    assert data["message"] == (
        f"“{wrong}” is no valid coupon code: its check character does not fit the rest, so it was probably mistyped."
    )
    assert quality.get(f"coupons/{wrong}/")[0] == 404


def test_unknown_coupon(quality):
    code = coupons.with_check_character("TS-26-9999")
    status, data = quality.post("runs/", entry_of(quality.person, coupon=code))
    assert (status, data) == (
        400,
        {"code": "UnknownCode", "field": "coupon", "message": f"There is no coupon “{code}”."},
    )
    assert quality.get(f"coupons/{code}/")[0] == 404


def test_consumed_coupon(quality):
    run = make_run(quality.person)
    coupons.move(by=quality.person, why="cut", coupon=run.coupon, state="consumed")
    status, data = put(quality, run, {"value": 4.5})
    assert (status, data["code"], data["message"]) == (
        409, "CouponConsumed", f"Coupon {run.coupon.code} is consumed: it takes no new readings.",
    )  # fmt: skip
    assert quality.post("runs/", entry_of(quality.person, coupon=run.coupon.code))[0] == 409


def test_receding_above_advancing(quality):
    run = make_run(quality.person, method_version=make_method_version(quality.person, "advancing_receding"))
    body = [{"quantity": "advancing_angle", "value": 100}, {"quantity": "receding_angle", "value": "100,5"}]
    status, data = put(quality, run, *body)
    assert (status, data["code"]) == (400, "RecedingAboveAdvancing")
    assert "the receding angle 100.5° is above the advancing angle 100°" in data["message"]


@pytest.mark.parametrize(
    ("quantity", "value"), [("advancing_angle", 180.1), ("receding_angle", -0.1), ("sliding_angle", 30.5)]
)
def test_angle_beyond_180_or_the_stage_limit(quality, quantity, value):
    method = "sliding_angle" if quantity == "sliding_angle" else "advancing_receding"
    run = make_run(quality.person, method_version=make_method_version(quality.person, method))
    status, data = put(quality, run, {"quantity": quantity, "value": value})
    assert (status, data["code"], data["field"]) == (400, "ValueRefused", "value")
    assert str(value) in data["message"]
    assert Reading.objects.count() == 0


@pytest.mark.parametrize("missing", ["drop_volume_ul", "liquid_lot", "instrument", "room_temperature_c"])
def test_missing_condition(quality, missing):
    status, data = quality.post("runs/", entry_of(quality.person, **{missing: ...}))
    assert (status, data["code"]) == (400, "ConditionMissing")
    assert data["message"].endswith("is missing: method “Sliding angle” cannot be read without it.")
    assert TestRun.objects.count() == 0


@pytest.mark.parametrize(
    "value",
    ["NaN", "nan", "inf", "-Infinity", "1_000", "٥", "１２", "1e3", "0x1f", "4.5°", "12 deg", "1.2.3", "--4", "4,5,6"],
)
def test_what_is_no_plain_number(quality, value):
    run = make_run(quality.person)
    status, data = put(quality, run, {"value": value})
    assert (status, data["code"], data["field"]) == (400, "ValueRefused", "value")
    assert data["message"] == (
        f"Sliding angle [°]: “{value}” is not a plain number (digits, one decimal comma or point)."
    )
    assert quality.post("runs/", entry_of(quality.person, drop_volume_ul=value))[1]["field"] == "drop_volume_ul"


@pytest.mark.parametrize("value", [True, [4.5], {"value": 4.5}])
def test_what_is_neither_number_nor_text(quality, value):
    status, data = put(quality, make_run(quality.person), {"value": value})
    assert (status, data["code"], data["field"]) == (400, "ValueRefused", "value")


@pytest.mark.parametrize("text", ["NaN", "Infinity", "-Infinity", "1e999", "٥", '"\\u0000"', '"\\ud800"', "[" * 100000])
def test_json_that_is_none_or_cannot_be_stored(quality, text):
    run = make_run(quality.person)
    body = '{"version": 1, "readings": [{"quantity": "sliding_angle", "value": ' + text + "}]}"
    status, data = quality.send(f"runs/{run.code}/readings/", body)
    assert (status, data["code"]) == (400, "ParseError")
    assert Reading.objects.count() == 0


def test_json_number_keeps_its_digits(quality):
    run = make_run(quality.person)
    status, data = quality.send(
        f"runs/{run.code}/readings/",
        '{"version": 1, "readings": [{"quantity": "sliding_angle", "value": 1e1},'
        ' {"quantity": "sliding_angle", "drop": 2, "value": 0.00001}]}',
    )
    assert (status, [row["typed"] for row in data["readings"]]) == (200, ["10.0", "0.00001"])


def test_expired_liquid_lot(quality):
    lot = make_liquid_lot(quality.person, expires_on=date(2026, 3, 1))
    status, data = quality.post("runs/", entry_of(quality.person, liquid_lot=lot.code))
    assert (status, data["code"]) == (409, "LotExpired")
    assert data["message"] == f"Liquid lot {lot.code} expired on 2026-03-01; it was used on 2026-03-02."


def test_duplicate_drop(quality):
    status, data = put(quality, make_run(quality.person), {"drop": 1, "value": 4}, {"drop": 1, "value": 5})
    assert (status, data["code"], data["field"]) == (409, "DuplicateDrop", "drop")
    assert data["message"] == "Sliding angle, position 1, drop 1 stands twice."


@pytest.mark.parametrize("drop", [0, -1, 10001, 1.5, "x"])
def test_impossible_drop(quality, drop):
    status, data = put(quality, make_run(quality.person), {"drop": drop, "value": 4})
    assert (status, data["field"]) == (400, "drop")


def test_wrong_unit_is_a_name_that_is_not_there(quality):
    status, data = quality.post("runs/", entry_of(quality.person, drop_volume_ul=..., drop_volume_ml=0.01))
    assert (status, data["code"], data["field"]) == (400, "ValueRefused", "drop_volume_ml")
    assert data["message"].startswith("Field: “drop_volume_ml” is no field of this request; there are ")


@pytest.mark.parametrize(
    ("quantity", "rule"),
    [("receding_angle", "is not read by “Sliding angle”"), ("luck", "is not read by “Sliding angle”")],
)
def test_quantity_of_another_method(quality, quantity, rule):
    status, data = put(quality, make_run(quality.person), {"quantity": quantity, "value": 4})
    assert (status, data["field"], rule in data["message"]) == (400, "quantity", True)


@pytest.mark.parametrize("name", ["state", "version", "completed_by", "reviewed_at", "created_by", "id", "is_current"])
def test_no_field_of_a_run_is_set_behind_its_verbs(quality, name):
    status, data = quality.post("runs/", entry_of(quality.person, **{name: 1}))
    assert (status, data["field"]) == (400, name)


@pytest.mark.parametrize("name", ["code", "number", "state", "parent", "lot"])
def test_no_field_of_a_coupon_is_set_behind_its_verbs(quality, name):
    coupon = make_coupon(quality.person)
    status, data = quality.post(f"coupons/{coupon.code}/amend/", {name: "x", "why": "because"})
    assert (status, data["field"]) == (400, name)


def test_unknown_name_inside_a_reading(quality):
    status, data = put(quality, make_run(quality.person), {"value": 4, "excluded_by": "me"})
    assert (status, data["code"], data["field"]) == (400, "ValueRefused", "excluded_by")


def test_missing_and_malformed_bodies_take_the_same_shape(quality):
    run = make_run(quality.person)
    for body in (
        {},
        {"version": 1},
        {"version": 1, "readings": {}},
        {"version": 1, "readings": [4]},
        {"version": 1, "readings": None},
    ):
        status, data = quality.post(f"runs/{run.code}/readings/", body)
        assert (status, set(data)) == (400, {"code", "field", "message"}), body
    for text, kind, expected in (
        ("[1]", "application/json", 400),
        ("{", "application/json", 400),
        ("a=1", "text/plain", 415),
    ):
        status, data = quality.send(f"runs/{run.code}/readings/", text, kind)
        assert (status, set(data)) == (expected, {"code", "field", "message"}), text


def test_field_of_a_validation_error_is_named(quality):
    status, data = quality.post("liquid-lots/", {"code": "L"})
    assert (status, data["field"]) == (400, "liquid")
    assert data["message"].startswith("liquid: ")


def test_code_that_is_taken_is_no_fault_of_ours(quality):
    lot = make_lot(quality.person)
    body = {"code": lot.code, "material": "Aluminium", "form": "sheet"}
    status, data = quality.post("materials/", body)
    assert (status, data["code"], data["field"]) == (400, "ValueRefused", "code")
    assert lot.code in data["message"]


@pytest.mark.parametrize("text", ["x" * 300, "a\tb", "<script>alert(1)</script>", "';--"])
def test_odd_texts_are_refused_or_kept_as_they_are(quality, text):
    coupon = make_coupon(quality.person)
    status, data = quality.post(f"coupons/{coupon.code}/amend/", {"place": text, "why": "odd"})
    if len(text) > 80:
        assert (status, data["field"]) == (400, "place")
    else:
        assert (status, data["place"]) == (200, text)
        assert Coupon.objects.get().place == text


@pytest.mark.parametrize(
    "when",
    ["02/03/2026", "2026-13-01", "yesterday", "", None, 7, "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00"],
)
def test_odd_moments_are_refused(quality, when):
    status, data = quality.post("runs/", entry_of(quality.person, observed_at=when))
    assert (status, data["field"]) == (400, "observed_at")


@pytest.mark.parametrize(
    "path",
    ["coupons/?stat=ready", "coupons/?search=%00", "runs/?observed_from=soon", "method-versions/?number=x",
     "readings/?is_current=perhaps", "processing/?is_open=2", "runs/?dose=NaN%00"],
)  # fmt: skip
def test_unknown_or_impossible_filters_are_refused(quality, path):
    status, data = quality.get(path)
    assert (status, set(data)) == (400, {"code", "field", "message"})


@pytest.mark.parametrize(
    "path",
    [
        "",
        "nothing/",
        "runs/R-1/",
        "readings/abc/",
        "readings/0/",
        "readings/99999999999999999999/",
        "people/nobody/",
        "runs",
    ],
)
def test_what_is_not_there(quality, path):
    status, data = quality.get(path)
    assert (status, set(data)) == (404, {"code", "field", "message"})


@pytest.mark.parametrize("method", ["put", "patch", "delete"])
def test_nothing_is_overwritten_or_deleted(quality, method):
    coupon = make_coupon(quality.person)
    answer = getattr(quality.client, method)(f"/api/coupons/{coupon.code}/", {"place": "x"}, format="json")
    assert (answer.status_code, answer.json()["code"]) == (405, "MethodNotAllowed")
    assert Coupon.objects.get().place == ""


@pytest.mark.parametrize(
    ("problem", "status"),
    [
        (IntegrityError("some rule"), 409), (ProtectedError("kept", set()), 409), (InternalError("a trigger"), 409),
        (DataError("too long"), 400), (OperationalError("no server"), 503),
    ],
)  # fmt: skip
def test_what_only_the_database_refuses_is_no_error_of_the_server(problem, status):
    answer = refusals.answer(problem, {})
    assert (answer.status_code, set(answer.data)) == (status, {"code", "field", "message"})


def test_fault_of_ours_is_not_dressed_up_as_a_refusal():
    assert refusals.answer(ZeroDivisionError(), {}) is None
