"""Test runs: entered, read, corrected, completed, reviewed. What was measured is never overwritten."""

from __future__ import annotations

from django.db import connection
from django.utils import timezone

from labrecords import access
from labrecords.actions import analyses
from labrecords.actions.instruments import check_in_service
from labrecords.actions.lots import check_lot, check_time
from labrecords.actions.methods import checked_settings
from labrecords.actions.rows import by_whom, check_fields, hold, last_change, now, write
from labrecords.actions.typed import (
    Typed,
    check_complete,
    check_readings,
    differs,
    place_of,
    refuse_doubles,
    row_of,
    value_of,
)
from labrecords.errors import (
    ConditionMissing,
    CouponConsumed,
    NotFromThisState,
    ReasonMissing,
    RunLocked,
    SavedByOther,
    ValueRefused,
)
from labrecords.models import Reading, RunOperator, TestRun
from labrecords.models.coupon import STATES
from labrecords.models.run import COMPLETE, DRAFT, ENTERED, REVIEWED, RUN_STATES
from labrecords.trail import verb

__all__ = ["Typed", "complete", "enter", "exclude", "include", "lift_review", "record", "reopen", "review", "value_of"]

_CONDITIONS = {
    "liquid": "liquid_lot_id",
    "drop_volume_ul": "drop_volume_ul",
    "room_temperature_c": "room_temperature_c",
    "room_humidity_pct": "room_humidity_pct",
    "instrument": "instrument_id",
}


@verb
def enter(*, by, why="run opened", coupon, method_version, operators=(), code="", **fields):
    """A run in draft, without readings. A condition that the method makes mandatory is refused when missing.

    Liquid and drop volume always are; the others may be missing with a reason (`not_recorded`), which the report
    prints under deviations.
    """
    [coupon] = hold([coupon.pk])
    if coupon.is_closed:
        raise CouponConsumed(coupon=coupon.code, state=STATES[coupon.state])
    own = {"code": code} if code else _next_number()
    run = TestRun(coupon=coupon, method_version=method_version, **own, **fields)
    _check_conditions(run)
    _check_exposure(run)
    check_time(run.observed_at, field="observed_at", label="Observed at")
    check_in_service(run.instrument, run.observed_at)
    check_lot(run.liquid_lot, "Liquid", used_at=run.observed_at, field="liquid_lot")
    write(run, by)
    for person in operators or [by]:
        access.check_measures(person, field="operators")
        write(RunOperator(run=run, person=person), by)
    if coupon.state in ("ready", "in_stock"):  # an untreated control goes from stock to the rig
        coupon.state = "in_test"
        write(coupon)
    return run


@verb
def record(*, by, why=ENTERED, run, readings, version=None):
    """Store readings; a value that differs from the stored one becomes a correction beside it.

    `readings`: Typed items. `version`: the run's version when its page was opened; a newer one is a conflict.
    New values need no reason; as soon as one that is stored becomes another, the reason must be given.
    """
    run = _locked(run, version)
    stored = {(r.quantity, r.position, r.drop, r.direction): r for r in run.readings.current()}
    refuse_doubles(readings)
    changed = [
        row for row in (row_of(run, item) for item in readings) if row and differs(row, stored.get(place_of(row)))
    ]
    corrections = [row for row in changed if place_of(row) in stored]
    if run.coupon.is_closed and len(corrections) < len(changed):
        raise CouponConsumed(coupon=run.coupon.code, state=STATES[run.coupon.state])
    if corrections and why == ENTERED:
        raise ReasonMissing()
    check_readings(run, {**stored, **{place_of(row): row for row in changed}})
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
        raise ValueRefused(field="reading", label="Reading", value=reading, rule="is excluded or replaced already")
    reading.excluded_by, reading.excluded_because = by, why
    write(reading)
    _touch(by, run)
    return reading


@verb
def include(*, by, why, reading):
    """Take an excluded reading back into the numbers, where it may stand beside the others."""
    run = _locked(reading.run)
    reading = Reading.objects.get(pk=reading.pk)
    if not reading.is_excluded or not reading.is_current:
        raise ValueRefused(field="reading", label="Reading", value=reading, rule="is not excluded, or replaced already")
    reading.excluded_by, reading.excluded_because = None, ""
    write(reading)
    check_readings(run, {place_of(row): row for row in run.readings.current()})
    _touch(by, run)
    return reading


@verb
def complete(*, by, why="run complete", run, version=None):
    """Close the entry: every drop has what its method requires."""
    run = _locked(run, version)
    if run.state != DRAFT:
        raise NotFromThisState(field="run", noun="Run", code=run.code, state=RUN_STATES[run.state], target="complete")
    check_complete(run)
    run.state, run.completed_by, run.completed_at = COMPLETE, by, now()
    run.version += 1
    return write(run)


@verb
def lift_review(*, by, why, run):
    """Void the review, with the reason: the run is a draft again, and whatever is corrected is reviewed anew."""
    run = _held(run)
    if not run.is_locked:
        raise NotFromThisState(field="run", noun="Run", code=run.code, state=RUN_STATES[run.state], target="unlocked")
    run.state, run.completed_by, run.completed_at = DRAFT, None, None
    run.reviewed_by, run.reviewed_at = None, None
    run.version += 1
    return write(run)


@verb
def reopen(*, by, why, run):
    """Back to draft, with the reason; not after review."""
    run = _locked(run)
    if run.state != COMPLETE:
        raise NotFromThisState(field="run", noun="Run", code=run.code, state=RUN_STATES[run.state], target="draft")
    run.state, run.completed_by, run.completed_at = DRAFT, None, None
    run.version += 1
    return write(run)


@verb
def review(*, by, why="reviewed", run, version=None):
    """A second person has looked; the run is locked from here on. `version`: the run's version that was looked at."""
    run = _locked(run, version)
    if run.state != COMPLETE:
        raise NotFromThisState(field="run", noun="Run", code=run.code, state=RUN_STATES[run.state], target="reviewed")
    if by.username in _hands_in(run):
        raise ValueRefused(
            field="run",
            label="Reviewer",
            value=by.full_name,
            rule="took part in this run; another person reviews it",
        )
    run.state, run.reviewed_by, run.reviewed_at = REVIEWED, by, now()
    run.version += 1
    return write(run)


def _hands_in(run):
    """Sign-in names of all who ever took part: measured, opened, typed, corrected, left out, took back or completed.

    Asked of the trail: what a run was opened again for has left its columns. A review and its lifting are no part.
    """
    of_readings = Reading.pgh_event_models["insert"].objects.filter(run=run)
    hands = {event.pgh_context.metadata["who"] for event in of_readings.select_related("pgh_context")}
    before = ""
    for event in run.events.select_related("pgh_context").order_by("pgh_id"):
        if REVIEWED not in (before, event.state):
            hands.add(event.pgh_context.metadata["who"])
        before = event.state
    return hands | set(run.operators.values_list("person__username", flat=True))


def _held(run):
    """The run, locked for this transaction with its coupon."""
    hold([run.coupon_id])
    return (
        TestRun.objects.select_for_update(no_key=True, of=("self",))
        .select_related("coupon", "method_version")
        .get(pk=run.pk)
    )


def _locked(run, version=None):
    """The same; refuses a reviewed one and a stale version."""
    fresh = _held(run)
    if fresh.is_locked:
        raise RunLocked(run=fresh.code)
    if version is not None and int(version) != fresh.version:
        raise SavedByOther(run=fresh.code, **by_whom(last_change(fresh)))
    return fresh


def _touch(by, run):
    run.version += 1
    run.save()
    analyses.redo(by=by, run=run)


def _next_number():
    """Number and code of a new run. The table's own sequence gives no number twice, to whoever asks at once."""
    while True:
        with connection.cursor() as cursor:
            cursor.execute("SELECT nextval(pg_get_serial_sequence(%s, 'id'))", [TestRun._meta.db_table])
            number = cursor.fetchone()[0]
        code = f"R-{timezone.localdate():%y}-{number:05d}"
        if not TestRun.objects.filter(code__iexact=code).exists():  # somebody may have typed it
            return {"id": number, "code": code}


def _check_conditions(run):
    labels = {"liquid": "Challenge liquid lot", "instrument": "Instrument"}
    for condition in run.method.conditions:
        attribute = _CONDITIONS.get(condition, condition)
        excused = run.not_recorded and condition not in ("liquid", "drop_volume_ul")
        if getattr(run, attribute) is None and not excused:
            label = labels.get(condition) or str(TestRun._meta.get_field(condition).verbose_name).capitalize()
            raise ConditionMissing(field=attribute.removesuffix("_id"), label=label, method=run.method.title)


def _check_exposure(run):
    """A declared exposure has a dose that it can be counted in, and its conditions."""
    declared = run.exposure_declared
    if declared is None:
        return
    if run.dose and run.dose_kind not in declared.dose_kinds:
        rule = f"is not what {declared.title.lower()} is counted in: {', '.join(declared.dose_kinds)}"
        raise ValueRefused(field="dose_kind", label="Dose in", value=run.dose_kind, rule=rule)
    run.exposure_conditions = checked_settings(
        declared.title,
        declared.conditions,
        run.exposure_conditions,
        prefix="exposure_",
        may_lack=bool(run.not_recorded),
    )


def _store(by, rows, stored):
    replaced = {place_of(row): stored[place_of(row)] for row in rows if place_of(row) in stored}
    Reading.objects.filter(pk__in=[old.pk for old in replaced.values()]).update(is_current=False)
    for row in rows:
        row.created_by = by
        old = replaced.get(place_of(row))
        if old is not None:
            row.replaces = old
            row.excluded_by_id, row.excluded_because = old.excluded_by_id, old.excluded_because
        check_fields(row)
    # In one statement: the method's declaration has checked the values, the database checks the structure.
    Reading.objects.bulk_create(rows)
