"""What is wrong with readings before they are stored: the entry grid shows it, the actions refuse it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from analysis.method import Method
from analysis.methods import METHODS
from analysis.quantities import QUANTITIES
from analysis.records import LOST, MEASURED, MOVED_ON_PLACING, NOT_MOVED, QUALIFIERS, Reading


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with one reading; `rule` is the rest of a sentence that begins with the value."""

    index: int  # place in the readings given
    field: str  # quantity, value, qualifier, reason, drop
    kind: str
    value: object
    rule: str


def reading_problems(
    method_key: str, settings: Mapping[str, object], readings: Sequence[Reading]
) -> tuple[Problem, ...]:
    """Everything that is wrong with the readings of one run, in the order of the readings.

    Parameters
    ----------
    method_key : str
        Key of METHODS.
    settings : mapping
        Of the method version, by setting key; the stage limit is read from here.
    readings : sequence of Reading
        As typed or imported. A drop that did not move carries the stage limit as its value, one that moved on
        placing carries 0, a lost one no value and a reason.

    Returns
    -------
    tuple of Problem
        Empty when all is well. Kinds: unknown_quantity, out_of_range, beyond_stage_limit, not_a_number,
        qualifier_not_offered, lost_without_reason, value_missing, duplicate, receding_above_advancing.

    Raises
    ------
    KeyError
        For a method that does not exist.

    Source: bounds of `analysis.quantities`; θr ≤ θa is `common_practice`.

    >>> found = reading_problems("sliding_angle", {"stage_limit_deg": 30}, [Reading("sliding_angle", 31.0)])
    >>> found[0].rule
    'is beyond the stage limit of 30°'
    """
    method = METHODS[method_key]
    found = [
        problem
        for index, reading in enumerate(readings)
        for problem in _reading_problems(method, settings, index, reading)
    ]
    found.extend(_duplicates(readings))
    found.extend(_crossed_pairs(method, readings))
    return tuple(sorted(found, key=lambda problem: problem.index))


def _reading_problems(method: Method, settings, index: int, reading: Reading) -> Iterator[Problem]:
    kind = method.reading(reading.quantity)
    if kind is None:
        offered = ", ".join(item.quantity for item in method.readings)
        rule = f"is not read by this method, which reads {offered}"
        yield Problem(index, "quantity", "unknown_quantity", reading.quantity, rule)
        return
    offered = {MEASURED, LOST}
    offered |= {NOT_MOVED} if kind.can_be_not_moved else set()
    offered |= {MOVED_ON_PLACING} if kind.can_move_on_placing else set()
    if reading.qualifier not in offered:
        known = QUALIFIERS.get(reading.qualifier, reading.qualifier)
        rule = f"is not offered for {QUANTITIES[reading.quantity].title.lower()}"
        yield Problem(index, "qualifier", "qualifier_not_offered", known, rule)
    elif reading.qualifier == LOST:
        if not reading.reason.strip():
            yield Problem(index, "reason", "lost_without_reason", "", "needs a reason: the drop was lost")
    else:
        yield from _value_problems(method, settings, index, reading)


def _value_problems(method: Method, settings, index: int, reading: Reading) -> Iterator[Problem]:
    value, known = reading.value, QUANTITIES[reading.quantity]
    if value is None:
        yield Problem(index, "value", "value_missing", None, f"needs a number in {known.unit}")
    elif isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        yield Problem(index, "value", "not_a_number", value, f"is not a number in {known.unit}")
    elif (known.low is not None and value < known.low) or (known.high is not None and value > known.high):
        yield Problem(index, "value", "out_of_range", value, f"is outside {_bounds(known)}")
    else:
        limit = _limit(method, settings, reading.quantity)
        if limit is not None and value > limit:
            rule = f"is beyond the {known.limit} of {limit:g}{_joined(known.unit)}"
            yield Problem(index, "value", "beyond_stage_limit", value, rule)


def _duplicates(readings: Sequence[Reading]) -> Iterator[Problem]:
    seen = set()
    for index, reading in enumerate(readings):
        place = (reading.quantity, reading.position, reading.drop, reading.direction)
        if place in seen:
            name = QUANTITIES[reading.quantity].title.lower() if reading.quantity in QUANTITIES else "value"
            rule = f"is there twice at position {reading.position}: one drop has one {name}"
            yield Problem(index, "drop", "duplicate", reading.drop, rule)
        seen.add(place)


def _crossed_pairs(method: Method, readings: Sequence[Reading]) -> Iterator[Problem]:
    if method.pair is None:
        return
    advancing, receding = method.pair
    highest = {_drop(item): item.value for item in readings if item.quantity == advancing and _counts(item)}
    for index, reading in enumerate(readings):
        if reading.quantity == receding and _counts(reading):
            above = highest.get(_drop(reading))
            if above is not None and reading.value > above:
                unit = _joined(QUANTITIES[receding].unit)
                rule = f"is above the advancing angle of the same drop, {above:g}{unit}"
                yield Problem(index, "value", "receding_above_advancing", reading.value, rule)


def _drop(reading: Reading) -> tuple:
    return reading.position, reading.drop, reading.direction


def _counts(reading: Reading) -> bool:
    value = reading.value
    is_number = isinstance(value, int | float) and math.isfinite(value)
    return is_number and reading.qualifier == MEASURED and not reading.excluded


def _limit(method: Method, settings: Mapping[str, object], quantity: str) -> float | None:
    for setting in method.settings:
        limit = settings.get(setting.key)
        if setting.limits_quantity == quantity and isinstance(limit, int | float):
            return limit
    return None


def _bounds(known) -> str:
    if known.high is None:
        return f"{known.low:g} {known.unit} and more"
    return f"{known.low:g} to {known.high:g}{_joined(known.unit)}"


def _joined(unit: str) -> str:
    return unit if unit in ("°", "") else f" {unit}"
