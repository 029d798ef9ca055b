"""What the database holds of the way to a report, past all Python."""

import hashlib
from datetime import timedelta

import pytest
from django.db import DatabaseError
from django.utils import timezone

from labrecords import trail
from labrecords.actions import assessments, people, signing
from labrecords.errors import (
    SignatureBroken,
)
from labrecords.models import Assessment, Qualification, Signature
from labrecords.models.assessment import OPEN, STATES, STEP_OF
from tests.factories import (
    make_criteria,
    make_person,
    make_tested_batch,
    sign,
)
from tests.labrecords.actions.signing.bench import as_owner, attempt, brought_to, file_of, undone

pytestmark = pytest.mark.django_db


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
    for column in ("batch_id = 0", "criterion_revision_id = 0", "amendment_reason = 'x'", "created_by_id = 0"):
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
