"""What a report prints of its signatures, of the report that it amends, and of limits that were fixed late."""

import io
import re
from datetime import date, timedelta

import pytest
from django.utils import timezone
from pypdf import PdfReader

from labrecords.actions import assessments, qualifications
from labrecords.reports import qualification
from tests.factories import issue_report, make_criteria, make_person, make_tested_batch, sign

pytestmark = pytest.mark.django_db


@pytest.fixture
def author():
    return make_person("developer", full_name="Ann Author")


@pytest.fixture
def quality():
    return make_person("quality", full_name="Quin Approver")


@pytest.fixture
def batch(quality):
    return make_tested_batch(quality, n=1, drops=1, control=False)


def sheets_of(file):
    return [re.sub(r"\s+", " ", sheet.extract_text()) for sheet in PdfReader(io.BytesIO(bytes(file))).pages]


def test_each_signature_is_printed_with_name_role_time_and_meaning(batch, author, quality):
    """Statement 11 (11.50): as on record, not as given to the renderer."""
    reviewer = make_person("reviewer", full_name="Rob Reviewer")
    report = issue_report(batch, make_criteria(quality), author=author, reviewer=reviewer, approver=quality)
    sheets = sheets_of(report.file)
    text = " ".join(sheets)
    told = text[text.index("Signed as Name Role Date and time Digest of the signature") :]
    for row in report.assessment.signatures.all():
        when = f"{timezone.localtime(row.signed_at):%Y-%m-%d %H:%M}"
        assert re.search(f"{row.printed_name} {row.role} {when}", told), row
        assert row.digest in told.replace(" ", "")
    words = ["Author: the content is complete", "Review: checked by another person", "Approval: authorised for issue"]
    assert [told.index(word) for word in words] == sorted(told.index(word) for word in words)
    assert "Authorised by Quin Approver, quality" in sheets[0]
    assert report.assessment.content.content_sha256 in text.replace(" ", "")


def test_who_issues_beside_the_approver_is_named(batch, author, quality):
    other = make_person("quality", full_name="Ida Issuer")
    way = assessments.prepare(by=author, batch=batch, criterion_revision=make_criteria(quality))
    report = qualification.issue(by=other, assessment=sign(way, author=author, approver=quality))
    assert "Authorised by Quin Approver, quality; issued by Ida Issuer, quality" in sheets_of(report.file)[0]


def test_head_of_the_record_chain_is_printed(batch, author, quality, monkeypatch):
    head = {"number": 4711, "hash": "ab" * 32, "at": "2026-03-02 09:00"}
    monkeypatch.setattr(assessments.chain, "head", lambda: head)
    report = issue_report(batch, make_criteria(quality), author=author, approver=quality)
    assert report.evidence["report"]["chain"] == head
    text = " ".join(sheets_of(report.file))
    assert f"Record chain head at issue: number 4711, 2026-03-02 09:00, SHA-256 {'ab' * 32}" in text


@pytest.mark.parametrize(("kind", "words"), [
    ("amends", "Amendment to report"), ("replaces", "New report in place of report"),
])  # fmt: skip
def test_amendment_names_the_report_and_why_on_its_first_page(kind, words, batch, author, quality):
    """ISO/IEC 17025:2017, 7.8.8.2 and 7.8.8.3."""
    first = issue_report(batch, make_criteria(quality), author=author, approver=quality)
    new = issue_report(
        batch, first.criterion_revision, author=author, approver=quality, amends=first, amendment=kind,
        amendment_reason="The name <b>of</b> the customer was misspelt.",
    )  # fmt: skip
    cover = sheets_of(new.file)[0]
    assert f"{words} {first.report_number} " in cover
    assert "The name <b>of</b> the customer was misspelt." in cover
    assert f"Report number {new.report_number}" in cover
    assert words not in sheets_of(first.file)[0]


def test_draft_is_the_report_but_for_its_mark_number_and_date(batch, author, quality):
    way = sign(assessments.prepare(by=author, batch=batch, criterion_revision=make_criteria(quality)), author=author)
    draft = sheets_of(qualification.draft(way))
    report = qualification.issue(by=quality, assessment=way)
    issued = sheets_of(report.file)
    # What the issue adds to the last section, seal and head of the chain, may run over onto one more page.
    assert len(issued) - len(draft) in (0, 1)
    assert not any("DRAFT" in sheet for sheet in issued)
    plain = [sheet.replace("DRAFT, NOT ISSUED", "").strip() for sheet in draft]
    # Pages between cover and authorisation hold neither number nor date but in their head and foot.
    for before, after in zip(plain[1:-3], issued[1 : len(plain) - 3], strict=True):
        assert before.replace("DRAFT", "").split()[:60] == after.replace(report.report_number, "").split()[:60]


FIXED = [
    # fixed on, from the day of the first run; entered before or after it; what stands under deviations
    (timedelta(days=-1), "before", []),
    (timedelta(days=1), "before", ["was fixed on"]),
    (timedelta(days=-1), "after", ["was entered on"]),
    (timedelta(days=1), "after", ["was fixed on", "was entered on"]),
]


@pytest.mark.parametrize(("fixed", "entered", "told"), FIXED)
def test_limits_fixed_or_entered_after_the_first_run_are_a_deviation_and_stand_on_the_cover(
    fixed, entered, told, quality, author
):
    """Hand: dated before the first run by both days, or the report says so (first page and deviations)."""
    today = timezone.localdate()
    revision = make_criteria(quality, fixed_on=today + fixed) if entered == "before" else None
    read_at = timezone.now() - timedelta(minutes=2 if entered == "after" else 0)
    batch = make_tested_batch(quality, n=1, drops=1, control=False, read_at=read_at)
    if revision is None:
        revision = make_criteria(quality, fixed_on=today + fixed)
    found = [row["what"] for row in qualifications.assemble(batch, revision)["deviations"]]
    for words in ("was fixed on", "was entered on"):
        assert any(words in what for what in found) is (words in told), found
    report = issue_report(batch, revision, author=author, approver=quality)
    cover = sheets_of(report.file)[0]
    assert (" (after the first test)" in cover) is ("was fixed on" in told)
    assert (", after the first test" in cover) is ("was entered on" in told)


def test_limits_entered_after_runs_of_long_ago_are_a_deviation(batch, quality):
    """Both were entered today, the runs were made months ago: only the stated day says that the limits came first."""
    revision = make_criteria(quality, fixed_on=date(2026, 1, 1))
    found = [row["what"] for row in qualifications.assemble(batch, revision)["deviations"]]
    assert any("was entered on" in what for what in found)
    assert not any("was fixed on" in what for what in found)
