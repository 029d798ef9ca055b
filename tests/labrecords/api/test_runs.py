"""Runs: entered, read, corrected, completed, reviewed; their numbers against scipy; files of readings."""

import math

import numpy as np
import pytest
from scipy import stats

from labrecords.models import Reading
from tests.factories import (
    make_batch,
    make_coupon,
    make_instrument,
    make_liquid_lot,
    make_method_version,
    make_person,
    make_run,
)
from tests.labrecords.api.conftest import Caller

pytestmark = pytest.mark.django_db
# Invented: unequal numbers of drops, one coupon where most did not move (">").
SLIDING = [[5.0, 7, 9, 8, 11], [6.5, ">", 12], [4.0, 5, 6, 7.5], [">", ">", 14, ">"]]
PAIRS = [
    [(110.0, 100.0), (112, 103), (111, 102)],
    [(111, 100), (112, 101.5)],
    [(113, 102), (112, 100), (114, 99), (110, 101)],
    [(109, 99)],
]


def sent(drops):
    return [
        {"quantity": "sliding_angle", "drop": drop} | ({"qualifier": "not_moved"} if value == ">" else {"value": value})
        for drop, value in enumerate(drops, start=1)
    ]


def sent_pairs(drops):
    return [
        {"quantity": quantity, "drop": drop, "value": value}
        for drop, pair in enumerate(drops, start=1)
        for quantity, value in zip(("advancing_angle", "receding_angle"), pair, strict=True)
    ]


def enter(caller, coupon, lot, rig, method="sliding_angle"):
    body = {
        "coupon": coupon.code, "method": method, "liquid_lot": lot.code, "drop_volume_ul": 10, "instrument": rig.code,
        "room_temperature_c": "23,0", "room_humidity_pct": 50, "observed_at": "2026-03-02T09:00:00Z",
    }  # fmt: skip
    status, data = caller.post("runs/", body)
    assert (status, data["state"], data["version"]) == (201, "draft", 1)
    return data["code"]


def read_in(caller, code, readings):
    status, data = caller.post(f"runs/{code}/readings/", {"version": 1, "readings": readings})
    assert status == 200, data
    status, data = caller.post(f"runs/{code}/complete/", {"version": data["version"]})
    assert (status, data["state"]) == (200, "complete"), data
    return caller.get(f"runs/{code}/results/")[1]["result"]


@pytest.fixture
def bench(quality):
    """Batch of four coupons, each read with both methods through the API; the runs' results by kind."""
    batch = make_batch(quality.person, n=4)
    lot, rig = make_liquid_lot(quality.person), make_instrument(quality.person)
    found = {"batch": batch, "sliding": [], "pairs": []}
    for method in ("sliding_angle", "advancing_receding"):
        make_method_version(quality.person, method)
    for member, sliding, pairs in zip(batch.members.all(), SLIDING, PAIRS, strict=True):
        found["pairs"].append(
            read_in(quality, enter(quality, member.coupon, lot, rig, "advancing_receding"), sent_pairs(pairs))
        )
        found["sliding"].append(read_in(quality, enter(quality, member.coupon, lot, rig), sent(sliding)))
    return found


def number(result, key):
    return next(row["value"] for row in result["statistics"] if row["key"] == key)


def test_results_of_runs_equal_a_computation_apart(bench):
    """independent (numpy 2.4, scipy 1.17): medians with "not moved" above all, exact bounds, means of pairs."""
    for drops, result in zip(SLIDING, bench["sliding"], strict=True):
        values = sorted(math.inf if drop == ">" else drop for drop in drops)
        middle = (values[(len(values) - 1) // 2] + values[len(values) // 2]) / 2
        assert number(result, "sliding_angle_median") == ("inf" if math.isinf(middle) else pytest.approx(middle))
        not_moved = drops.count(">")
        bound = stats.beta.ppf(0.95, not_moved + 1, len(drops) - not_moved)  # Clopper–Pearson, one-sided
        assert number(result, "sliding_angle_not_moved_bound") == pytest.approx(100 * bound)
    for drops, result in zip(PAIRS, bench["pairs"], strict=True):
        advancing, receding = np.array(drops).T
        assert number(result, "hysteresis_mean") == pytest.approx(np.mean(advancing - receding))
        cosines = np.cos(np.radians(receding)) - np.cos(np.radians(advancing))
        assert number(result, "hysteresis_percent_mean") == pytest.approx(50 * np.mean(cosines))
        # 72.74 mN/m is the tension that the factory stores for the liquid
        assert number(result, "retention_per_width_mean") == pytest.approx(72.74 * np.mean(cosines))


def test_results_of_the_batch_take_the_coupon_as_the_unit(quality, bench):
    """independent (scipy 1.17): mean of coupon means with Student's t for 4 coupons, not for 10 drops."""
    status, data = quality.get(f"batches/{bench['batch'].code}/results/")
    group = next(group for group in data["groups"] if group["method"] == "advancing_receding")
    row = next(row for row in group["statistics"] if row["key"] == "hysteresis_mean")
    means = [np.mean(np.subtract(*np.array(drops).T)) for drops in PAIRS]
    low, high = stats.t.interval(0.95, 3, np.mean(means), stats.sem(means))
    assert status == 200
    assert (row["value"], row["low"], row["high"]) == pytest.approx((np.mean(means), low, high))
    assert (row["n_coupons"], row["n_drops"]) == (4, 10)


def test_result_says_what_it_was_computed_from(quality):
    run = make_run(quality.person)
    assert quality.get(f"runs/{run.code}/results/") == (200, {"run": run.code, "result": None})
    quality.post(f"runs/{run.code}/readings/", {"version": 1, "readings": sent([4.5])})
    _, data = quality.get(f"runs/{run.code}/results/")
    assert (data["run"], len(data["inputs_digest"])) == (run.code, 64)
    assert data["code_version"]


def test_correction_after_completion_needs_a_reason_and_keeps_the_first_value(quality):
    run = make_run(quality.person)
    read_in(quality, run.code, sent([4.5, 5]))
    body = {"version": 3, "readings": [{"quantity": "sliding_angle", "drop": 1, "value": "4,6"}]}
    assert quality.post(f"runs/{run.code}/readings/", body)[1]["code"] == "ReasonMissing"
    status, data = quality.post(f"runs/{run.code}/readings/", body | {"why": "misread the scale"})
    assert (status, [row["value"] for row in data["readings"]]) == (200, [4.6, 5.0])
    rows = quality.get("readings/", run=run.code, is_current="false")[1]["results"]
    assert [(row["value"], row["typed"]) for row in rows] == [(4.5, "4.5")]


def test_second_of_two_who_save_sees_the_conflict_and_stores_nothing(quality):
    run, other = make_run(quality.person), Caller(make_person("operator"))
    assert other.post(f"runs/{run.code}/readings/", {"version": 1, "readings": sent([4.5])})[0] == 200
    status, data = quality.post(f"runs/{run.code}/readings/", {"version": 1, "readings": sent([9.5])})
    assert (status, data["code"], data["field"]) == (409, "SavedByOther", "version")
    assert f"Run {run.code} was saved by {other.person.username} at " in data["message"]
    assert [row.value for row in run.readings.all()] == [4.5]


def test_reading_is_excluded_and_taken_back_with_reasons(quality):
    run = make_run(quality.person)
    page = quality.post(f"runs/{run.code}/readings/", {"version": 1, "readings": sent([4.5, 29])})[1]
    pk = page["readings"][1]["id"]
    assert quality.post(f"readings/{pk}/exclude/")[1]["code"] == "ReasonMissing"
    status, data = quality.post(f"readings/{pk}/exclude/", {"why": "fibre on the track"})
    assert (status, data["excluded_because"], data["excluded_by"]) == (
        200,
        "fibre on the track",
        quality.person.username,
    )
    assert quality.get(f"runs/{run.code}/results/")[1]["result"]["n_excluded"] == 1
    status, data = quality.post(f"readings/{pk}/include/", {"why": "it was a shadow"})
    assert (status, data.get("excluded_because")) == (200, ""), data


def test_run_is_reopened_reviewed_by_another_and_then_locked(quality):
    run, reviewer = make_run(quality.person), Caller(make_person("reviewer"))
    read_in(quality, run.code, sent([4.5]))
    assert quality.post(f"runs/{run.code}/reopen/", {"why": "one drop missing"})[1]["state"] == "draft"
    assert quality.post(f"runs/{run.code}/complete/")[0] == 200
    status, data = quality.post(f"runs/{run.code}/review/")
    assert (status, data["field"]) == (400, "run")
    assert "took part in this run" in data["message"]
    status, data = reviewer.post(f"runs/{run.code}/review/")
    assert (status, data["state"], data["reviewed_by"]) == (200, "reviewed", reviewer.person.username)
    status, data = quality.post(f"runs/{run.code}/readings/", {"version": data["version"], "readings": sent([4.6])})
    assert (status, data["code"]) == (409, "RunLocked")


def csv_of(coupon, lot, rig, values):
    head = (
        "run,coupon,method,liquid,drop_volume_ul,dose,position,drop,quantity,value,qualifier,"
        "observed_at,instrument,room_temperature_c,room_humidity_pct"
    )
    lines = [
        f"F-1,{coupon.code},sliding_angle,{lot.code},10,0,1,{drop},sliding_angle,{value},measured,"
        f"2026-03-02T09:00Z,{rig.code},23,50"
        for drop, value in enumerate(values, start=1)
    ]
    return "\n".join([head, *lines, ""]).encode()


@pytest.fixture
def shelf(quality):
    make_method_version(quality.person)
    return make_coupon(quality.person), make_liquid_lot(quality.person), make_instrument(quality.person)


def test_file_is_imported_once_however_often_it_is_sent(quality, shelf):
    data = csv_of(*shelf, [4.5, 5, 6.5])
    status, report = quality.send("readings/import/?name=march.csv", data, "text/csv")
    assert (status, report["runs_added"], report["readings_added"]) == (200, 1, 3), report
    status, report = quality.send("readings/import/?name=march.csv", data, "text/csv")
    assert (status, report["runs_added"], report["readings_added"]) == (200, 0, 0)
    assert Reading.objects.count() == 3
    assert quality.get("runs/F-1/history/")[1][0]["why"] == "imported from march.csv"


def test_file_is_refused_whole_with_line_column_value_and_rule(quality, shelf):
    status, data = quality.send("readings/import/", csv_of(*shelf, [4.5, "1_0", "٥"]), "text/csv")
    assert (status, data["code"], data["field"]) == (400, "FileRefused", "file")
    assert data["message"] == "Lines refused in the file: 2. Nothing was stored."
    assert [(row["line"], row["column"], row["value"]) for row in data["lines"]] == [
        (3, "value", "1_0"),
        (4, "value", "٥"),
    ]
    assert Reading.objects.count() == 0


@pytest.mark.parametrize("data", [b"", b"\n\n", b"run,coupon\n", b"\xff\xfe\x00", b"PK\x03\x04"])
def test_empty_or_foreign_file_is_refused(quality, data):
    status, answer = quality.send("readings/import/", data, "text/csv")
    assert (status, answer["code"]) == (400, "FileRefused")
    assert answer["lines"]


def test_half_written_file_stores_nothing(quality, shelf):
    data = csv_of(*shelf, [4.5, 5, 6.5])
    status, answer = quality.send("readings/import/", data[: data.rindex(b"sliding_angle") + 4], "text/csv")
    assert (status, answer["code"]) == (400, "FileRefused")
    assert Reading.objects.count() == 0


def test_conditions_that_the_file_lacks_come_with_the_address(quality, shelf):
    coupon, lot, rig = shelf
    data = (
        "run,coupon,method,liquid,drop_volume_ul,dose,position,drop,quantity,value,qualifier\n"
        f"F-2,{coupon.code},sliding_angle,{lot.code},10,0,1,1,sliding_angle,4.5,measured\n"
    ).encode()
    query = f"observed_at=2026-03-02T09:00&instrument={rig.code}&room_temperature_c=23&room_humidity_pct=50"
    status, report = quality.send(f"readings/import/?{query}", data, "text/csv")
    assert (status, report["runs_added"]) == (200, 1), report
    assert quality.get("runs/F-2/")[1]["instrument"] == rig.code
    assert quality.send("readings/import/?luck=1", data, "text/csv")[1]["field"] == "luck"


def test_explanations_tell_readings_formulas_and_what_would_change(quality):
    batch = make_batch(quality.person, n=3)
    version, lot, rig = (
        make_method_version(quality.person),
        make_liquid_lot(quality.person),
        make_instrument(quality.person),
    )
    for member in batch.members.all():
        run = make_run(quality.person, coupon=member.coupon, method_version=version, liquid_lot=lot, instrument=rig)
        quality.post(f"runs/{run.code}/readings/", {"version": 1, "readings": sent([4.0, 5.0, 7.0])})
        quality.post(f"runs/{run.code}/complete/", {"version": 2})
    status, told = quality.get(f"runs/{run.code}/explanations/")
    median = next(chain for chain in told["chains"] if chain["key"] == "sliding_angle_median")
    assert (status, median["answer"]) == (200, "5.0°")
    assert median["steps"][0]["inputs"][0]["value"] == "4.0; 5.0; 7.0"
    assert all(chain["turns"] for chain in told["chains"])
    status, groups = quality.get(f"batches/{batch.code}/explanations/")
    assert (status, len(groups["groups"])) == (200, 1)
    assert "sliding_angle_median" in {chain["key"] for chain in groups["groups"][0]["chains"]}
