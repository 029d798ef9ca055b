"""Columns of the attached tables: name, kind, meaning. Writing, reading and the package's schema follow from them."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

STRING, NUMBER, INTEGER, BOOLEAN = "string", "number", "integer", "boolean"  # field types of a Table Schema
# What a spreadsheet would take for a formula gets an apostrophe, as does text that begins with one.
_GUARDED = ("=", "+", "-", "@", "\t", "\r", "'")


class PackageProblem(ValueError):
    """What is wrong with an attached file, in one sentence."""


@dataclass(frozen=True)
class Column:
    name: str
    kind: str
    meaning: str


def _columns(kind, /, **meanings):
    return {name: Column(name, kind, meaning) for name, meaning in meanings.items()}


def _in_order(names, *groups):
    known = {name: column for group in groups for name, column in group.items()}
    return tuple(known[name] for name in names.split())


READINGS = _in_order(
    "id run quantity unit position drop direction value typed qualifier reason state excluded excluded_by "
    "excluded_because replaces corrected_because entered_by entered_at",
    _columns(INTEGER, id="number of the reading", drop="number of the drop", replaces="id of the reading it corrects"),
    _columns(NUMBER, value="the number as read; empty when lost; the stage limit when not moved"),
    _columns(BOOLEAN, excluded="left out of every number, with name and reason"),
    _columns(
        STRING,
        run="code of the run",
        quantity="what was read",
        unit="unit of the value",
        position="place on the coupon",
        direction="direction of the drop on the coupon",
        typed="what was typed",
        qualifier="measured, not_moved (up to the stage limit), moved_on_placing, lost",
        reason="why it was lost",
        state="current, or replaced by a later correction",
        excluded_by="who excluded it",
        excluded_because="why it was excluded",
        corrected_because="why it replaced an earlier reading",
        entered_by="who entered it",
        entered_at="when it was entered, in the time zone of the report",
    ),
)
RUNS = _in_order(
    "code coupon role method method_version liquid_lot drop_volume_ul dose dose_kind exposure instrument "
    "calibration_due room_temperature_c room_humidity_pct observed_at coupon_area_mm2 is_textured companion "
    "operators entered_at completed_by reviewed_by reviewed_at state remark",
    _columns(
        NUMBER,
        drop_volume_ul="drop volume [µL]",
        dose="dose of the exposure before the run; 0 is fresh",
        room_temperature_c="room temperature [°C]",
        room_humidity_pct="relative humidity [%]",
        coupon_area_mm2="exposed area of the coupon [mm²]",
    ),
    _columns(BOOLEAN, is_textured="the recipe textures the surface"),
    _columns(
        STRING,
        code="code of the run",
        coupon="code of the coupon",
        role="treated, control or reference",
        method="key of the method",
        method_version="the lab's number of the method's settings",
        liquid_lot="lot of the challenge liquid",
        dose_kind="what the dose is counted in",
        exposure="what the dose is a dose of",
        instrument="code of the instrument",
        calibration_due="when its calibration was due, as known on the day of the run",
        observed_at="when it was read",
        companion="run with the contact angles of the same coupon that its checks use",
        operators="who read it",
        entered_at="when it was entered",
        completed_by="who completed it",
        reviewed_by="who reviewed it",
        reviewed_at="when it was reviewed",
        state="state of the run at the issue",
        remark="remark",
    ),
)
RESULTS = _in_order(
    "kind group what coupon value low high confidence between_sd within_sd unit n_coupons n_drops n_not_moved limit "
    "outcome printed",
    _columns(
        NUMBER,
        value="the number in full; INF: beyond the stage limit",
        low="lower end of the interval",
        high="upper end of the interval",
        confidence="confidence of the interval",
        between_sd="standard deviation between coupons",
        within_sd="standard deviation within a coupon",
        limit="limit of the requirement",
    ),
    _columns(INTEGER, n_coupons="number of coupons", n_drops="number of drops", n_not_moved="drops that did not move"),
    _columns(
        STRING,
        kind="outcome, statistic, coupon, check or pair",
        group="label of the requirement, title of the group of coupons, or code of the run",
        what="what the line is",
        coupon="the coupon, where the line is one coupon's",
        unit="unit of the numbers",
        outcome="verdict, or counts of a check",
        printed="the number as the pages print it",
    ),
)


def written(columns, rows) -> bytes:
    """The table as CSV by RFC 4180 in UTF-8, numbers in full."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([column.name for column in columns])
    writer.writerows([[_cell(column, row.get(column.name)) for column in columns] for row in rows])
    return out.getvalue().encode()


def read(columns, data: bytes, name: str) -> list[dict]:
    """The rows of such a table; PackageProblem names what does not fit."""
    try:
        lines = list(csv.reader(io.StringIO(data.decode("utf-8"), newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as problem:
        raise PackageProblem(f"{name} cannot be read as a table: {problem}") from None
    expected = [column.name for column in columns]
    if not lines or lines[0] != expected:
        found = ", ".join(lines[0])[:200] if lines else "nothing"
        raise PackageProblem(f"{name} has other columns than it should: {found}")
    return [_row(columns, cells, f"{name}, row {place}") for place, cells in enumerate(lines[1:], start=2)]


def _row(columns, cells, where):
    if len(cells) != len(columns):
        raise PackageProblem(f"{where}: {len(cells)} cells where there are {len(columns)} columns")
    return {column.name: _value(column, cell, where) for column, cell in zip(columns, cells, strict=True)}


def _cell(column, value):
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value)
    if column.kind == NUMBER and isinstance(value, str):
        return value.upper()  # INF, as a Table Schema has it
    return f"'{value}" if isinstance(value, str) and value.startswith(_GUARDED) else str(value)


def _value(column, cell, where):
    if column.kind == STRING:
        return cell.removeprefix("'")
    if cell == "":
        return None
    try:
        if column.kind == BOOLEAN:
            return {"true": True, "false": False}[cell]
        return int(cell) if column.kind == INTEGER else float(cell)
    except (KeyError, ValueError):
        raise PackageProblem(f"{where}, column {column.name}: “{cell[:40]}” is no {column.kind}") from None
