"""What the tests of signing do by hand: steps, corrections, and what only an owner of the database can do."""

import json
from contextlib import contextmanager

import pytest
from django.db import DatabaseError, connection, transaction

from labrecords import trail
from labrecords.actions import assessments, runs
from labrecords.models import TestRun
from tests.factories import (
    PASSWORD,
    make_person,
    sign,
    sliding,
)


def take(step, by, assessment, **details):
    return getattr(assessments, step)(
        by=by, assessment=assessment, **{"version": assessment.version, "password": PASSWORD} | details
    )


def as_owner(sql, *values):
    """What only an owner of the database can do, who has switched all triggers off."""
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        cursor.execute(sql, values)
        assert cursor.rowcount == 1
        cursor.execute("SET LOCAL session_replication_role = origin")


@contextmanager
def undone():
    """What is done inside is taken back afterwards, so that the next attempt meets the same rows."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def file_of(evidence):
    return json.dumps(evidence, sort_keys=True).encode()


def correct(by, value="28"):
    run = TestRun.objects.filter(method_version__method="sliding_angle").first()
    return runs.record(by=by, run=run, readings=sliding([value]), why="misread the scale")


def attempt(sql, *values, match):
    with pytest.raises(DatabaseError, match=match), trail.recorded("tests", "an attempt"):  # noqa: SIM117
        with connection.cursor() as cursor:
            cursor.execute(sql, values)


def brought_to(state, assessment):
    """An assessment in the state, by the steps that lead there."""
    if state == "withdrawn":
        return assessments.withdraw(by=make_person(), why="of no use", assessment=assessment)
    steps = {"draft": None, "complete": "complete", "reviewed": "review", "approved": "approve", "issued": "approve"}
    if steps[state]:
        assessment = sign(assessment, until=steps[state])
    if state == "issued":
        assessments.issue(by=make_person(), assessment=assessment, render=file_of)
        assessment.refresh_from_db()
    return assessment
