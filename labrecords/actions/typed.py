"""Readings as they were typed: what number each stands for, and whether a run may hold them."""

from __future__ import annotations

from dataclasses import dataclass

from analysis import LOST, MEASURED, MOVED_ON_PLACING, NOT_MOVED, QUALIFIERS, QUANTITIES, reading_problems
from labrecords import entry
from labrecords.errors import ConditionMissing, DuplicateDrop, RecedingAboveAdvancing, ValueRefused
from labrecords.models import Reading


@dataclass(frozen=True)
class Typed:
    """One reading as it was typed: where it belongs, and the text, the qualifier or both."""

    quantity: str
    position: str = "1"
    drop: int = 1
    direction: str = ""
    value: object = ""
    qualifier: str = MEASURED
    reason: str = ""

    @property
    def place(self):
        return (self.quantity, self.position, self.drop, self.direction)


def refuse_doubles(readings):
    seen = set()
    for item in readings:
        if item.place in seen:
            quantity = QUANTITIES[item.quantity].title if item.quantity in QUANTITIES else item.quantity
            raise DuplicateDrop(quantity=quantity, position=item.position, drop=item.drop)
        seen.add(item.place)


def place_of(row):
    return (row.quantity, row.position, row.drop, row.direction)


def value_of(method_version, item):
    """The number a reading stands for: the stage limit if not moved, 0 if moved on placing, None if lost or empty."""
    quantity, typed = QUANTITIES[item.quantity], _text(item)
    value = entry.number(typed, field="value", label=quantity.label)
    if item.qualifier == NOT_MOVED:
        limit = method_version.stage_limit
        if limit is None:
            raise ConditionMissing(
                field="qualifier",
                label="Stage limit in the method version",
                method=method_version.declaration.title,
            )
        if value is not None and value != limit:
            raise ValueRefused(
                field="value",
                label=quantity.label,
                value=typed,
                rule=f"does not fit: “not moved” means up to the stage limit of {limit:g}{quantity.unit}",
            )
        return limit
    if item.qualifier == MOVED_ON_PLACING:
        if value:
            raise ValueRefused(
                field="value",
                label=quantity.label,
                value=typed,
                rule="does not fit “moved on placing”, which has no value",
            )
        return 0.0
    return None if item.qualifier == LOST else value


def _text(item):
    return "" if item.value is None else str(item.value).strip()


def row_of(run, item):
    """The unsaved reading that was typed, or None for an empty cell that was never filled."""
    quantity = QUANTITIES.get(item.quantity)
    if quantity is None or run.method.reading(item.quantity) is None:
        raise ValueRefused(
            field="quantity",
            label="Quantity",
            value=item.quantity,
            rule=f"is not read by “{run.method.title}”",
        )
    if item.qualifier not in QUALIFIERS:
        raise ValueRefused(
            field="qualifier",
            label="Qualifier",
            value=item.qualifier,
            rule=f"is none of {', '.join(QUALIFIERS)}",
        )
    value = value_of(run.method_version, item)
    typed = _text(item)
    if value is None and item.qualifier != LOST:
        if (
            Reading.objects.current()
            .filter(
                run=run,
                quantity=item.quantity,
                position=item.position,
                drop=item.drop,
                direction=item.direction,
            )
            .exists()
        ):
            raise ValueRefused(
                field="value",
                label=quantity.label,
                value="",
                rule="was stored already and is not emptied: correct it, or mark it lost with a reason",
            )
        return None
    return Reading(
        run=run,
        quantity=item.quantity,
        position=str(item.position),
        drop=item.drop,
        direction=item.direction,
        value=value,
        typed=typed,
        qualifier=item.qualifier,
        reason=item.reason.strip(),
    )


def differs(row, stored):
    return stored is None or (row.value, row.qualifier, row.reason) != (
        stored.value,
        stored.qualifier,
        stored.reason,
    )


def check_readings(run, rows):
    """The whole run as it would stand, against the method's declaration."""
    records = [row.as_record() for row in rows.values()]
    problems = reading_problems(run.method.key, run.method_version.settings, records)
    if not problems:
        return
    problem = problems[0]
    at = records[problem.index]
    if problem.kind == "receding_above_advancing":
        high, low = run.method.pair
        pair = {
            r.quantity: r.value
            for r in records
            if (r.position, r.drop, r.direction) == (at.position, at.drop, at.direction)
        }
        raise RecedingAboveAdvancing(
            drop=at.drop, position=at.position, receding=f"{pair[low]:g}", advancing=f"{pair[high]:g}"
        )
    label = QUANTITIES[at.quantity].label if at.quantity in QUANTITIES else at.quantity
    raise ValueRefused(
        field=problem.field,
        label=f"{label}, position {at.position}, drop {at.drop}",
        value=f"{problem.value:g}" if isinstance(problem.value, float) else problem.value,
        rule=problem.rule,
    )


def check_complete(run):
    rows = list(run.readings.current())
    if not rows:
        raise ConditionMissing(field="readings", label="Every reading", method=run.method.title)
    required = {kind.quantity for kind in run.method.readings if kind.is_required}
    drops = {(row.position, row.drop, row.direction) for row in rows}
    there = {(row.quantity, row.position, row.drop, row.direction) for row in rows}
    for position, drop, direction in sorted(drops):
        for quantity in sorted(required):
            if (quantity, position, drop, direction) not in there:
                label = f"{QUANTITIES[quantity].title} of position {position}, drop {drop}"
                raise ConditionMissing(field="readings", label=label, method=run.method.title)
