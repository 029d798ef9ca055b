"""Requests that no page of ours sends: never a fault, never stored, never past an access that ended."""

import pytest
from django.test import Client
from rest_framework.test import APIClient

from labrecords.actions import people, runs
from labrecords.models import Assessment, Coupon, TestRun
from tests.factories import (
    PASSWORD,
    issue_report,
    make_coupon,
    make_criteria,
    make_person,
    make_run,
    make_tested_batch,
    sliding,
)

pytestmark = pytest.mark.django_db
ODD = ["abc", "-1", "9" * 30, "%00", "٣", "NaN", "%FF%FE", "2026-99-99"]


@pytest.mark.thorough
def test_odd_parameters_of_lists_and_pages_are_no_fault(page, person):
    batch = make_tested_batch(person, n=2, drops=2)
    make_criteria(person)
    names = ["page", "q", "state", "show", "coupon", "batch", "method", "method_version", "lot", "pieces", "dose"]
    nouns = ["coupons", "coupons/log", "liquids", "recipes", "batches", "runs", "runs/new", "specifications", "methods"]
    nouns += [f"batches/{batch.code}", f"batches/{batch.code}/step/1", "qualifications", "api/runs", "api/coupons"]
    asked = [f"/{noun}/?{name}={odd}" for noun in nouns for name in names for odd in ODD]
    answers = {address: page.get(address).status_code for address in asked}
    assert {address: status for address, status in answers.items() if status not in (200, 400, 404)} == {}


@pytest.mark.parametrize("name", ["marks", "positions", "place", "lot", "count"])
def test_text_that_cannot_be_stored_is_refused_and_nothing_is_logged(page, person, name):
    coupon = make_coupon(person)
    answer = page.post("/coupons/log/", {"lot": coupon.lot_id, "count": "1", "remark": "kept"} | {name: "a\0b"})
    assert answer.status_code == 200
    assert "kept" in answer.content.decode()
    assert Coupon.objects.count() == 1


@pytest.mark.parametrize(("address", "name"), [
    ("/runs/new/", "coupons"), ("/batches/new/", "treated"), ("/batches/new/", "control"),
])  # fmt: skip
def test_coupon_named_with_a_character_that_cannot_be_stored_is_refused(page, address, name):
    answer = page.post(address, {name: "a\0b"})
    assert answer.status_code in (200, 400)
    assert "Null characters are not allowed" in answer.content.decode()


@pytest.mark.parametrize("why", ["a\0b", "a" * 2001])
@pytest.mark.parametrize("verb", ["complete", "review", "lift-review", "reopen", "save"])
def test_reason_that_cannot_be_stored_is_refused(page, person, verb, why):
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding([4, 5]))
    if verb in ("review", "reopen", "lift-review"):
        runs.complete(by=person, run=TestRun.objects.get())
    if verb == "lift-review":
        runs.review(by=make_person("reviewer"), run=TestRun.objects.get())
    before = TestRun.objects.get()
    typed = {"position-0": "1", "drop-0": "1", "value-0-sliding_angle": "9", "version": before.version}
    answer = page.post(f"/runs/{run.code}/{verb}/", {"why": why} | (typed if verb == "save" else {}))
    assert (answer.status_code, "The reason holds a sign that no text can hold" in answer.text) == (400, True)
    assert TestRun.objects.get().version == before.version


def test_report_with_text_that_cannot_be_stored_is_refused(page, person):
    batch, criteria = make_tested_batch(person, n=2, drops=2), make_criteria(person)
    issued = issue_report(batch, criteria, approver=person)
    said = {"specification": criteria.pk, "amends": issued.report_number, "amendment": "amends"}
    said["amendment_reason"] = "misprint"
    for name in ("amends", "amendment_reason"):
        answer = page.post(f"/batches/{batch.code}/qualify/", said | {name: "a\0b"})
        assert answer.status_code == 400, name
    assert Assessment.objects.count() == 1
    assert page.post(f"/batches/{batch.code}/qualify/", said).status_code == 302


def test_session_and_token_of_a_disabled_person_end_at_once():
    administrator, person = make_person("administrator"), make_person()
    page, api = Client(), APIClient()
    page.force_login(person)
    said = {"username": person.username, "password": PASSWORD}
    token = api.post("/api/sign-in/", said, format="json").json()["token"]
    api.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    assert (page.get("/coupons/").status_code, api.get("/api/coupons/").status_code) == (200, 200)
    people.disable(by=administrator, why="has left", person=person)
    assert page.get("/coupons/").status_code == 302
    assert api.get("/api/coupons/").status_code == 401
    assert api.post("/api/sign-in/", said, format="json").status_code == 401


def test_review_of_a_page_that_is_out_of_date_is_refused_in_page_and_api(person):
    reviewer = make_person("reviewer")
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding(["4.5"]))
    seen = runs.complete(by=person, run=run).version
    runs.record(by=person, run=run, readings=sliding(["14.5"]), why="misread the scale")
    page, api = Client(), APIClient()
    page.force_login(reviewer)
    api.force_authenticate(reviewer)
    assert f'name="version" value="{seen + 1}"' in page.get(f"/runs/{run.code}/").content.decode()
    answers = [page.post(f"/runs/{run.code}/review/", {"version": seen})]
    answers.append(api.post(f"/api/runs/{run.code}/review/", {"version": seen}, format="json"))
    assert [answer.status_code for answer in answers] == [409, 409]
    assert all("was saved by" in answer.content.decode() for answer in answers)
    assert TestRun.objects.get(pk=run.pk).state == "complete"
    assert page.post(f"/runs/{run.code}/review/", {"version": seen + 1}).status_code == 302


def test_value_beyond_the_stage_limit_is_quoted_as_it_was_typed(person):
    api, run = APIClient(), make_run(person)
    api.force_authenticate(person)
    body = {"version": 1, "readings": [{"quantity": "sliding_angle", "value": "31"}]}
    answer = api.post(f"/api/runs/{run.code}/readings/", body, format="json")
    assert "“31” is beyond the stage limit of 30°" in answer.json()["message"]
