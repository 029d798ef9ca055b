"""The page of an issued report, and the file that it hands out."""

import pytest
from django.urls import reverse

from labrecords.actions import assessments, batches
from labrecords.reports import certificate, qualification
from labrecords.reports.qualification import package, verification
from tests.factories import issue_report, make_person, make_shedding_criteria, make_tested_batch, sign


@pytest.fixture
def tested(person):
    return make_tested_batch(person, n=3, drops=4), make_shedding_criteria(person)


def test_page_lists_what_is_attached_and_how_to_verify_it(page, tested):
    made = issue_report(*tested)
    text = page.get(reverse("qualification", args=[made.report_number])).text
    for name, what in package.ABOUT.items():
        assert f"<code>{name}</code>" in text
        assert what in text
    assert "manage.py verify_report FILE.pdf" in text
    (known,) = {certificate.fingerprint(row) for row in certificate.known()}
    assert known in text
    assert made.evidence["report"]["certificate"]["fingerprint"] == known


def test_a_report_of_before_the_seal_promises_no_attachments(page, tested):
    made = issue_report(*tested, render=lambda evidence: b"%PDF-1.4 unsealed")
    text = page.get(reverse("qualification", args=[made.report_number])).text
    assert made.sha256 in text
    assert "Attached to the file" not in text
    assert "verify_report" not in text


@pytest.mark.parametrize("address", ["qualification-file", "/api/qualifications/{}/file/"])
def test_the_file_that_is_handed_out_verifies(address, page, tested):
    made = issue_report(*tested)
    url = address.format(made.report_number) if "/" in address else reverse(address, args=[made.report_number])
    answer = page.get(url)
    known = {certificate.fingerprint(row) for row in certificate.known()}
    found = verification.verify(answer.content, "copy", fingerprints=known)
    assert [item for item in found.findings if not item.agrees] == []
    assert (found.report, found.sealer_known) == (made.report_number, True)


def test_page_tells_when_the_records_have_changed_since(page, tested, person):
    batch, criteria = tested
    made = issue_report(batch, criteria)
    address = reverse("qualification", args=[made.report_number])
    assert "The records have changed since" not in page.get(address).text
    batches.amend(by=person, batch=batch, sampling="each third coupon of the sheet", why="it was forgotten")
    text = page.get(address).text
    assert "The records have changed since:</strong> batch" in text
    batch.refresh_from_db()
    issue_report(batch, criteria)  # a further report is no change of the records
    assert page.get(address).text.count("changed since:</strong> batch.") == 1


def test_page_shows_the_signatures_of_the_issued_version_only(page, tested, person):
    batch, criteria = tested
    way = assessments.prepare(by=person, batch=batch, criterion_revision=criteria)
    way = sign(way, person, make_person(), make_person(), until="complete")
    batches.amend(by=person, batch=batch, sampling="each third coupon of the sheet", why="it was forgotten")
    way.refresh_from_db()
    way = assessments.prepare_again(by=person, assessment=way, why="the plan was added")
    made = qualification.issue(by=make_person(), assessment=sign(way, person, make_person(), make_person()))
    assert way.signatures.count() == 4
    shown = page.get(reverse("qualification", args=[made.report_number])).context["signatures"]
    assert [row.signature.version for row in shown] == [2, 2, 2]
