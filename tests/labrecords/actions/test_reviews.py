"""Who may review a run, and what happens when a review turns out to be void."""

import pytest
from django.db import DatabaseError, connection, transaction

from labrecords.actions import assessments, runs
from labrecords.errors import (
    NotAllowed,
    NotFromThisState,
    NothingToJudge,
    ReasonMissing,
    RecordsChanged,
    RunLocked,
    ValueRefused,
)
from labrecords.models import TestRun
from tests.factories import (
    issue_report,
    make_lab,
    make_person,
    make_run,
    make_shedding_criteria,
    make_tested_batch,
    sign,
    sliding,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def typist():
    return make_person("reviewer")


@pytest.fixture
def keeper():
    return make_person("quality")


def fresh(run):
    return TestRun.objects.get(pk=run.pk)


def read(by, run, values=(4.5, 5.0, 5.5), **more):
    runs.record(by=by, run=fresh(run), readings=sliding(values), **more)


def reviewed(keeper, other):
    run = make_run(keeper)
    read(keeper, run)
    runs.complete(by=keeper, run=fresh(run))
    return runs.review(by=other, run=fresh(run))


def opened(by, helper):
    run = make_run(by, operators=[helper])
    read(helper, run)
    return run


def typed(by, helper):
    run = make_run(helper)
    read(by, run)
    return run


def corrected(by, helper):
    run = make_run(helper)
    read(helper, run)
    read(by, run, [4.5, 5.0, 1.0], why="misread")
    return run


def left_out(by, helper):
    run = make_run(helper)
    read(helper, run)
    runs.exclude(by=by, why="a fibre", reading=run.readings.last())
    return run


def left_out_for_a_while(by, helper):
    run = left_out(by, helper)
    runs.include(by=helper, why="no fibre after all", reading=run.readings.last())
    return run


def took_back(by, helper):
    run = left_out(helper, helper)
    runs.include(by=by, why="no fibre after all", reading=run.readings.last())
    return run


def completed_once(by, helper):
    run = make_run(helper)
    read(helper, run)
    runs.complete(by=by, run=fresh(run))
    runs.reopen(by=helper, why="a drop is missing", run=fresh(run))
    return run


def completed_before_a_lifted_review(by, helper):
    run = make_run(helper)
    read(helper, run)
    runs.complete(by=by, run=fresh(run))
    runs.review(by=make_person("reviewer"), run=fresh(run))
    runs.lift_review(by=helper, why="misread", run=fresh(run))
    return run


PARTS = [
    opened, typed, corrected, left_out, left_out_for_a_while, took_back, completed_once,
    completed_before_a_lifted_review,
]  # fmt: skip


@pytest.mark.parametrize("part", PARTS)
def test_who_had_a_hand_in_a_run_does_not_review_it(typist, keeper, part):
    make_lab(keeper)
    run = part(typist, keeper)
    runs.complete(by=keeper, run=fresh(run))
    with pytest.raises(ValueRefused, match="took part in this run"):
        runs.review(by=typist, run=fresh(run))
    assert runs.review(by=make_person("reviewer"), run=fresh(run)).is_locked


def test_lifted_review_lets_a_reading_be_corrected_and_is_given_anew(typist, keeper):
    run = reviewed(keeper, typist)
    with pytest.raises(RunLocked, match="lift the review"):
        read(keeper, run, [4.5, 5.0, 9.0], why="misread")
    run = runs.lift_review(by=keeper, why="one angle was misread", run=run)
    assert (run.state, run.reviewed_by, run.completed_by) == ("draft", None, None)
    read(keeper, run, [4.5, 5.0, 9.0], why="misread")
    runs.complete(by=keeper, run=fresh(run))
    assert runs.review(by=typist, run=fresh(run)).is_locked
    told = [(event.state, event.pgh_context.metadata["why"]) for event in run.events.order_by("pgh_id")]
    assert ("draft", "one angle was misread") in told
    assert [state for state, _ in told].count("reviewed") == 2


def test_only_quality_lifts_a_review_and_says_why(typist, keeper):
    run = reviewed(keeper, typist)
    for role in ("operator", "developer", "reviewer"):
        with pytest.raises(NotAllowed):
            runs.lift_review(by=make_person(role), why="misread", run=run)
    with pytest.raises(ReasonMissing):
        runs.lift_review(by=keeper, why=" ", run=run)
    assert fresh(run).is_locked


def test_nothing_is_lifted_where_nothing_was_reviewed(keeper):
    with pytest.raises(NotFromThisState):
        runs.lift_review(by=keeper, why="misread", run=make_run(keeper))


def test_database_lets_a_reviewed_run_change_in_no_other_way(typist, keeper):
    run = reviewed(keeper, typist)
    with pytest.raises(DatabaseError, match="Cannot update"), transaction.atomic():
        TestRun.objects.filter(pk=run.pk).update(remark="x")
    with pytest.raises(DatabaseError, match="Cannot update"), transaction.atomic():
        TestRun.objects.filter(pk=run.pk).update(state="complete", reviewed_by=None, reviewed_at=None)


def test_a_lifted_review_makes_an_assessment_stale_and_leaves_an_issued_report(typist, keeper):
    other = make_person("quality")
    batch, criteria = make_tested_batch(keeper, n=1, drops=3), make_shedding_criteria(keeper)
    for run in TestRun.objects.filter(state="complete"):
        runs.review(by=typist, run=run)
    report = issue_report(batch, criteria, keeper, other, other)
    issued = bytes(report.file)
    on_way = assessments.prepare(by=keeper, batch=batch, criterion_revision=make_shedding_criteria(keeper))
    run = runs.lift_review(by=keeper, why="misread", run=TestRun.objects.filter(state="reviewed").first())
    with pytest.raises(NothingToJudge, match="still in draft"):
        sign(on_way, keeper, other, other)
    runs.complete(by=keeper, run=run)
    with pytest.raises(RecordsChanged):
        sign(on_way, keeper, other, other)
    report.refresh_from_db()
    assert bytes(report.file) == issued


def test_stored_result_stays_as_it_was_computed(keeper):
    """The trail does not hold its content, so the database keeps it from being rewritten."""
    run = make_run(keeper)
    read(keeper, run)
    for change in ("content = '{}'", "code_version = 'x'", "inputs_digest = 'x'"):
        with pytest.raises(DatabaseError, match="Cannot update"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"UPDATE labrecords_analysis SET {change}")  # noqa: S608
    assert run.analyses.get(is_current=True).content["statistics"]
