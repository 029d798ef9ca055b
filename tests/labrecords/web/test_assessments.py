"""Pages of an assessment: what is to be signed, by whom, each step as one button, and what does not fit."""

import io

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from labrecords.actions import assessments
from labrecords.models import Assessment, Qualification, Signature
from tests.factories import PASSWORD, issue_report, make_criteria, make_person, sign
from tests.labrecords.actions.signing.bench import as_owner, correct
from tests.labrecords.web.test_batches import read_batch

pytestmark = pytest.mark.django_db


def client_of(person):
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def author():
    return make_person("developer", full_name="Ann Author")


@pytest.fixture
def assessment(person, author):
    return assessments.prepare(by=author, batch=read_batch(person), criterion_revision=make_criteria(person))


def shown(client, assessment, name="assessment"):
    return client.get(reverse(name, args=[assessment.pk]))


def press(client, assessment, step, **said):
    return client.post(reverse(f"assessment-{step}", args=[assessment.pk]), {"version": assessment.version} | said)


def test_each_step_is_one_button_for_the_person_who_may(person, author, assessment):
    reviewer = make_person("reviewer", full_name="Rob Reviewer")
    people = {"author": (author, "complete"), "reviewer": (reviewer, "review"), "approver": (person, "approve")}
    for role, (by, step) in people.items():
        button = f"<button>Sign as {role}</button>"
        text = shown(client_of(by), assessment).text
        assert button in text
        assert "Your password, once again" in text
        assert button not in shown(client_of(make_person("operator")), assessment).text
        answer = press(client_of(by), assessment, step, password=PASSWORD)
        assert answer.url == reverse("assessment", args=[assessment.pk])
    text = shown(client_of(author), assessment).text
    assert all(name in text for name in ("Ann Author", "Rob Reviewer", person.full_name))
    assert text.count(">valid</span>") == 3
    issued = press(client_of(person), assessment, "issue")
    made = Qualification.objects.get()
    assert issued.url == reverse("qualification", args=[made.report_number])
    text = client_of(author).get(issued.url).text
    assert text.count(">valid</span>") == 3


def test_who_may_not_is_told_who_may(person, author, assessment):
    sign(assessment, author=author, until="complete")
    text = shown(client_of(author), assessment).text
    assert "you signed it as author: another person takes this step" in text or "not open to your role" in text
    assert person.full_name in text
    own = sign(assessments.prepare(by=person, batch=assessment.batch, criterion_revision=make_criteria(person)),
               author=person, until="complete")  # fmt: skip
    assert "you signed it as author: another person takes this step" in shown(client_of(person), own).text


def test_wrong_password_is_told_at_its_field_and_not_shown_again(author, assessment):
    answer = press(client_of(author), assessment, "complete", password="secret-that-is-wrong")
    assert answer.status_code == 403
    assert "this is not the password of Ann Author" in answer.text
    assert "secret-that-is-wrong" not in answer.text
    assert not Signature.objects.exists()


@pytest.mark.parametrize(("step", "status"), [("review", 409), ("approve", 409), ("issue", 409)])
def test_step_that_is_not_due_is_refused_by_direct_request_too(step, status, person, assessment):
    answer = press(client_of(person), assessment, step, password=PASSWORD)
    assert answer.status_code == status
    assert "it cannot become" in answer.text
    assert Assessment.objects.get().state == "draft"


@pytest.mark.parametrize("version", ["", "7", "x"])
def test_version_that_was_not_looked_at_is_refused(version, author, assessment):
    answer = press(client_of(author), assessment, "complete", password=PASSWORD, version=version)
    assert answer.status_code in (400, 409)
    assert not Signature.objects.exists()


def test_changed_records_are_told_and_prepared_again(person, author, assessment):
    correct(person, value="29")
    refused = press(client_of(author), assessment, "complete", password=PASSWORD)
    assert refused.status_code == 409
    assert "Prepare it again" in refused.text
    missing = press(client_of(author), assessment, "prepare-again")
    assert (missing.status_code, "Say why" in missing.text) == (400, True)
    done = press(client_of(author), assessment, "prepare-again", why="a reading was corrected")
    assert done.status_code == 302
    assessment.refresh_from_db()
    assert (assessment.version, assessment.state) == (2, "draft")
    assert press(client_of(author), assessment, "complete", password=PASSWORD).status_code == 302


def test_withdrawn_is_shown_with_its_reason_and_offers_nothing(person, author, assessment):
    press(client_of(author), assessment, "withdraw", why="another batch was meant")
    text = shown(client_of(person), assessment).text
    assert "Withdrawn" in text
    assert "another batch was meant" in text
    assert "<button>" not in text.partition("<main")[2]


def test_draft_is_marked_on_every_page_and_has_no_number(person, author, assessment):
    sign(assessment, author=author, until="complete")
    answer = shown(client_of(person), assessment, "assessment-draft")
    assert answer["Content-Disposition"] == f'attachment; filename="draft-assessment-{assessment.pk}-version-1.pdf"'
    sheets = [sheet.extract_text() for sheet in PdfReader(io.BytesIO(answer.content)).pages]
    assert len(sheets) > 2
    assert all("DRAFT, NOT ISSUED" in sheet for sheet in sheets)
    assert not any("QR-" in sheet for sheet in sheets)
    assert "Ann Author" in " ".join(sheets)
    assert not Qualification.objects.exists()


def test_altered_content_or_signature_shows_as_invalid_on_both_pages(person, author, assessment):
    report = issue_report(assessment.batch, make_criteria(person), author=author, approver=person)
    way, page = report.assessment, client_of(person)
    addresses = [reverse("assessment", args=[way.pk]), reverse("qualification", args=[report.report_number])]
    assert all(">invalid</span>" not in page.get(address).text for address in addresses)
    as_owner(
        "UPDATE labrecords_signature SET printed_name = 'Somebody' WHERE meaning = 'review' AND assessment_id = %s",
        way.pk,
    )
    for address in addresses:
        text = page.get(address).text
        assert text.count(">invalid</span>") == 1
        assert "“Somebody” stands there" in text
    as_owner(
        "UPDATE labrecords_assessmentversion SET evidence = jsonb_set(evidence, '{batch,title}', '\"X\"') "
        "WHERE assessment_id = %s",
        way.pk,
    )
    for address in addresses:
        text = page.get(address).text
        assert text.count(">invalid</span>") == 3
        assert "content of version 1 was changed" in text
    assert "do not fit together" in page.get(addresses[1]).text


def test_amendment_from_the_page_of_the_report_to_superseded(page, person, author, assessment):
    report = issue_report(assessment.batch, make_criteria(person), author=author, approver=person)
    before = bytes(report.file)
    text = page.get(reverse("qualification", args=[report.report_number])).text
    address = f"{reverse('qualify', args=[report.batch.code])}?specification={report.criterion_revision_id}"
    assert f"{address}&amp;amends={report.report_number}".replace("&amp;", "&") in text.replace("&amp;", "&")
    form = page.get(address, {"specification": report.criterion_revision_id, "amends": report.report_number}).text
    assert "What changes and why" in form
    said = {"specification": report.criterion_revision_id, "amends": report.report_number, "amendment": "replaces"}
    refused = page.post(reverse("qualify", args=[report.batch.code]), said)
    assert refused.status_code == 400
    assert "is missing; the new report prints it" in refused.text
    said["amendment_reason"] = "The customer’s name was misspelt."
    made = page.post(reverse("qualify", args=[report.batch.code]), said)
    way = Assessment.objects.get(amends=report)
    assert made.url == reverse("assessment", args=[way.pk])
    sign(way, author=author, approver=person)
    press(page, way, "issue")
    new = Qualification.objects.get(amends=report)
    text = page.get(reverse("qualification", args=[report.report_number])).text
    assert "Superseded" in text
    assert new.report_number in text
    assert "The customer’s name was misspelt." in text
    assert "Amend or replace" not in text
    for name, arguments in (("qualifications", []), ("batch", [report.batch.code]), ("today", [])):
        assert f"superseded by {new.report_number}" in page.get(reverse(name, args=arguments)).text
    file = page.get(reverse("qualification-file", args=[report.report_number]))
    assert file.content == before


def test_today_and_lists_show_what_waits_for_me(person, author, assessment):
    address = reverse("assessment", args=[assessment.pk])

    def waits(by):
        return address in client_of(by).get(reverse("today")).text

    assert [waits(author), waits(person)] == [True, False]
    sign(assessment, author=author, until="complete")
    assert [waits(author), waits(person)] == [False, True]
    for name, arguments in (("qualifications", []), ("batch", [assessment.batch.code])):
        assert address in client_of(author).get(reverse(name, args=arguments)).text


def test_queries_of_the_page_do_not_grow_with_people(person, assessment, queries_of):
    address = reverse("assessment", args=[assessment.pk])
    before = queries_of(client_of(person), [address])
    for _ in range(4):
        make_person("reviewer")
    assert queries_of(client_of(person), [address]) == before


def test_unknown_assessment_is_not_there(page):
    for number in ("999999", "9" * 30):
        assert page.get(f"/assessments/{number}/").status_code == 404
        assert page.post(f"/assessments/{number}/issue/", {"version": "1"}).status_code == 404
    assert page.get("/assessments/1/issue/").status_code == 405
