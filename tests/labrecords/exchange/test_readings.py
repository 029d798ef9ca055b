"""Readings in from CSV: whole file or nothing, each refusal with line, column, value and rule."""

import csv
import io
import time
from collections import deque
from datetime import date

import pytest
from django.db import connections, transaction

from labrecords.actions import coupons, projects, runs
from labrecords.errors import FileRefused, NotAllowed, NotTied, ValueRefused
from labrecords.exchange import readings
from labrecords.models import Analysis, Attachment, Reading, TestRun
from tests.factories import (
    make_coupon,
    make_instrument,
    make_liquid_lot,
    make_lot,
    make_method_version,
    make_person,
)

pytestmark = pytest.mark.django_db
HEADER = [
    "run", "coupon", "method", "liquid", "drop_volume_ul", "dose", "position", "drop", "quantity", "value", "qualifier",
]  # fmt: skip
# The header that the format promises: changing it would break files that people keep.
PROMISED = "run,coupon,method,liquid,drop_volume_ul,dose,position,drop,quantity,value,qualifier"


class Bench:
    """A lab with a coupon, a liquid lot and settings of the methods; makes rows of a file."""

    def __init__(self):
        self.by = make_person("operator")
        quality = make_person()
        self.quality = quality
        self.lot = make_liquid_lot(quality, code="WATER-1")
        self.coupon = make_coupon(quality)
        for method in ("sliding_angle", "advancing_receding", "lubricant_mass"):
            make_method_version(quality, method)

    def row(self, value="4.5", **cells):
        plain = {
            "run": "S1", "coupon": self.coupon.code, "method": "sliding_angle", "liquid": "WATER-1",
            "drop_volume_ul": "10", "dose": "0", "position": "1", "drop": "1", "quantity": "sliding_angle",
            "value": value, "qualifier": "",
        }  # fmt: skip
        return plain | cells

    def sliding(self, *values, **cells):
        return [self.row(value, drop=str(drop), **cells) for drop, value in enumerate(values, 1)]

    def pair(self, advancing, receding, **cells):
        cells = {"run": "A1", "method": "advancing_receding"} | cells
        return [
            self.row(advancing, quantity="advancing_angle", **cells),
            self.row(receding, quantity="receding_angle", **cells),
        ]

    def load(self, rows, **details):
        details = {"by": self.by, "name": "bench.csv"} | details
        return readings.import_file(data=as_csv(rows), **details)

    def refused(self, rows, **details):
        """The refusals, after a look that nothing was stored."""
        before = (TestRun.objects.count(), Reading.objects.count(), Analysis.objects.count())
        with pytest.raises(FileRefused) as refusal:
            self.load(rows, **details)
        assert (TestRun.objects.count(), Reading.objects.count(), Analysis.objects.count()) == before
        return refusal.value.lines


def as_csv(rows, **options):
    out = io.StringIO()
    names = list(dict.fromkeys(name for row in rows for name in row))
    writer = csv.DictWriter(out, names, restval="", lineterminator="\n", **options)
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


@pytest.fixture
def bench():
    return Bench()


def values(code):
    rows = TestRun.objects.get(code=code).readings.current().order_by("drop", "id")
    return [(row.value, row.qualifier) for row in rows]


def test_required_columns_are_the_promised_ones():
    assert ",".join(readings.REQUIRED) == PROMISED


def test_new_runs_are_stored_analysed_and_complete(bench):
    report = bench.load([*bench.sliding("3.5", "5,7", "4.0"), *bench.pair("112.5", "108")])
    assert (report.runs_added, report.readings_added, report.drafts) == (2, 5, [])
    assert values("S1") == [(3.5, "measured"), (5.7, "measured"), (4.0, "measured")]
    run = TestRun.objects.get(code="S1")
    assert run.state == "complete"
    median = {item["key"]: item["value"] for item in run.analyses.get(is_current=True).content["statistics"]}
    assert median["sliding_angle_median"] == 4.0  # hand: the middle one of 3.5, 4.0, 5.7


def test_what_was_typed_and_the_reason_are_kept(bench):
    bench.load(bench.sliding("5,7"))
    reading = Reading.objects.get()
    assert reading.typed == "5,7"
    event = reading.events.get()
    assert event.pgh_context.metadata == {"who": bench.by.username, "why": "imported from bench.csv"}


def test_file_of_a_members_only_project_names_no_coupon_of_others(bench):
    """The whole file is kept beside each of its runs: who sees one run would read the other's values."""
    project = projects.start(by=bench.quality, code="P-1", title="Wings")
    mine = make_coupon(bench.quality, project=project)
    other = make_coupon(bench.quality)
    both = [*bench.sliding("3.5", coupon=mine.code), *bench.sliding("4.5", coupon=other.code, run="S2")]
    with transaction.atomic():
        assert bench.load(both).runs_added == 2
        transaction.set_rollback(True)
    for person in (bench.by, bench.quality):
        projects.admit(by=bench.quality, project=project, person=person)
    projects.restrict(by=bench.quality, why="the customer asks", project=project)
    with pytest.raises(NotTied, match=mine.code):
        bench.load(both)
    assert TestRun.objects.count() == Attachment.objects.count() == 0
    assert bench.load(both[:1]).runs_added == 1
    with pytest.raises(NotTied, match=mine.code):  # what was stored before stands in the kept file all the same
        bench.load(both)
    assert Attachment.objects.count() == 1


def test_qualifiers_and_the_written_stage_limit(bench):
    """The method version of these tests has a stage limit of 30°."""
    rows = [
        bench.row("", drop="1", qualifier="not_moved"),
        bench.row(">30", drop="2"),
        bench.row("> 30", drop="3", qualifier="not_moved"),
        bench.row("", drop="4", qualifier="moved_on_placing"),
        bench.row("", drop="5", qualifier="lost", reason="needle touched the drop"),
        bench.row("30", drop="6", qualifier="measured"),
    ]
    bench.load(rows)
    stuck = (30, "not_moved")
    assert values("S1") == [stuck, stuck, stuck, (0, "moved_on_placing"), (None, "lost"), (30, "measured")]


def test_semicolon_file_with_decimal_commas(bench):
    readings.import_file(by=bench.by, data=as_csv(bench.sliding("5,7"), delimiter=";"), name="x.csv")
    assert values("S1") == [(5.7, "measured")]


def test_same_file_again_adds_nothing(bench):
    rows = [*bench.sliding("3.5", ">30"), *bench.pair("112.5", "108")]
    bench.load(rows)
    stored = (TestRun.objects.count(), Reading.objects.count(), Analysis.objects.count())
    report = bench.load(rows)
    assert (report.runs_added, report.readings_added, report.runs_known, report.readings_known) == (0, 0, 2, 4)
    assert (TestRun.objects.count(), Reading.objects.count(), Analysis.objects.count()) == stored


def test_same_file_again_adds_nothing_when_the_coupon_is_consumed_and_a_reading_was_corrected(bench):
    bench.load(bench.sliding("3.5", "4.5"))
    run = TestRun.objects.get()
    runs.record(by=bench.by, why="misread", run=run, readings=[runs.Typed("sliding_angle", drop=2, value="4.6")])
    coupons.move(by=bench.by, why="cut for microscopy", coupon=bench.coupon, state="consumed")
    report = bench.load(bench.sliding("3.5", "4.5"))
    assert (report.readings_added, report.readings_known) == (0, 2)
    assert values("S1") == [(3.5, "measured"), (4.6, "measured")]


def test_different_value_of_a_stored_drop_is_refused_with_what_is_stored(bench):
    bench.load(bench.sliding("3.5", "4.5"))
    assert bench.refused(bench.sliding("3.5", "4.7")) == [
        {"line": 3, "column": "value", "value": "4.7",
         "rule": "is stored as 4.5°; correct it on the run page with a reason"},
    ]  # fmt: skip


def test_different_condition_of_a_stored_run_is_refused(bench):
    bench.load(bench.sliding("3.5"))
    found = bench.refused(bench.sliding("3.5", drop_volume_ul="20"))
    assert [(item["line"], item["column"], item["value"]) for item in found] == [(2, "drop_volume_ul", "20")]
    assert found[0]["rule"] == "differs from the stored run S1, which has 10.0"


def test_half_a_pair_leaves_a_draft_that_a_later_file_completes(bench):
    rows = bench.pair("112.5", "108")
    report = bench.load(rows[:1])
    assert (report.drafts, TestRun.objects.get().state) == (["A1"], "draft")
    report = bench.load(rows)
    assert (report.runs_added, report.readings_added, report.readings_known) == (0, 1, 1)
    assert TestRun.objects.get().state == "complete"


def test_receding_angle_above_the_stored_advancing_angle_is_refused(bench):
    rows = bench.pair("108", "112.5")
    bench.load(rows[:1])
    found = bench.refused(rows[1:])
    assert [(item["line"], item["column"], item["value"]) for item in found] == [(2, "value", "112.5")]


def test_new_drop_of_a_complete_run_is_refused(bench):
    bench.load(bench.sliding("3.5"))
    found = bench.refused(bench.sliding("3.5", "4.5"))
    assert [(item["line"], item["column"]) for item in found] == [(3, "run")]
    assert "is complete and this reading is new" in found[0]["rule"]


REFUSED = {
    "mistyped coupon": ({"coupon": "TS-26-0001-?"}, "coupon", "check character does not fit"),
    "unknown method": ({"method": "tilt"}, "method", "is none of"),
    "unknown liquid": ({"liquid": "OIL"}, "liquid", "There is no"),
    "missing liquid": ({"liquid": ""}, "liquid", "cannot be read without it"),
    "missing drop volume": ({"drop_volume_ul": ""}, "drop_volume_ul", "cannot be read without it"),
    "missing run": ({"run": ""}, "run", "is missing"),
    "missing drop": ({"drop": ""}, "drop", "is missing"),
    "missing dose": ({"dose": ""}, "dose", "0 means fresh"),
    "missing value": ({"value": ""}, "value", "needs a number"),
    "unit in value": ({"value": "12 °"}, "value", "is not a plain number"),
    "unit in volume": ({"drop_volume_ul": "5 uL"}, "drop_volume_ul", "is not a plain number"),
    "NaN": ({"value": "NaN"}, "value", "is not a plain number"),
    "infinity": ({"value": "inf"}, "value", "is not a plain number"),
    "underscore": ({"value": "1_000"}, "value", "is not a plain number"),
    "Arabic digits": ({"value": "١٢"}, "value", "is not a plain number"),
    "formula": ({"value": "=1+1"}, "value", "is not a plain number"),
    "two commas": ({"value": "1,234,5"}, "value", "is not a plain number"),
    "beyond the stage limit": ({"value": "31"}, "value", "beyond the stage limit of 30°"),
    "beyond the quantity": ({"value": "91"}, "value", "is outside 0 to 90°"),
    "below zero": ({"value": "-1"}, "value", "is outside 0 to 90°"),
    "another limit than the stage's": ({"value": ">25"}, "value", "up to the stage limit of 30°"),
    "unknown qualifier": ({"qualifier": "stuck"}, "qualifier", "is none of measured"),
    "cut qualifier": ({"qualifier": "not_mov"}, "qualifier", "is none of measured"),
    "lost without reason": ({"value": "", "qualifier": "lost"}, "reason", "needs a reason"),
    "lost with value": ({"qualifier": "lost", "reason": "slipped"}, "value", "has no value"),
    "moved on placing with value": ({"qualifier": "moved_on_placing"}, "value", "has no value"),
    "quantity of another method": ({"quantity": "static_angle"}, "quantity", "is not read by"),
    "half a drop": ({"drop": "1.5"}, "drop", "is not a whole number"),
    "drop zero": ({"drop": "0"}, "drop", "is below 1"),
    "dose without unit": ({"dose": "20"}, "dose", "has no unit"),
    "dose in an unknown unit": ({"dose": "20 laps"}, "dose", "is in none of"),
    "dose in two units": ({"dose": "20 h", "dose_kind": "cycles"}, "dose_kind", "differs from the unit beside"),
    "negative dose": ({"dose": "-1 h"}, "dose", "is below 0"),
    "volume zero": ({"drop_volume_ul": "0"}, "drop_volume_ul", "is below 0.001"),
    "unknown instrument": ({"instrument": "RIG-X"}, "instrument", "There is no"),
    "unknown operator": ({"operators": "nobody"}, "operators", "There is no sign-in name"),
    "ambiguous date": ({"observed_at": "03/04/2026"}, "observed_at", "is not a date and time"),
    "unknown version": ({"method_version": "9"}, "method_version", "is no version of sliding_angle"),
    "humidity": ({"room_humidity_pct": "101"}, "room_humidity_pct", "is above 100"),
    "before the lot": ({"observed_at": "2025-12-31"}, "liquid", "was prepared on 2026-01-05"),
    "long run code": ({"run": "R" * 61}, "run", "at most 60 characters"),
    "long position": ({"position": "p" * 21}, "position", "is longer than 20 characters"),
}  # fmt: skip


@pytest.mark.parametrize(("cells", "column", "rule"), REFUSED.values(), ids=REFUSED)
def test_bad_cell_is_refused_with_line_column_value_and_rule(bench, cells, column, rule):
    good = bench.row(run="GOOD")
    found = bench.refused([good, bench.row(**cells)])
    assert [(item["line"], item["column"], item["value"]) for item in found] == [
        (3, column, bench.row(**cells).get(column, ""))
    ]
    assert rule in found[0]["rule"]


def test_unknown_coupon_with_a_sound_check_character(bench):
    code = coupons.with_check_character("TS-26-9999")
    assert bench.refused([bench.row(coupon=code)]) == [
        {"line": 2, "column": "coupon", "value": code, "rule": f"There is no coupon “{code}”."}
    ]


@pytest.mark.parametrize("state", ["consumed", "discarded", "lost"])
def test_closed_coupon_is_refused(bench, state):
    coupons.move(by=bench.by, why="spent", coupon=bench.coupon, state=state)
    found = bench.refused(bench.sliding("3.5"))
    assert [(item["line"], item["column"]) for item in found] == [(2, "coupon")]
    assert f"is {state}: it takes no new readings" in found[0]["rule"]


def test_expired_lot_is_refused_and_named(bench):
    make_liquid_lot(bench.quality, bench.lot.liquid, code="OLD", expires_on=date(2026, 2, 1))
    found = bench.refused([bench.row(liquid="OLD", observed_at="2026-02-02T09:00")])
    assert [(item["line"], item["column"], item["value"]) for item in found] == [(2, "liquid", "OLD")]
    assert "expired on 2026-02-01; it was used on 2026-02-02" in found[0]["rule"]
    assert bench.load([bench.row(liquid="OLD", observed_at="2026-02-01T09:00")]).runs_added == 1


def test_liquid_by_its_own_code_means_the_only_lot_in_date(bench):
    liquid = bench.lot.liquid
    make_liquid_lot(bench.quality, liquid, code="OLD", expires_on=date(2026, 2, 1))
    row = bench.row(liquid=liquid.code)
    assert "has 2 lots in date on 2026-02-01" in bench.refused([row | {"observed_at": "2026-02-01"}])[0]["rule"]
    assert "has no lot in date on 2025-12-01" in bench.refused([row | {"observed_at": "2025-12-01"}])[0]["rule"]
    bench.load([row | {"observed_at": "2026-02-02"}])
    assert TestRun.objects.get().liquid_lot == bench.lot
    assert bench.load([row | {"observed_at": "2026-02-02"}]).runs_known == 1


def test_duplicate_drop_is_refused_at_its_second_line(bench):
    found = bench.refused([bench.row("3.5"), bench.row("4.5")])
    assert [(item["line"], item["column"]) for item in found] == [(3, "drop")]
    assert "is there twice" in found[0]["rule"]


def test_same_drop_in_two_directions_is_no_duplicate(bench):
    assert bench.load([bench.row("3.5", direction="up"), bench.row("4.5", direction="down")]).readings_added == 2


def test_receding_above_advancing_is_refused_at_the_receding_line(bench):
    found = bench.refused(bench.pair("108", "112.5"))
    assert [(item["line"], item["column"], item["value"]) for item in found] == [(3, "value", "112.5")]
    assert "above the advancing angle of the same drop, 108°" in found[0]["rule"]


def test_angle_beyond_180_is_refused(bench):
    found = bench.refused(bench.pair("181", "108"))
    assert [(item["line"], item["column"], item["value"]) for item in found] == [(2, "value", "181")]


@pytest.mark.parametrize(
    "cells", [{"drop_volume_ul": "5"}, {"dose": "20 cycles"}, {"room_humidity_pct": "40"}], ids=str
)
def test_lines_of_one_run_must_agree(bench, cells):
    first = bench.row(room_humidity_pct="45")
    found = bench.refused([first, bench.row(drop="2", **cells)])
    (column,) = cells
    assert [(item["line"], item["column"]) for item in found] == [(3, column)]
    assert found[0]["rule"] == f"differs from “{first[column]}” in line 2 of the same run"


def test_same_number_written_otherwise_agrees(bench):
    assert bench.load([bench.row(), bench.row(drop="2", drop_volume_ul="10.0")]).runs_added == 1


def test_all_refusals_of_a_file_come_at_once_in_order_of_lines(bench):
    rows = [bench.row("x", run="S1"), bench.row("31", run="S2"), bench.row(run="S3", coupon="nonsense")]
    found = bench.refused([*rows, bench.row(run="S4"), *bench.pair("1", "2")])
    assert [(item["line"], item["column"]) for item in found] == [
        (2, "value"),
        (3, "value"),
        (4, "coupon"),
        (7, "value"),
    ]


def test_dose_with_its_unit_in_either_column(bench):
    bench.load(
        [bench.row(run="S1", dose="20 cycles", exposure="freeze–thaw"), bench.row(run="S2", dose="1,5", dose_kind="h")]
    )
    found = TestRun.objects.order_by("code").values_list("dose", "dose_kind", "exposure")
    assert list(found) == [(20, "cycles", "freeze–thaw"), (1.5, "h", "")]


def test_conditions_that_nobody_gave_are_said_to_be_not_recorded(bench):
    bench.load(bench.sliding("3.5"))
    run = TestRun.objects.get()
    assert (run.room_temperature_c, run.room_humidity_pct, run.instrument) == (None, None, None)
    assert run.not_recorded == (
        "not in the imported file: room temperature, relative humidity, instrument, "
        "time of observation (the time of import is stored)"
    )


def test_conditions_from_the_file_go_before_the_given_ones(bench):
    rig, helper = make_instrument(bench.quality), make_person("operator")
    bench.load(
        [bench.row(room_temperature_c="23,5", operators=helper.username)],
        defaults={"room_temperature_c": "20", "room_humidity_pct": "45", "instrument": rig.code,
                  "observed_at": "2026-03-02T09:00", "operators": bench.by.username},
    )  # fmt: skip
    run = TestRun.objects.get()
    assert (run.room_temperature_c, run.room_humidity_pct, run.instrument, run.not_recorded) == (23.5, 45, rig, "")
    assert run.observed_at.isoformat() == "2026-03-02T09:00:00+00:00"
    assert [operator.person for operator in run.operators.all()] == [helper]


def test_bad_default_is_refused_by_itself(bench):
    with pytest.raises(ValueRefused, match="is not a plain number"):
        bench.load(bench.sliding("3.5"), defaults={"room_temperature_c": "20 °C"})
    with pytest.raises(ValueRefused, match="no condition that can be given"):
        bench.load(bench.sliding("3.5"), defaults={"liquid": "WATER-1"})


def test_mass_needs_neither_liquid_nor_drop(bench):
    row = bench.row("18,4", run="M1", method="lubricant_mass", quantity="lubricant_mass", liquid="", drop_volume_ul="",
                    position="", drop="")  # fmt: skip
    assert bench.load([row]).runs_added == 1
    assert bench.load([row]).readings_known == 1
    assert values("M1") == [(18.4, "measured")]


def test_newest_method_version_unless_another_is_named(bench):
    newest = make_method_version(bench.quality, settings={"stage_limit_deg": 60})
    bench.load([bench.row("45", run="S1")])
    assert TestRun.objects.get().method_version == newest
    assert "stage limit of 30°" in bench.refused([bench.row("45", run="S2", method_version="1")])[0]["rule"]


def test_rows_at_hand_go_the_same_way(bench):
    rows = bench.sliding("3.5", "4.5")
    report = readings.import_rows(by=bench.by, rows=rows, name="rows")
    assert (report.runs_added, report.readings_added) == (1, 2)
    assert bench.load(rows).readings_known == 2
    with pytest.raises(FileRefused) as refusal:
        readings.import_rows(by=bench.by, rows=[bench.row("x", run="S9")], name="rows")
    assert refusal.value.lines[0]["line"] == 2


def test_role_without_the_verb_may_not_import(bench):
    with pytest.raises(NotAllowed):
        bench.load(bench.sliding("3.5"), by=make_person("administrator"))


def test_file_cut_anywhere_in_its_last_line_stores_nothing(bench):
    """Every cut through the last line of a file whose last column is the value, down to the missing line break."""
    cells = {name: text for name, text in bench.row("12.5", drop="2").items() if name != "value"} | {"value": "12.5"}
    first = {name: bench.row()[name] for name in cells}
    whole = as_csv([first, cells])
    start = whole.rstrip(b"\n").rindex(b"\n") + 1
    for end in range(start + 1, len(whole)):
        with pytest.raises(FileRefused) as refusal:
            readings.import_file(by=bench.by, data=whole[:end], name="cut.csv")
        assert refusal.value.lines[-1]["line"] == 3
    assert Reading.objects.count() == 0


@pytest.mark.alone
def test_five_thousand_readings_in_twenty_seconds(bench, monkeypatch, django_assert_max_num_queries):
    """250 runs of 20 drops. Processor time of this process: what the machine does beside it does not count."""
    made = coupons.log(by=bench.by, lot=make_lot(bench.quality), count=250)
    rows = [
        bench.row(f"{4 + drop % 7 / 10:.1f}", run=f"S{number}", coupon=coupon.code, drop=str(drop))
        for number, coupon in enumerate(made)
        for drop in range(1, 21)
    ]
    # Django keeps the last 9 000 queries; to count up to the bound it must keep more.
    monkeypatch.setattr(connections["default"], "queries_log", deque(maxlen=70 * len(made)))
    start = time.process_time()
    with django_assert_max_num_queries(60 * len(made)):
        assert bench.load(rows).readings_added == 5000
    assert time.process_time() - start < 20
    with django_assert_max_num_queries(30):
        assert bench.load(rows).readings_known == 5000
