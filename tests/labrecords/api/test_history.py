"""The trail through the API: old and new values with who and why, and any record as it was on a date."""

from datetime import timedelta

import pytest
from django.utils import timezone

from labrecords import history
from labrecords.actions import coupons, runs
from labrecords.api.urls import router
from tests.factories import make_batch, make_coupon, make_run, sliding

pytestmark = pytest.mark.django_db(transaction=True)


def test_history_gives_both_values_of_each_change(quality):
    by = quality.person
    coupon = make_coupon(by, place="Box 1")
    coupons.amend(by=by, why="cold room", coupon=coupon, place="Shelf 2")
    status, lines = quality.get(f"coupons/{coupon.code}/history/")
    assert status == 200
    entered, amended = lines
    assert (entered["what"], entered["before"]) == ("insert", {})
    assert entered["changed"]["lot"] == coupon.lot.code  # rows by their code, not by a number of the table
    assert (amended["before"], amended["changed"]) == ({"place": "Box 1"}, {"place": "Shelf 2"})
    assert (amended["who"], amended["why"]) == (by.username, "cold room")


def test_record_as_of_a_moment_with_its_readings(quality):
    by = quality.person
    run = make_run(by)
    runs.record(by=by, run=run, readings=sliding([4.5]))
    then = timezone.now()
    runs.record(by=by, run=run, why="misread", readings=sliding([4.6]))
    runs.complete(by=by, run=run)
    status, past = quality.get(f"runs/{run.code}/as-of/", on=then.isoformat())
    assert (status, past["existed"], past["record"]["state"]) == (200, True, "draft")
    assert [row["value"] for row in past["parts"]["reading"]] == [4.5]
    assert past["record"]["coupon"] == run.coupon.code
    now = quality.get(f"runs/{run.code}/as-of/", on=timezone.now().isoformat())[1]
    assert (now["record"]["state"], [row["value"] for row in now["parts"]["reading"]]) == ("complete", [4.6])


def test_record_did_not_exist_before_its_entry(quality):
    coupon = make_coupon(quality.person)
    on = (coupon.created_at - timedelta(days=1)).isoformat()
    past = quality.get(f"coupons/{coupon.code}/as-of/", on=on)[1]
    assert (past["existed"], past["record"], past["parts"]) == (False, None, {})


@pytest.mark.parametrize("asked", [{}, {"on": "soon"}, {"on": "2100-01-01"}, {"on": "2026-01-01", "at": "x"}])
def test_moment_that_is_none_is_refused(quality, asked):
    coupon = make_coupon(quality.person)
    assert quality.get(f"coupons/{coupon.code}/as-of/", **asked)[0] == 400


def test_every_noun_has_its_history_and_its_past(quality):
    """Every tracked model by its noun; and every list of the API below its own rows."""
    run = make_run(quality.person)
    runs.record(by=quality.person, run=run, readings=sliding([4]))
    make_batch(quality.person, n=1)
    seen = 0
    for noun, model in history.nouns().items():
        row = model._default_manager.first()
        if row is None:
            continue
        path = f"history/{noun}/{history.name_of(row)}/"
        status, lines = quality.get(path)
        assert (status, lines[0]["what"]) == (200, "insert"), noun
        status, past = quality.get(f"{path}as-of/", on=timezone.now().isoformat())
        assert (status, past["existed"]) == (200, True), noun
        seen += 1
    assert seen >= 18
    for prefix, view, _ in router.registry:
        assert {"history", "as_of"} <= {extra.__name__ for extra in view.get_extra_actions()}, prefix


@pytest.mark.parametrize("path", ["history/nothing/1/", "history/coupon/XX/", "history/reading/x/as-of/"])
def test_what_is_not_there_is_not_found(quality, path):
    assert quality.get(path, **({"on": "2026-01-01"} if "as-of" in path else {}))[0] == 404


def test_unknown_kind_is_refused_with_the_kinds_there_are(quality):
    status, data = quality.get("history/run/RA/")
    assert (status, data["code"]) == (404, "UnknownCode")
    assert data["message"].startswith("There is no kind of record “run”; there are ")
    assert [noun for noun in history.nouns() if f" {noun}" not in data["message"]] == []
