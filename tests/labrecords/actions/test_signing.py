"""Signing: each step by whom it is due, with the password, under content that is on record; what is altered shows."""

import hashlib
import json
import logging
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.conf import settings
from django.db import DatabaseError, connection, transaction
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
    SignatureBroken,
    SigningRefused,
    TooManyAttempts,
    ValueRefused,
)
from labrecords.models import Assessment, AssessmentVersion, Qualification, Signature, TestRun
from labrecords.models.assessment import OPEN, STATES, STEP_OF
from tests.factories import (
    PASSWORD,
    issue_report,
    make_criteria,
    make_person,
    make_tested_batch,
    sign,
    sliding,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def author():
    return make_person("developer", full_name="Ann “O’Thor” Ωmega")


@pytest.fixture
def reviewer():
    return make_person("reviewer")


@pytest.fixture
def quality():
    return make_person("quality")


@pytest.fixture
def batch(quality):
    return make_tested_batch(quality, n=1, drops=1, control=False)


@pytest.fixture
def assessment(author, batch):
    return assessments.prepare(by=author, batch=batch, criterion_revision=make_criteria(author))


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


# ---- the way ---------------------------------------------------------------------------------------------------


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


# ---- changed after it was prepared -----------------------------------------------------------------------------


def correct(by, value="28"):
    run = TestRun.objects.filter(method_version__method="sliding_angle").first()
    return runs.record(by=by, run=run, readings=sliding([value]), why="misread the scale")


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


# ---- the password ----------------------------------------------------------------------------------------------


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


# ---- what the database holds -----------------------------------------------------------------------------------


def attempt(sql, *values, match):
    with pytest.raises(DatabaseError, match=match), trail.recorded("tests", "an attempt"):  # noqa: SIM117
        with connection.cursor() as cursor:
            cursor.execute(sql, values)


@pytest.mark.parametrize("before", STATES)
def test_database_refuses_every_jump(before, assessment, subtests):
    """Also a step in its order, without the signature or the report that makes it. Only withdrawing needs neither."""
    brought_to(before, assessment)
    for after in STATES:
        if after == before or (after == "withdrawn" and before in OPEN):
            continue
        with subtests.test(after):
            attempt("UPDATE labrecords_assessment SET state = %s", after, match="assessment|version|report")
            assert Assessment.objects.get().state == before


def test_database_refuses_a_version_by_hand(assessment):
    for version in (0, 5):
        attempt("UPDATE labrecords_assessment SET version = %s", version, match="the next one")
    assessment = sign(assessment, until="complete")
    attempt("UPDATE labrecords_assessment SET version = 2", match="the next one")
    attempt("UPDATE labrecords_assessment SET version = 3, state = 'draft'", match="the next one")


@pytest.mark.parametrize("state", ["draft", "complete", "issued"])
def test_database_refuses_other_content(state, assessment, subtests):
    brought_to(state, assessment)
    for column in ("evidence = '{}'", "content_sha256 = 'x'", "verdict = 'fail'", "number = 7"):
        with subtests.test(column):
            attempt(f"UPDATE labrecords_assessmentversion SET {column}", match="Cannot update")  # noqa: S608


def test_database_refuses_content_beside_the_draft(author, assessment):
    kept, assessment = assessment.content, sign(assessment, until="complete")
    for number in (1, 2):
        kept.pk, kept.number, kept._state.adding = None, number, True
        with pytest.raises(DatabaseError, match="with the draft of its version only"), trail.recorded("x", "beside"):
            kept.save()


def test_database_refuses_to_change_what_it_is_about(assessment, subtests):
    for column in ("batch_id = 99", "criterion_revision_id = 99", "amendment_reason = 'x'", "created_by_id = 99"):
        with subtests.test(column):
            attempt(f"UPDATE labrecords_assessment SET {column}", match="Cannot update")  # noqa: S608


def forge(assessment, person, meaning, **fields):
    """A signature put straight into its table, with whatever the forger likes to have in it."""
    with trail.recorded("tests", "a forgery"):
        return Signature.objects.create(
            assessment=assessment, person=person, meaning=meaning, created_by=person, **fields
        )


@pytest.mark.parametrize("state", STATES)
def test_database_refuses_a_signature_out_of_its_order(state, assessment, subtests):
    assessment, person = brought_to(state, assessment), make_person()
    for meaning, (due, _) in STEP_OF.items():
        if due == state:
            continue
        with subtests.test(meaning), pytest.raises(DatabaseError, match="takes no signature as"):
            forge(assessment, person, meaning)


@pytest.mark.parametrize(("until", "meaning"), [("complete", "review"), ("review", "approval")])
def test_database_refuses_the_author_as_second_person(until, meaning, author, assessment):
    assessment = sign(assessment, author=author, until=until)
    with pytest.raises(DatabaseError, match="neither reviews nor approves"):
        forge(assessment, author, meaning)


def test_database_refuses_the_signature_of_a_disabled_person(author, assessment):
    people.disable(by=make_person("administrator"), why="has left", person=author)
    with pytest.raises(DatabaseError, match="disabled person"):
        forge(assessment, author, "author")


def test_database_itself_says_who_signed_what_and_when(author, assessment):
    """Whatever is put into the row: name, role, time, version and digest are the database's."""
    from django.utils import timezone

    made = forge(
        assessment, author, "author", printed_name="Somebody Else", role="quality", username="x", version=9,
        signed_at=timezone.now() - timedelta(days=30), content_sha256="0" * 64, digest="0" * 64,
    )  # fmt: skip
    made.refresh_from_db()
    assert (made.printed_name, made.role, made.username) == (author.full_name, "developer", author.username)
    assert timezone.now() - made.signed_at < timedelta(minutes=1)
    assert (made.version, made.content_sha256) == (1, assessment.content.content_sha256)
    assert [row.faults for row in signing.verify(assessment)] == [()]


def test_signature_is_never_changed_or_deleted(assessment):
    sign(assessment, until="complete")
    attempt("UPDATE labrecords_signature SET printed_name = 'x'", match="Cannot update")
    attempt("DELETE FROM labrecords_signature", match="Cannot delete")


def report_row(signed, **fields):
    """A report put straight into its table, as the action would write it but for the fields."""
    file, kept = b"%PDF", signed.content
    details = {
        "report_number": "QR-26-0777",
        "batch": signed.batch,
        "criterion_revision": signed.criterion_revision,
        "assessment": signed,
        "verdict": kept.verdict,
        "outcomes": [],
        "evidence": kept.evidence,
        "issued_at": kept.created_at,
        "file": file,
        "sha256": hashlib.sha256(file).hexdigest(),
    } | fields
    person = make_person()
    with trail.recorded("tests", "a report by hand"):
        return Qualification.objects.create(issued_by=person, created_by=person, **details)


@pytest.mark.parametrize("state", [state for state in STATES if state not in ("approved", "issued")])
def test_database_refuses_a_report_of_what_is_not_approved(state, assessment):
    assessment = brought_to(state, assessment)
    with pytest.raises(DatabaseError, match="from an approved assessment only"):
        report_row(assessment)


def test_database_refuses_a_report_of_no_assessment_and_takes_one_of_an_approved(assessment):
    assessment = sign(assessment)
    with pytest.raises(DatabaseError, match="from an approved assessment only"):
        report_row(assessment, assessment=None)
    assert report_row(assessment).assessment == assessment


def test_database_refuses_a_report_that_says_something_else(assessment, subtests):
    assessment = sign(assessment)
    said, other = assessment.content.evidence, make_tested_batch(make_person(), n=1, drops=1, control=False)
    for change in (
        {"verdict": "fail" if assessment.content.verdict == "pass" else "pass"},
        {"evidence": said | {"runs": []}},
        {"evidence": said | {"report": {"amends": {"number": "QR-26-0001"}}}},
        {"criterion_revision": make_criteria(make_person())},
        {"batch": other},
    ):
        with (
            subtests.test(str(list(change))),
            pytest.raises(DatabaseError, match="says what was approved and nothing else"),
        ):
            report_row(assessment, **change)


def test_neither_database_nor_action_issues_on_a_broken_signature(quality, assessment, subtests):
    assessment = sign(assessment)
    for sql in (
        "UPDATE labrecords_signature SET digest = repeat('0', 64) WHERE meaning = 'review'",
        "UPDATE labrecords_signature SET printed_name = 'Somebody' WHERE meaning = 'author'",
        "UPDATE labrecords_signature SET content_sha256 = repeat('0', 64) WHERE meaning = 'author'",
        "UPDATE labrecords_signature SET version = 2 WHERE meaning = 'approval'",
        "DELETE FROM labrecords_signature WHERE meaning = 'review'",
    ):
        with subtests.test(sql), undone():
            as_owner(sql)
            with pytest.raises(DatabaseError, match="valid signatures of author, review and approval"):
                report_row(assessment)
            with pytest.raises(SignatureBroken, match=r"does not fit|is missing|other content"):
                assessments.issue(by=quality, assessment=assessment, render=file_of)


# ---- what was altered shows ------------------------------------------------------------------------------------

TAMPERED = {
    "one letter of the content": (
        "UPDATE labrecords_assessmentversion SET evidence = jsonb_set(evidence, '{batch,sampling}', '\"all of them\"')",
        "content of version 1 was changed",
    ),
    "one digit of a reading": (
        "UPDATE labrecords_assessmentversion SET evidence = jsonb_set(evidence, '{runs,0,readings,0,value}', '1.25')",
        "content of version 1 was changed",
    ),
    "content and its hash": (
        "UPDATE labrecords_assessmentversion SET content_sha256 = repeat('a', 64)",
        "other content was signed",
    ),
    "hash in the signature": (
        "UPDATE labrecords_signature SET content_sha256 = repeat('a', 64) WHERE meaning = 'review'",
        "other content was signed",
    ),
    "printed name": (
        "UPDATE labrecords_signature SET printed_name = 'Somebody Else' WHERE meaning = 'review'",
        "“Somebody Else” stands there",
    ),
    "role": ("UPDATE labrecords_signature SET role = 'quality' WHERE meaning = 'review'", "role was altered"),
    "meaning": (
        "UPDATE labrecords_signature SET meaning = 'approval', version = 9 WHERE meaning = 'review'",
        "signature as review is missing",
    ),
    "time": (
        "UPDATE labrecords_signature SET signed_at = signed_at - interval '1 microsecond' WHERE meaning = 'review'",
        "signed at was altered",
    ),
    "version": (
        "UPDATE labrecords_signature SET version = 2 WHERE meaning = 'review'",
        "version 2 of this assessment has no content",
    ),
    "person": (
        "UPDATE labrecords_signature SET person_id = (SELECT min(id) FROM labrecords_person), "
        "created_by_id = (SELECT min(id) FROM labrecords_person) WHERE meaning = 'review'",
        "its digest does not fit",
    ),
    "one digit of the digest": (
        "UPDATE labrecords_signature SET digest = translate(substr(digest, 1, 1), '0123456789abcdef', "
        "'123456789abcdef0') || substr(digest, 2) WHERE meaning = 'review'",
        "its digest does not fit",
    ),
    "taken away": ("DELETE FROM labrecords_signature WHERE meaning = 'review'", "signature as review is missing"),
    "content of the report": (
        "UPDATE labrecords_qualification SET evidence = jsonb_set(evidence, '{batch,title}', '\"another\"')",
        "its evidence is not what was signed",
    ),
    "name that the report prints": (
        "UPDATE labrecords_qualification SET evidence = jsonb_set(evidence, '{report,signatures,1,name}', '\"X\"')",
        "signature as review was altered",
    ),
}  # fmt: skip


def test_what_was_altered_is_found_and_named(quality, assessment, subtests):
    assessments.issue(by=quality, assessment=sign(assessment), render=file_of)
    for what, (sql, told) in TAMPERED.items():
        with subtests.test(what), undone():
            assert signing.broken_signatures() == []
            as_owner(sql)
            found = signing.broken_signatures()
            assert told in " ".join(found)
            assert found == signing.findings(Assessment.objects.get())


def test_signature_moved_to_another_assessment_is_invalid_there_and_missed_here(author, batch, quality):
    """The same batch, the same content, the same people: only the assessment is another."""
    first = assessments.prepare(by=author, batch=batch, criterion_revision=make_criteria(author))
    first = sign(first, until="complete")
    second = assessments.prepare(by=author, batch=batch, criterion_revision=make_criteria(author))
    assert signing.broken_signatures() == []
    as_owner("UPDATE labrecords_signature SET assessment_id = %s", second.pk)
    [moved] = signing.verify(second)
    assert not moved.is_valid
    assert any("moved here" in fault for fault in moved.faults)
    assert any("signature as author is missing" in sentence for sentence in signing.findings(first))
    assert len(signing.broken_signatures()) > 1


def test_signature_made_by_an_owner_with_a_digest_that_fits_is_missed_by_the_trail(author, reviewer, assessment):
    """Whoever can compute the digest still has no event in the trail, which the database writes itself."""
    assessment = sign(assessment, author=author, until="complete")
    as_owner(
        "INSERT INTO labrecords_signature (assessment_id, version, person_id, username, printed_name, role, meaning, "
        "signed_at, content_sha256, digest, created_by_id) SELECT assessment_id, version, %s, username, printed_name, "
        "role, 'review', signed_at, content_sha256, digest, %s FROM labrecords_signature",
        reviewer.pk,
        reviewer.pk,
    )
    assert "the trail does not know it" in " ".join(signing.broken_signatures())


def test_name_and_role_that_changed_since_do_not_make_a_signature_invalid(reviewer, assessment):
    """What is printed is who it was then."""
    sign(assessment, reviewer=reviewer)
    with trail.recorded("tests", "married, and promoted"):
        reviewer.full_name, reviewer.role = "Another Name", "quality"
        reviewer.save()
    assert signing.broken_signatures() == []


# ---- amendments ------------------------------------------------------------------------------------------------


@pytest.fixture
def report(batch, author):
    return issue_report(batch, make_criteria(author), author=author, render=file_of)


@pytest.mark.parametrize("kind", ["amends", "replaces"])
def test_amendment_has_its_own_number_and_names_the_report_and_why(kind, batch, report, author):
    before = bytes(report.file), report.sha256
    new = issue_report(
        batch, report.criterion_revision, author=author, amends=report, amendment=kind,
        amendment_reason="The customer’s name was misspelt.", render=file_of,
    )  # fmt: skip
    assert new.report_number != report.report_number
    assert new.evidence["report"]["amends"] | {"issued_at": ""} == {
        "number": report.report_number,
        "issued_at": "",
        "verdict": report.verdict,
        "sha256": report.sha256,
        "kind": kind,
        "reason": "The customer’s name was misspelt.",
    }
    report.refresh_from_db()
    assert report.successor == new
    assert new.successor is None
    assert (bytes(report.file), report.sha256) == before
    assert signing.broken_signatures() == []


def test_only_the_newest_report_of_a_line_of_the_same_batch_is_amended(batch, report, author):
    told = {"by": author, "amendment": "replaces", "amendment_reason": "a wrong name"}
    other = make_tested_batch(author, n=1, drops=1, control=False)
    with pytest.raises(ValueRefused, match="is not of batch"):
        assessments.prepare(batch=other, criterion_revision=make_criteria(author), amends=report, **told)
    details = {"amendment": "replaces", "amendment_reason": "a wrong name"}
    second = issue_report(batch, report.criterion_revision, author=author, amends=report, render=file_of, **details)
    with pytest.raises(ValueRefused, match=f"was amended by {second.report_number} already"):
        assessments.prepare(batch=batch, criterion_revision=report.criterion_revision, amends=report, **told)
    third = issue_report(batch, report.criterion_revision, author=author, amends=second, render=file_of, **details)
    assert [row.successor for row in (report, second, third)] == [second, third, None]


@pytest.mark.parametrize(("said", "field"), [
    ({"amendment": "", "amendment_reason": "x"}, "amendment"),
    ({"amendment": "corrects", "amendment_reason": "x"}, "amendment"),
    ({"amendment": "amends", "amendment_reason": "  "}, "amendment_reason"),
    ({"amendment": "amends", "amendment_reason": "x", "amends": None}, "amends"),
])  # fmt: skip
def test_amendment_says_kind_and_reason(said, field, batch, report, author):
    with pytest.raises(ValueRefused) as refused:
        assessments.prepare(
            by=author, batch=batch, criterion_revision=report.criterion_revision, **{"amends": report} | said
        )
    assert refused.value.field == field


def test_report_of_before_there_were_signatures_stays_valid_and_can_be_amended(batch, report, author):
    as_owner("UPDATE labrecords_qualification SET assessment_id = NULL WHERE id = %s", report.pk)
    old = Qualification.objects.get()
    new = issue_report(
        batch, report.criterion_revision, author=author, amends=old, amendment="amends", amendment_reason="x",
        render=file_of,
    )  # fmt: skip
    assert old.successor == new
