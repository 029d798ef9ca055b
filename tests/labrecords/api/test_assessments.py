"""The way to a report by requests: the same steps, refusals and words as on the pages."""

import io

import pytest
from pypdf import PdfReader

from labrecords.actions import assessments
from labrecords.models import Assessment, Qualification, Signature
from tests.factories import PASSWORD, issue_report, make_criteria, make_person, make_tested_batch, sign
from tests.labrecords.actions.signing.bench import as_owner
from tests.labrecords.api.conftest import Caller

pytestmark = pytest.mark.django_db


@pytest.fixture
def author(quality):
    return Caller(make_person("developer"))


@pytest.fixture
def batch(quality):
    return make_tested_batch(quality.person, n=1, drops=1, control=False)


@pytest.fixture
def way(author, batch):
    return assessments.prepare(by=author.person, batch=batch, criterion_revision=make_criteria(author.person))


def step(caller, way, name, **body):
    return caller.post(f"assessments/{way.pk}/{name}/", body)


def test_one_shows_what_is_to_be_signed_and_every_signature(quality, author, way):
    status, data = quality.get(f"assessments/{way.pk}/")
    assert (status, data["state"], data["next"]) == (200, "draft", "complete")
    assert (data["signatures"], data["report"]) == ([], None)
    kept = way.content
    assert (data["content_sha256"], data["verdict"]) == (kept.content_sha256, kept.verdict)
    assert data["outcomes"] == kept.evidence["judgement"]["outcomes"]
    assert data["deviations"] == kept.evidence["deviations"]
    status, data = step(author, way, "complete", version=1, password=PASSWORD)
    assert (status, data["state"], data["next"]) == (200, "complete", "review")
    [given] = data["signatures"]
    assert (given["is_valid"], given["counts"], given["faults"]) == (True, True, [])
    assert given["signature"]["printed_name"] == author.person.full_name
    assert given["signature"]["meaning"] == "author"
    assert "password" not in str(data)


@pytest.mark.parametrize(("name", "body", "status", "code"), [
    ("review", {"version": 1, "password": PASSWORD}, 409, "NotFromThisState"),
    ("approve", {"version": 1, "password": PASSWORD}, 409, "NotFromThisState"),
    ("issue", {}, 409, "NotFromThisState"),
    ("complete", {"version": 1, "password": "guessed"}, 403, "SigningRefused"),
    ("complete", {"version": 1, "password": ""}, 403, "SigningRefused"),
    ("complete", {"version": 2, "password": PASSWORD}, 409, "PreparedAnew"),
    ("complete", {"version": 1}, 400, "ValidationError"),
    ("complete", {"password": PASSWORD}, 400, "ValidationError"),
    ("complete", {"version": 1, "password": PASSWORD, "state": "approved"}, 400, "ValueRefused"),
    ("withdraw", {}, 400, "ReasonMissing"),
    ("prepare-again", {}, 400, "ReasonMissing"),
])  # fmt: skip
def test_refusals_leave_everything_as_it_was(name, body, status, code, quality, way):
    answered, data = step(quality, way, name, **body)
    assert (answered, data["code"]) == (status, code), data
    assert Assessment.objects.get().state == "draft"
    assert not Signature.objects.exists()


def test_state_and_signer_are_no_fields_of_a_request(quality, way):
    status, _ = quality.post(f"assessments/{way.pk}/", {"state": "approved"})
    assert status == 405
    answer = quality.client.patch(f"/api/assessments/{way.pk}/", {"state": "approved"}, format="json")
    assert answer.status_code == 405


def test_prepared_again_and_withdrawn_with_reasons(quality, way):
    status, data = step(quality, way, "prepare-again", why="a deviation was noted", version=1)
    assert (status, data["version"], data["state"]) == (200, 2, "draft")
    status, data = step(quality, way, "withdraw", why="another batch was meant")
    assert (status, data["state"], data["next"]) == (200, "withdrawn", "")
    _, history = quality.get(f"assessments/{way.pk}/history/")
    assert [line["why"] for line in history] == [
        "assessment prepared", "a deviation was noted", "another batch was meant",
    ]  # fmt: skip


def test_draft_file_is_marked(quality, way):
    answer = quality.client.get(f"/api/assessments/{way.pk}/draft/", HTTP_ACCEPT="application/pdf")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    sheets = PdfReader(io.BytesIO(answer.content)).pages
    assert all("DRAFT, NOT ISSUED" in sheet.extract_text() for sheet in sheets)


def test_superseded_report_says_by_which_and_stays(quality, author, batch):
    first = issue_report(batch, make_criteria(author.person), author=author.person, approver=quality.person)
    body = {"batch": batch.code, "criteria": first.criterion_revision.criterion_set.code, "amends": first.report_number}
    status, data = quality.post("assessments/", body)
    assert (status, data["field"]) == (400, "amendment")
    body |= {"amendment": "amends", "amendment_reason": "A coupon was left out."}
    status, data = quality.post("assessments/", body)
    assert (status, data["amends"], data["amendment"]) == (201, first.report_number, "amends")
    sign(Assessment.objects.get(pk=data["id"]), author=author.person, approver=quality.person)
    _, data = quality.post(f"assessments/{data['id']}/issue/")
    new = data["report"]
    _, old = quality.get(f"qualifications/{first.report_number}/")
    assert (old["superseded_by"], old["amends"]) == (new, None)
    _, issued = quality.get(f"qualifications/{new}/")
    assert (issued["superseded_by"], issued["amends"]) == (None, first.report_number)
    assert quality.get("qualifications/", is_superseded="true")[1]["count"] == 1
    file = quality.client.get(f"/api/qualifications/{first.report_number}/file/")
    assert file.content == bytes(Qualification.objects.get(pk=first.pk).file)


def test_altered_signature_is_told_as_invalid(quality, author, way):
    step(author, way, "complete", version=1, password=PASSWORD)
    as_owner("UPDATE labrecords_signature SET role = 'quality'")
    [given] = quality.get(f"assessments/{way.pk}/")[1]["signatures"]
    assert given["is_valid"] is False
    assert "role was altered" in " ".join(given["faults"])
