"""What a verb does not offer cannot be set by sending it along: state, who signed, batch, role, version, project."""

import pytest
from django.test import Client
from pghistory.models import Context
from rest_framework.test import APIClient

from labrecords.actions import projects, runs
from labrecords.models import Coupon, Person, TestRun
from tests.factories import make_batch, make_coupon, make_person, make_run, sliding

pytestmark = pytest.mark.django_db


@pytest.fixture
def operator():
    return make_person("operator")


@pytest.fixture
def draft(operator):
    keeper = make_person("quality")
    run = make_run(keeper, coupon=make_coupon(keeper))
    return runs.record(by=keeper, run=run, readings=sliding([3.5]))


def signed_in(kind, person):
    client = kind()
    client.force_login(person)
    return client


@pytest.mark.parametrize(
    "field", ["state", "reviewed_by", "reviewed_at", "completed_by", "version", "created_by", "id"]
)
def test_api_refuses_fields_of_a_run_that_verbs_set(operator, draft, field):
    person = make_person("reviewer")
    value = {"state": "reviewed", "version": 9, "id": 9}.get(field, person.username)
    body = {
        "coupon": draft.coupon.code, "method": "sliding_angle", "liquid_lot": draft.liquid_lot.code,
        "drop_volume_ul": 10, "instrument": draft.instrument.code, "observed_at": "2026-03-02T12:00Z",
        "room_temperature_c": 23, "room_humidity_pct": 50,
    }  # fmt: skip
    client, before = signed_in(APIClient, operator), Context.objects.count()
    answer = client.post("/api/runs/", body | {field: value}, format="json")
    assert (answer.status_code, answer.json()["field"]) == (400, field)
    assert (Context.objects.count(), TestRun.objects.count()) == (before, 1)
    assert client.post("/api/runs/", body, format="json").status_code == 201


@pytest.mark.parametrize("field", ["state", "code", "number", "parent", "batch", "lot", "created_by"])
def test_api_refuses_fields_of_a_coupon_that_are_not_amended(operator, draft, field):
    client, before = signed_in(APIClient, operator), Context.objects.count()
    body = {"place": "shelf", "why": "moved", field: "consumed"}
    answer = client.post(f"/api/coupons/{draft.coupon.code}/amend/", body, format="json")
    assert (answer.status_code, answer.json()["field"]) == (400, field)
    assert Context.objects.count() == before


@pytest.mark.parametrize("path", ["complete", "reopen", "review"])
@pytest.mark.parametrize("field", ["by", "person", "reviewed_by", "state", "role"])
def test_api_takes_nobody_elses_name_with_a_verb(operator, draft, path, field):
    client = signed_in(APIClient, operator)
    body = {"why": "it must be", field: make_person("reviewer").username}
    before = Context.objects.count()
    answer = client.post(f"/api/runs/{draft.code}/{path}/", body, format="json")
    assert answer.status_code == 400
    assert (Context.objects.count(), TestRun.objects.get().state) == (before, "draft")


def test_pages_ignore_fields_that_they_do_not_offer(operator, draft):
    project = projects.start(by=make_person("developer"), code="P-1", title="Wings", members_only=True)
    batch = make_batch(make_person("quality"), n=1)
    extra = {
        "state": "consumed", "created_by": "1", "completed_by": "1", "reviewed_by": "1", "reviewed_at": "2026-03-02",
        "role": "administrator", "batch": batch.pk, "version": draft.version, "code": "MINE", "number": "1",
    }  # fmt: skip
    client, coupon = signed_in(Client, operator), draft.coupon
    client.post(
        f"/coupons/{coupon.code}/amend/", extra | {"place": "shelf", "why": "moved", "exposed_area_mm2": "1600"}
    )
    stored = Coupon.objects.get(pk=coupon.pk)
    assert (stored.place, stored.state, stored.code, stored.number) == ("shelf", "in_test", coupon.code, coupon.number)
    assert not stored.memberships.exists()
    client.post(f"/runs/{draft.code}/complete/", extra)
    stored = TestRun.objects.get(pk=draft.pk)
    assert (stored.state, stored.completed_by, stored.reviewed_by) == ("complete", operator, None)
    assert Person.objects.get(pk=operator.pk).role == "operator"
    hidden = {"place": "box", "why": "moved", "exposed_area_mm2": "1600", "project": project.pk}
    answer = client.post(f"/coupons/{coupon.code}/amend/", hidden)
    assert answer.status_code == 200
    assert (Coupon.objects.get(pk=coupon.pk).project, Coupon.objects.get(pk=coupon.pk).place) == (None, "shelf")
