"""Results out: the same numbers as table, JSON and CSV, checked against scipy."""

import csv
import io
import json

import numpy as np
import pytest
from scipy import stats

from labrecords.actions import coupons, runs
from labrecords.exchange import results
from labrecords.models import TestRun
from tests.factories import (
    make_batch,
    make_coupon,
    make_liquid_lot,
    make_method_version,
    make_person,
    make_run,
    sliding,
)

pytestmark = pytest.mark.django_db
# Four coupons with unequal numbers of drops; most drops of the last one did not move (">").
ANGLES = [["3.5", "5.7", "4.0"], ["6.1", "5.2", "4.9", "7.7"], ["2.8", "3.3"], [">", "21", ">", ">", ">"]]


@pytest.fixture
def batch():
    by = make_person()
    batch = make_batch(by, n=len(ANGLES))
    version, lot = make_method_version(by), make_liquid_lot(by)
    for member, angles in zip(batch.members.all(), ANGLES, strict=True):
        run = make_run(by, member.coupon, version, liquid_lot=lot)
        runs.record(by=by, run=run, readings=sliding(angles))
        runs.complete(by=by, run=run)
    return batch


def rows_of(found, **wanted):
    rows = csv.DictReader(io.StringIO(results.as_csv(found)))
    return [row for row in rows if all(row[name] == value for name, value in wanted.items())]


def test_coupon_values_are_medians_of_their_own_drops(batch):
    rows = rows_of(results.of_batch(batch), level="coupon", key="sliding_angle_median")
    # independent: numpy 2 median; the fourth coupon's middle drop did not move, so its median lies beyond the limit
    expected = [np.median([float(angle) for angle in angles]) for angles in ANGLES[:3]]
    assert [float(row["value"]) for row in rows[:3]] == pytest.approx(expected)
    assert rows[3]["value"] == "inf"
    assert [(row["n_coupons"], row["n_drops"], row["n_not_moved"]) for row in rows] == [
        ("1", "3", "0"), ("1", "4", "0"), ("1", "2", "0"), ("1", "5", "4"),
    ]  # fmt: skip


def test_batch_counts_coupons_and_drops_apart_and_bounds_the_share_not_moved(batch):
    (row,) = rows_of(results.of_batch(batch), level="batch", key="sliding_angle_not_moved_share")
    assert (row["n_coupons"], row["n_drops"], row["n_not_moved"]) == ("4", "14", "4")
    assert float(row["value"]) == pytest.approx(100 * 4 / 14)  # hand: 4 of 14 drops
    # independent: scipy.stats.binomtest, exact one-sided 95 % upper bound
    bound = stats.binomtest(4, 14, alternative="less").proportion_ci(0.95, method="exact").high
    assert float(row["high"]) == pytest.approx(100 * bound)
    assert row["confidence"] == "0.95"


def test_interval_of_a_batch_rests_on_coupon_values_not_on_drops():
    by = make_person()
    batch = make_batch(by, n=3)
    version, lot = make_method_version(by), make_liquid_lot(by)
    for member, angles in zip(batch.members.all(), ANGLES, strict=False):
        run = make_run(by, member.coupon, version, liquid_lot=lot)
        runs.record(by=by, run=run, readings=sliding(angles))
        runs.complete(by=by, run=run)
    (row,) = rows_of(results.of_batch(batch), level="batch", key="sliding_angle_median")
    medians = [np.median([float(angle) for angle in angles]) for angles in ANGLES[:3]]
    # independent: scipy.stats.t over the three coupon values
    low, high = stats.t.interval(0.95, 2, loc=np.mean(medians), scale=stats.sem(medians))
    assert [float(row[name]) for name in ("value", "low", "high")] == pytest.approx([np.mean(medians), low, high])
    assert (row["n_coupons"], row["n_drops"]) == ("3", "9")


def test_table_json_and_csv_tell_the_same_numbers(batch):
    found = results.of_batch(batch)
    data = json.loads(json.dumps(results.as_data(found), allow_nan=False))
    group = data["batches"][0]["result"]["groups"][0]
    told = {item["key"]: item for item in group["statistics"]}
    for row in rows_of(found, level="batch", kind="statistic"):
        value = told[row["key"]]["value"]
        assert row["value"] == ("" if value is None else str(value))
    share = told["sliding_angle_not_moved_share"]
    line = next(line for line in results.as_table(found).splitlines() if share["label"] in line)
    for part in ("28.6 %", f"{share['high']:.1f}", "95 %", "4 coupons", "14 drops", "4 not moved"):
        assert part in line


def test_run_gives_its_numbers_and_checks(batch):
    run = TestRun.objects.order_by("id").first()
    found = results.of_run(run)
    keys = {row["key"]: row for row in rows_of(found, level="run", code=run.code, kind="statistic")}
    assert float(keys["sliding_angle_median"]["value"]) == 4.0  # hand: the middle one of 3.5, 4.0, 5.7
    checks = rows_of(found, kind="check")
    assert {row["outcome"] for row in checks} <= {"holds", "does not hold", "cannot tell"}
    assert checks
    assert all(row["note"] for row in checks)
    assert results.as_data(found)["runs"][0]["result"] == run.analyses.get(is_current=True).content


def test_table_counts_checks_that_hold_and_tells_the_others(batch):
    many, one = results.as_table(results.of_batch(batch)), results.as_table(results.of_run(TestRun.objects.first()))
    assert "checks hold" in many
    assert ": holds." not in many
    assert ": cannot tell." in many
    assert ": holds." in one


def test_coupon_gives_its_runs_and_its_own_values(batch):
    run = TestRun.objects.order_by("id").last()
    found = results.of_coupon(run.coupon)
    assert {row["level"] for row in rows_of(found)} == {"run", "coupon"}
    (row,) = rows_of(found, level="coupon", key="sliding_angle_not_moved")
    assert (row["value"], row["code"]) == ("4", run.coupon.code)


def test_draft_is_shown_and_left_out_of_the_batch(batch):
    by = make_person()
    run = make_run(by, batch.members.first().coupon)
    runs.record(by=by, run=run, readings=sliding(["9.9"]))
    assert f"In draft, so not in the numbers of coupons and batches: {run.code}" in results.as_table(
        results.of_batch(batch)
    )
    (row,) = rows_of(results.of_batch(batch), level="batch", key="sliding_angle_not_moved")
    assert row["n_drops"] == "14"


def test_run_without_readings_has_no_numbers():
    run = make_run(make_person())
    assert rows_of(results.of_run(run)) == []


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_text_that_a_spreadsheet_would_run_is_neutralised(start):
    by = make_person()
    run = make_run(by, make_coupon(by), dose=5, dose_kind="h", exposure=f"{start}cmd|x")
    runs.record(by=by, run=run, readings=sliding(["4.5"]))
    rows = rows_of(results.of_run(run), kind="statistic")
    assert {row["exposure"] for row in rows} == {f"'{start}cmd|x"}


def test_negative_number_is_no_formula(monkeypatch):
    monkeypatch.setattr(results, "as_rows", lambda found: [{"value": -5.2, "note": "-x"}])
    assert [(row["value"], row["note"]) for row in rows_of(None)] == [("-5.2", "'-x")]


def test_number_of_queries_does_not_grow_with_the_runs(batch, django_assert_max_num_queries):
    with django_assert_max_num_queries(15):
        results.as_data(results.of_batch(batch))
    coupon, by = batch.members.first().coupon, make_person()
    for _ in range(3):
        run = make_run(by, coupon)
        runs.record(by=by, run=run, readings=sliding(["9.9"]))
        runs.complete(by=by, run=run)
    with django_assert_max_num_queries(15):
        results.as_data(results.of_batch(batch))


def test_everything_holds_each_batch_and_run(batch):
    data = results.as_data(results.of_everything())
    assert [item["code"] for item in data["batches"]] == [batch.code]
    assert len(data["runs"]) == len(ANGLES)
    assert coupons.find(data["runs"][0]["coupon"])
