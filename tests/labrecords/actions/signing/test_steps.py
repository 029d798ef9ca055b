"""Each step by whom it is due, with the password, under content that is on record."""

import hashlib
import json
import logging
from datetime import timedelta

import pytest
from django.conf import settings
from django.db import connection
from django.http import HttpRequest
from django.utils import timezone

from labrecords import trail
from labrecords.actions import assessments, coupons, liquids, people, runs, signing
from labrecords.errors import (
    NotAllowed,
    NotFromThisState,
    NothingToJudge,
    OnItsWay,
    PreparedAnew,
    ReasonMissing,
    RecordsChanged,
    SigningRefused,
    TooManyAttempts,
    ValueRefused,
)
from labrecords.models import Assessment, AssessmentVersion, Qualification, Signature, TestRun
from labrecords.models.assessment import STATES
from tests.factories import (
    PASSWORD,
    make_person,
    sign,
)
from tests.labrecords.actions.signing.bench import brought_to, correct, file_of, take

pytestmark = pytest.mark.django_db


def test_way_from_draft_to_report(author, reviewer, quality, assessment):
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        before = cursor.fetchone()[0]
    assert (assessment.state, assessment.version) == ("draft", 1)
    states = []
    for step, by in {"complete": author, "review": reviewer, "approve": quality}.items():
        assessment = take(step, by, assessment)
        states.append(assessment.state)
    assert states == ["complete", "reviewed", "approved"]
    report = assessments.issue(by=quality, assessment=assessment, render=file_of)
    assessment.refresh_from_db()
    assert (assessment.state, assessment.report) == ("issued", report)
    given = list(assessment.signatures.all())
    assert [(row.meaning, row.printed_name, row.role, row.version) for row in given] == [
        ("author", author.full_name, "developer", 1),
        ("review", reviewer.full_name, "reviewer", 1),
        ("approval", quality.full_name, "quality", 1),
    ]
    moments = [before, *[row.signed_at for row in given]]
    assert moments == sorted(moments)
    assert moments[-1] - before < timedelta(minutes=1)
    assert [row.is_valid for row in signing.verify(assessment)] == [True] * 3
    assert signing.findings(assessment) == signing.broken_signatures() == []


def test_content_is_hashed_as_anybody_can_repeat(assessment):
    """independent: json and hashlib on what the database gives back."""
    kept = AssessmentVersion.objects.get()
    text = json.dumps(kept.evidence, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    assert kept.content_sha256 == hashlib.sha256(text.encode()).hexdigest()


def test_report_says_what_was_signed_and_who_signed_it(assessment, quality):
    report = assessments.issue(by=quality, assessment=sign(assessment), render=file_of)
    kept = assessment.content
    without = {name: value for name, value in report.evidence.items() if name != "report"}
    assert without == {name: value for name, value in kept.evidence.items() if name != "report"}
    told = report.evidence["report"]
    assert (told["content_sha256"], told["version"], told["assessment"]) == (kept.content_sha256, 1, assessment.pk)
    assert {row["meaning"]: (row["name"], row["digest"]) for row in told["signatures"]} == {
        row.meaning: (row.printed_name, row.digest) for row in assessment.signatures.all()
    }


STEPS = {
    "complete": ("draft", "developer"),
    "review": ("complete", "reviewer"),
    "approve": ("reviewed", "quality"),
    "issue": ("approved", "quality"),
}


@pytest.mark.parametrize("state", STATES)
def test_no_step_is_skipped_or_taken_twice(state, assessment):
    assessment = brought_to(state, assessment)
    for step, (needed, role) in STEPS.items():
        if state == needed:
            continue
        details = {"render": file_of} if step == "issue" else {"version": 1, "password": PASSWORD}
        with pytest.raises(NotFromThisState, match=f"is {state}; it cannot become"):
            getattr(assessments, step)(by=make_person(role), assessment=assessment, **details)
    assessment.refresh_from_db()
    assert assessment.state == state


@pytest.mark.parametrize("state", ["issued", "withdrawn"])
def test_end_of_the_way_is_the_end(state, assessment, quality):
    assessment = brought_to(state, assessment)
    for step in (assessments.withdraw, assessments.prepare_again):
        with pytest.raises(NotFromThisState):
            step(by=quality, why="once more", assessment=assessment)


@pytest.mark.parametrize(("step", "roles"), [
    ("complete", ["operator", "administrator"]),
    ("review", ["operator", "developer", "administrator"]),
    ("approve", ["operator", "developer", "reviewer", "administrator"]),
])  # fmt: skip
def test_step_is_open_to_its_roles_only(step, roles, assessment):
    assessment = brought_to(STEPS[step][0], assessment)
    for role in roles:
        with pytest.raises(NotAllowed):
            take(step, make_person(role), assessment)
    assert take(step, make_person("quality"), assessment)


@pytest.mark.parametrize("role", ["operator", "developer", "reviewer", "administrator"])
def test_only_quality_issues_what_is_approved(role, assessment):
    assessment = sign(assessment)
    with pytest.raises(NotAllowed):
        assessments.issue(by=make_person(role), assessment=assessment, render=file_of)
    assert not Qualification.objects.exists()


def test_author_neither_reviews_nor_approves(quality, assessment):
    assessment = take("complete", quality, assessment)
    with pytest.raises(ValueRefused, match="signed this content as author; another person"):
        take("review", quality, assessment)
    assessment = take("review", make_person("reviewer"), assessment)
    with pytest.raises(ValueRefused, match="signed this content as author; another person"):
        take("approve", quality, assessment)
    assert assessment.signatures.count() == 2


def test_reviewer_may_approve_where_the_role_allows_it(quality, assessment):
    assessment = take("review", quality, sign(assessment, until="complete"))
    assert take("approve", quality, assessment).state == "approved"


def test_batch_is_on_its_way_once(author, assessment):
    again = {"by": author, "batch": assessment.batch, "criterion_revision": assessment.criterion_revision}
    with pytest.raises(OnItsWay, match=f"already: assessment {assessment.pk}, draft"):
        assessments.prepare(**again)
    assessments.withdraw(by=author, why="begun by mistake", assessment=assessment)
    assert assessments.prepare(**again).pk != assessment.pk


def test_waiting_is_shown_to_those_who_may_take_the_step(author, reviewer, quality, assessment):
    def waits():
        return [bool(assessments.waiting_for(person)) for person in (author, reviewer, quality)]

    assert waits() == [True, False, False]  # a draft is its author's own
    assessment = take("complete", author, assessment)
    assert waits() == [False, True, True]
    assessment = take("review", reviewer, assessment)
    assert waits() == [False, False, True]
    take("approve", quality, assessment)
    assert waits() == [False, False, True]


@pytest.mark.parametrize("step", STEPS)
def test_content_that_the_records_have_overtaken_is_not_signed_nor_issued(step, author, assessment):
    assessment = brought_to(STEPS[step][0], assessment)
    correct(author)
    details = {"render": file_of} if step == "issue" else {"version": 1, "password": PASSWORD}
    with pytest.raises(RecordsChanged, match=r"differs in: .*runs.*Prepare it again"):
        getattr(assessments, step)(by=make_person(), assessment=assessment, **details)
    assert assessment.signatures.count() == list(STEPS).index(step)
    assert not Qualification.objects.exists()


def test_run_opened_meanwhile_is_named(author, assessment):
    run = TestRun.objects.first()
    runs.reopen(by=author, why="one drop more", run=run)
    with pytest.raises(NothingToJudge, match=run.code):
        take("complete", author, assessment)


def test_property_noted_meanwhile_counts_as_a_change(author, assessment):
    lot = TestRun.objects.first().liquid_lot
    liquids.add_property(by=author, liquid_lot=lot, quantity="surface_tension", value=60, source="later")
    with pytest.raises(RecordsChanged, match="liquids"):
        take("complete", author, assessment)


def test_coupon_that_goes_on_in_its_life_is_no_change_of_the_content(author, assessment):
    coupon = assessment.batch.members.first().coupon
    coupons.move(by=author, why="kept", coupon=coupon, state="retained")
    assert take("complete", author, assessment).state == "complete"


def test_content_prepared_again_is_a_new_version_that_nobody_has_signed(author, assessment):
    assessment = sign(assessment)
    correct(author)
    with pytest.raises(ReasonMissing):
        assessments.prepare_again(by=author, assessment=assessment)
    assessment = assessments.prepare_again(by=author, why="reading corrected", assessment=assessment)
    assert (assessment.state, assessment.version) == ("draft", 2)
    assert [row.number for row in assessment.versions.all()] == [1, 2]
    checked = signing.verify(assessment)
    assert [(row.signature.version, row.is_valid, row.counts) for row in checked] == [(1, True, False)] * 3
    with pytest.raises(NotFromThisState):
        assessments.issue(by=make_person(), assessment=assessment, render=file_of)
    report = assessments.issue(by=make_person(), assessment=sign(assessment), render=file_of)
    assert report.evidence["report"]["version"] == 2
    assert {row["version"] for row in report.evidence["report"]["signatures"]} == {2}
    assert signing.broken_signatures() == []


@pytest.mark.parametrize("seen", [1, 3, None])
def test_nobody_signs_another_version_than_was_looked_at(seen, author, assessment):
    assessments.prepare_again(by=author, why="deviation noted", assessment=assessment)
    with pytest.raises(PreparedAnew, match="is at version 2 now"):
        take("complete", author, assessment, version=seen)


@pytest.mark.parametrize("wrong", ["", "not it", PASSWORD.upper(), f"{PASSWORD} "])
def test_wrong_password_signs_nothing(wrong, author, assessment):
    with pytest.raises(SigningRefused, match=f"not the password of {author.full_name}") as refused:
        take("complete", author, assessment, password=wrong)
    assert refused.value.status == 403
    assert not Signature.objects.exists()
    assert Assessment.objects.get().state == "draft"


def test_nobody_signs_with_the_password_of_another(author, reviewer, assessment):
    with trail.recorded("tests", "a password of one's own"):
        reviewer.set_password("quite-another-one-7")
        reviewer.secret_set_at = timezone.now()
        reviewer.save()
    assessment = take("complete", author, assessment)
    with pytest.raises(SigningRefused):
        take("review", reviewer, assessment)


def test_disabled_person_does_not_sign(author, assessment):
    people.disable(by=make_person("administrator"), why="has left", person=author)
    with pytest.raises(NotAllowed):
        take("complete", author, assessment)


def test_role_is_asked_before_the_password(assessment):
    with pytest.raises(NotAllowed):
        take("complete", make_person("operator"), assessment, password="guessed")


def test_password_goes_nowhere_but_to_the_check(author, assessment, caplog):
    """Neither trail nor log nor any row of any table holds it."""
    caplog.set_level(logging.DEBUG)
    take("complete", author, assessment)
    with pytest.raises(SigningRefused) as refused:
        take("review", make_person("reviewer"), assessment, password="secret-that-is-wrong")
    assert "secret" not in str(refused.value)
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            for secret in (PASSWORD, "secret-that-is-wrong"):
                # Only names of this database's own tables are put into the text.
                sql = f'SELECT count(*) FROM "{table}" row WHERE row::text LIKE %s'  # noqa: S608
                cursor.execute(sql, [f"%{secret}%"])
                assert cursor.fetchone()[0] == 0, table
    logged = " ".join(record.getMessage() for record in caplog.records if record.name != "django.db.backends")
    assert PASSWORD not in logged
    assert "secret-that-is-wrong" not in logged


@pytest.mark.parametrize("request_of", [HttpRequest, lambda: None], ids=["request", "command"])
def test_failed_attempts_count_and_then_even_the_right_password_signs_nothing(request_of, author, assessment):
    for _ in range(settings.AXES_FAILURE_LIMIT):
        with pytest.raises(SigningRefused):
            take("complete", author, assessment, password="guessed", request=request_of())
    with pytest.raises(TooManyAttempts) as refused:
        take("complete", author, assessment, request=request_of())
    assert refused.value.status == 429
    other = make_person("developer")  # throttled is the one whose password was guessed
    assert take("complete", other, assessment, request=request_of()).state == "complete"
