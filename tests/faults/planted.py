"""Twenty bugs to plant, one at a time: what the rules of a record's life have to notice."""

from __future__ import annotations

from contextlib import contextmanager

from django.db import connection
from django.utils import timezone

from labrecords import access, trail
from labrecords.actions import coupons, requests, runs, typed
from labrecords.exchange import readings as exchange
from labrecords.models import Coupon, Reading, TestRun


def _replaced(owner, name, made):
    """A bug that puts something else in an attribute's place; `made` gets what was there."""

    @contextmanager
    def planted():
        kept = owner.__dict__[name] if isinstance(owner, type) else getattr(owner, name)
        setattr(owner, name, made(kept))
        try:
            yield
        finally:
            setattr(owner, name, kept)

    return planted


def _without_trigger(table, like):
    """A bug of the database: a rule is not there."""

    @contextmanager
    def planted():
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT tgname FROM pg_trigger WHERE tgrelid = %s::regclass AND tgname LIKE %s", [table, f"%{like}%"]
            )
            [(name,)] = cursor.fetchall()
            cursor.execute(f'ALTER TABLE {table} DISABLE TRIGGER "{name}"')
        try:
            yield
        finally:
            with connection.cursor() as cursor:
                cursor.execute(f'ALTER TABLE {table} ENABLE TRIGGER "{name}"')

    return planted


def _unchanged_version(kept):
    def touch(by, run):
        run.version -= 1
        kept(by, run)

    return touch


def _forgets_exclusion(kept):
    def store(by, rows, stored):
        for old in stored.values():
            old.excluded_by_id, old.excluded_because = None, ""
        kept(by, rows, stored)

    return store


def _overwrites(kept):
    """A correction keeps no earlier value: its row is said to have had the new one all along."""

    def store(by, rows, stored):
        for row in rows:
            old = stored.get(typed.place_of(row))
            if old is None:
                kept(by, [row], {})
            else:
                Reading.objects.filter(pk=old.pk).update(qualifier=row.qualifier)

    return store


def _reviewed_by_anybody(kept):
    def review(*, by, why="reviewed", run, version=None):
        fresh = runs._locked(run, version)
        others = type(by).objects.filter(role="quality").exclude(pk=fresh.completed_by_id).exclude(pk=by.pk)
        fresh.state, fresh.reviewed_by, fresh.reviewed_at = "reviewed", others.first() or by, timezone.now()
        fresh.version += 1
        return runs.write(fresh)

    review.__module__ = "labrecords.actions.runs"
    return trail.verb(review)


def _always_a_reason(kept):
    def record(**said):
        return kept(**{"why": "readings entered anew"} | said)

    return record


def _blank_reason(kept):
    def exclude(**said):
        return kept(**said | {"why": said["why"].strip() or "no reason"})

    return exclude


PLANTED = {
    "correction overwrites": _replaced(runs, "_store", _overwrites),
    "correction takes an excluded drop back": _replaced(runs, "_store", _forgets_exclusion),
    "value is rounded": _replaced(typed, "value_of", lambda kept: lambda *a: (v := kept(*a)) and float(round(v))),
    "version stays at an exclusion": _replaced(runs, "_touch", _unchanged_version),
    "version is not checked": _replaced(runs, "_locked", lambda kept: lambda run, version=None: kept(run)),
    "lock of a reviewed run is forgotten": _replaced(TestRun, "is_locked", lambda kept: False),
    "anybody reviews": _replaced(runs, "review", _reviewed_by_anybody),
    "run without readings is completed": _replaced(runs, "check_complete", lambda kept: lambda run: None),
    "correction after completion needs no reason": _replaced(runs, "record", _always_a_reason),
    "blank reason is filled in": _replaced(runs, "exclude", _blank_reason),
    "trail names another person": _replaced(trail, "recorded", lambda kept: lambda who, why: kept("system", why)),
    "trail gives another reason": _replaced(
        trail, "recorded", lambda kept: lambda who, why: kept(who, why and "changed" if str(why).strip() else why)
    ),
    "everybody may everything": _replaced(access, "check", lambda kept: lambda by, verb: None),
    "result is not redone": _replaced(runs.analyses, "redo", lambda kept: lambda **said: None),
    "closed coupon takes runs": _replaced(Coupon, "is_closed", lambda kept: False),
    "consumed coupon can be moved": _replaced(coupons, "MOVES", lambda kept: kept | {"consumed": {"ready", "in_test"}}),
    "key is not kept": _replaced(
        requests, "_claim", lambda kept: lambda by, key, digest: kept(by, f"{key}{timezone.now()}", digest)
    ),
    "import completes nothing": _replaced(exchange._Import, "_complete", lambda kept: lambda self, run: None),
    "readings can be altered": _without_trigger("labrecords_reading", "as_measured"),
    "readings can be deleted": _without_trigger("labrecords_reading", "never_deleted"),
    "exclusions leave no trace": _without_trigger("labrecords_reading", "update_update"),
}
