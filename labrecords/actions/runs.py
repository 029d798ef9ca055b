"""Test runs: entered, read, corrected, completed, reviewed. What was measured is never overwritten."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils import timezone

from analysis import LOST, MEASURED, MOVED_ON_PLACING, NOT_MOVED, QUALIFIERS, QUANTITIES, reading_problems
from analysis import Reading as ReadingRecord
from labrecords import entry
from labrecords.actions import analyses
from labrecords.actions.rows import write
from labrecords.errors import (
    ConditionMissing,
    CouponConsumed,
    DuplicateDrop,
    LotExpired,
    NotFromThisState,
    ReasonMissing,
    RecedingAboveAdvancing,
    RunLocked,
    SavedByOther,
    ValueRefused,
)
from labrecords.models import Reading, RunOperator, TestRun
from labrecords.models.coupon import STATES
from labrecords.models.run import COMPLETE, DRAFT, REVIEWED, RUN_STATES
from labrecords.trail import verb

_CONDITIONS = {
    "liquid": "liquid_lot_id",
    "drop_volume_ul": "drop_volume_ul",
    "room_temperature_c": "room_temperature_c",
    "room_humidity_pct": "room_humidity_pct",
    "instrument": "instrument_id",
}


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


@verb
def enter(*, by, why="run opened", coupon, method_version, operators=(), code="", **fields):
    """A run in draft, without readings. A condition that the method makes mandatory is refused when missing.

    Liquid and drop volume always are; the others may be missing with a reason (`not_recorded`), which the report
    prints under deviations.
    """
    if coupon.is_closed:
        raise CouponConsumed(coupon=coupon.code, state=STATES[coupon.state])
    run = TestRun(coupon=coupon, method_version=method_version, code=code or _next_code(), **fields)
    _check_conditions(run)
    _check_lot(run)
    write(run, by)
    for person in operators or [by]:
        write(RunOperator(run=run, person=person), by)
    if coupon.state in ("ready", "in_stock"):  # an untreated control goes from stock to the rig
        coupon.state = "in_test"
        write(coupon)
    return run


@verb
def record(*, by, why="readings entered", run, readings, version=None):
    """Store readings; a value that differs from the stored one becomes a correction beside it.

    `readings`: Typed items. `version`: the run's version when its page was opened; a newer one is a conflict.
    After completion every correction needs its own reason.
    """
    run = _locked(run, version)
    stored = {(r.quantity, r.position, r.drop, r.direction): r for r in run.readings.current()}
    _refuse_doubles(readings)
    changed = [
        row
        for row in (_row(run, item) for item in readings)
        if row and _differs(row, stored.get(_place(row)))
    ]
    corrections = [row for row in changed if _place(row) in stored]
    if corrections and run.state != DRAFT and why == "readings entered":
        raise ReasonMissing()
    _check_readings(run, {**stored, **{_place(row): row for row in changed}})
    if changed:
        _store(by, changed, stored)
        run.version += 1
        run.save()
        analyses.redo(by=by, run=run)
    return run


@verb
def exclude(*, by, why, reading):
    """Leave a reading out of the numbers, with the reason; it stays visible and is counted."""
    run = _locked(reading.run)
    reading = Reading.objects.get(pk=reading.pk)
    if reading.is_excluded or not reading.is_current:
        raise ValueRefused(
            field="reading", label="Reading", value=reading, rule="is excluded or replaced already"
        )
    reading.excluded_by, reading.excluded_because = by, why[:200]
    write(reading)
    _touch(by, run)
    return reading


@verb
def include(*, by, why, reading):
    """Take an excluded reading back into the numbers."""
    run = _locked(reading.run)
    reading = Reading.objects.get(pk=reading.pk)
    reading.excluded_by, reading.excluded_because = None, ""
    write(reading)
    _touch(by, run)
    return reading


@verb
def complete(*, by, why="run complete", run, version=None):
    """Close the entry: every drop has what its method requires."""
    run = _locked(run, version)
    if run.state != DRAFT:
        raise NotFromThisState(
            field="run", noun="Run", code=run.code, state=RUN_STATES[run.state], target="complete"
        )
    _check_complete(run)
    run.state, run.completed_by, run.completed_at = COMPLETE, by, timezone.now()
    run.version += 1
    return write(run)


@verb
def reopen(*, by, why, run):
    """Back to draft, with the reason; not after review."""
    run = _locked(run)
    if run.state != COMPLETE:
        raise NotFromThisState(
            field="run", noun="Run", code=run.code, state=RUN_STATES[run.state], target="draft"
        )
    run.state, run.completed_by, run.completed_at = DRAFT, None, None
    run.version += 1
    return write(run)


@verb
def review(*, by, why="reviewed", run):
    """A second person has looked; the run is locked from here on."""
    run = _locked(run)
    if run.state != COMPLETE:
        raise NotFromThisState(
            field="run", noun="Run", code=run.code, state=RUN_STATES[run.state], target="reviewed"
        )
    if run.completed_by_id == by.pk or run.operators.filter(person=by).exists():
        raise ValueRefused(
            field="run",
            label="Reviewer",
            value=by.full_name,
            rule="took part in this run; another person reviews it",
        )
    run.state, run.reviewed_by, run.reviewed_at = REVIEWED, by, timezone.now()
    run.version += 1
    return write(run)


def _locked(run, version=None):
    """The run, locked for this transaction; refuses a reviewed one, a closed coupon, and a stale version."""
    fresh = (
        TestRun.objects.select_for_update(of=("self",))
        .select_related("coupon", "method_version")
        .get(pk=run.pk)
    )
    if fresh.is_locked:
        raise RunLocked(run=fresh.code)
    if fresh.coupon.is_closed:
        raise CouponConsumed(coupon=fresh.coupon.code, state=STATES[fresh.coupon.state])
    if version is not None and int(version) != fresh.version:
        event = fresh.events.select_related("pgh_context").order_by("-pgh_id").first()
        who = event.pgh_context.metadata.get("who", "somebody")
        when = timezone.localtime(event.pgh_created_at).strftime("%H:%M:%S")
        raise SavedByOther(run=fresh.code, who=who, when=when)
    return fresh


def _touch(by, run):
    run.version += 1
    run.save()
    analyses.redo(by=by, run=run)


def _next_code():
    last = TestRun.objects.order_by("-id").values_list("id", flat=True).first() or 0
    return f"R-{timezone.localdate():%y}-{last + 1:05d}"


def _check_conditions(run):
    labels = {"liquid": "Challenge liquid lot", "instrument": "Instrument"}
    for condition in run.method.conditions:
        attribute = _CONDITIONS.get(condition, condition)
        excused = run.not_recorded and condition not in ("liquid", "drop_volume_ul")
        if getattr(run, attribute) is None and not excused:
            label = labels.get(condition) or str(TestRun._meta.get_field(condition).verbose_name).capitalize()
            raise ConditionMissing(field=attribute.removesuffix("_id"), label=label, method=run.method.title)


def _check_lot(run):
    lot = run.liquid_lot
    if lot is None or run.observed_at is None:
        return
    used = timezone.localtime(run.observed_at).date()
    if lot.expires_on and used > lot.expires_on:
        raise LotExpired(noun="Liquid", lot=lot.code, expires=lot.expires_on, used=used)
    if used < lot.prepared_on:
        raise ValueRefused(
            field="liquid_lot",
            label="Liquid lot",
            value=lot.code,
            rule=f"was prepared on {lot.prepared_on}, after its use on {used}",
        )


def _refuse_doubles(readings):
    seen = set()
    for item in readings:
        if item.place in seen:
            quantity = QUANTITIES[item.quantity].title if item.quantity in QUANTITIES else item.quantity
            raise DuplicateDrop(quantity=quantity, position=item.position, drop=item.drop)
        seen.add(item.place)


def _place(row):
    return (row.quantity, row.position, row.drop, row.direction)


def value_of(method_version, item):
    """The number that a typed reading stands for: the stage limit when not moved, 0 when moved on placing, None when lost or empty."""
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


def _row(run, item):
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
    return Reading(run=run, quantity=item.quantity, position=str(item.position), drop=item.drop, direction=item.direction,
                   value=value, typed=typed[:40], qualifier=item.qualifier, reason=item.reason.strip()[:200])  # fmt: skip


def _differs(row, stored):
    return stored is None or (row.value, row.qualifier, row.reason) != (
        stored.value,
        stored.qualifier,
        stored.reason,
    )


def _check_readings(run, rows):
    """The whole run as it would stand, against the method's declaration."""
    records = [
        ReadingRecord(quantity=row.quantity, value=row.value, qualifier=row.qualifier, position=row.position,
                      drop=row.drop, direction=row.direction, excluded=row.is_excluded, reason=row.reason or row.excluded_because)
        for row in rows.values()
    ]  # fmt: skip
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
        value=problem.value,
        rule=problem.rule,
    )


def _store(by, rows, stored):
    replaced = {_place(row): stored[_place(row)] for row in rows if _place(row) in stored}
    Reading.objects.filter(pk__in=[old.pk for old in replaced.values()]).update(is_current=False)
    for row in rows:
        row.created_by = by
        old = replaced.get(_place(row))
        if old is not None:
            row.replaces = old
            row.excluded_by_id, row.excluded_because = old.excluded_by_id, old.excluded_because
        row.clean_fields(
            exclude=["created_at", "created_by", "run", "replaces", "excluded_by"]
        )  # rows we hold
    # In one statement: the method's declaration has checked the values, the database checks the structure.
    Reading.objects.bulk_create(rows)


def _check_complete(run):
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
