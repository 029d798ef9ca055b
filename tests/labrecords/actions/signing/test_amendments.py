"""A report is amended or replaced by another, with its own number and the reason."""

import pytest

from labrecords.actions import assessments, signing
from labrecords.errors import (
    ValueRefused,
)
from labrecords.models import Qualification
from tests.factories import (
    issue_report,
    make_criteria,
    make_tested_batch,
)
from tests.labrecords.actions.signing.bench import as_owner, file_of

pytestmark = pytest.mark.django_db


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
