"""What was altered after it was signed shows."""

import pytest

from labrecords import trail
from labrecords.actions import assessments, signing
from labrecords.models import Assessment
from tests.factories import (
    make_criteria,
    sign,
)
from tests.labrecords.actions.signing.bench import as_owner, file_of, undone

pytestmark = pytest.mark.django_db


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
