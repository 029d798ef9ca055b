"""The columns of a readings file that hold for one drop: read, and told as the analysis knows them."""

from __future__ import annotations

import re

from analysis import LOST, MEASURED, NOT_MOVED, QUALIFIERS, QUANTITIES
from analysis import Reading as ReadingRecord
from labrecords import entry
from labrecords.actions import runs
from labrecords.errors import Refusal
from labrecords.models import Reading

REQUIRED = ("position", "drop", "quantity", "value", "qualifier")
OPTIONAL = ("direction", "reason")


def typed_reading(row, version, refusals):
    """The reading of one line, or None when it was refused."""
    before = len(refusals.lines)
    method, quantity = version.declaration, row.text("quantity")
    qualifier = row.text("qualifier") or MEASURED
    kind = method.reading(quantity)
    if kind is None:
        offered = ", ".join(item.quantity for item in method.readings)
        rule = f"is not read by “{method.title}”, which reads {offered}"
        refusals.add(row.line, "quantity", quantity, rule)
    if qualifier not in QUALIFIERS:
        refusals.add(row.line, "qualifier", qualifier, f"is none of {', '.join(QUALIFIERS)}")
    position, drop = _where(row, method, refusals)
    if len(refusals.lines) > before:
        return None
    value = row.text("value")
    if kind.can_be_not_moved and qualifier in (MEASURED, NOT_MOVED) and re.match(r"> *\S", value):
        qualifier, value = NOT_MOVED, value[1:].strip()
    return _checked(
        runs.Typed(quantity, position, drop, row.text("direction"), value, qualifier, row.text("reason")),
        row,
        version,
        refusals,
    )


def _checked(typed, row, version, refusals):
    try:
        runs.value_of(version, typed)
    except Refusal as refusal:
        return refusals.take(row.line, refusal.field, row.text(refusal.field), refusal)
    if typed.qualifier == LOST and typed.value:
        return refusals.add(row.line, "value", typed.value, "does not fit “lost”, which has no value")
    return typed


def _where(row, method, refusals):
    """Position and drop number; a method that reads once a coupon needs neither."""
    empty = "" if method.per_drop else "1"
    position, text = row.text("position") or empty, row.text("drop") or empty
    for column in ("position", "direction", "reason"):
        longest = Reading._meta.get_field(column).max_length
        if len(row.text(column)) > longest:
            refusals.add(row.line, column, row.text(column), f"is longer than {longest} characters")
    if not position:
        refusals.add(row.line, "position", "", "is missing")
    if not text:
        refusals.add(row.line, "drop", "", "is missing")
    try:
        return position, entry.whole(text, field="drop", low=1, high=10_000)
    except Refusal as refusal:
        refusals.take(row.line, "drop", text, refusal)
        return position, None


def place(row) -> tuple:
    """Where a reading belongs in its run; of a typed, a stored or an analysed one."""
    return (row.quantity, row.position, row.drop, row.direction)


def told(row) -> tuple:
    """What a reading says. What was once stored is known, corrected since or not."""
    return (*place(row), row.value, row.qualifier, row.reason if row.qualifier == LOST else "")


def as_typed(typed, version) -> ReadingRecord:
    value = runs.value_of(version, typed)
    return ReadingRecord(value=value, reason=typed.reason, **_same(typed))


def as_stored(row) -> ReadingRecord:
    reason = row.reason or row.excluded_because
    return ReadingRecord(value=row.value, reason=reason, excluded=row.is_excluded, **_same(row))


def _same(row):
    return {name: getattr(row, name) for name in ("quantity", "position", "drop", "direction", "qualifier")}


def text(row) -> str:
    """A stored reading in words: 4.5°."""
    value = "" if row.value is None else f"{row.value:.12g}{QUANTITIES[row.quantity].unit}"
    return value if row.qualifier == MEASURED else f"{QUALIFIERS[row.qualifier]} {value}".strip()
