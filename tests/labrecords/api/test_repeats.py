"""Requests that are sent again with the same key: done once, answered each time."""

import hashlib
import json
import threading
import time
import uuid
from datetime import timedelta

import pytest
import yaml
from django.core.management import call_command
from django.db import connection
from django.utils import timezone
from django.utils.crypto import salted_hmac

from labrecords import trail
from labrecords.actions import coupons, requests
from labrecords.api import account, people, refusals, urls
from labrecords.api.repeats import Repeatable
from labrecords.errors import KeyReused, ReasonMissing
from labrecords.models import AnsweredRequest, Coupon, Person, Project, Reading, TestRun
from tests.factories import (
    PASSWORD,
    make_coupon,
    make_instrument,
    make_liquid_lot,
    make_lot,
    make_method_version,
    make_run,
)
from tests.labrecords.api.conftest import Caller, make_person

pytestmark = pytest.mark.django_db
real_transactions = pytest.mark.django_db(transaction=True)


def send(caller, path, body, key, **options):
    return caller.client.post(f"/api/{path}", body, **{"format": "json"} | options, headers={"Idempotency-Key": key})


def new_key():
    return f'"{uuid.uuid4()}"'


@pytest.fixture
def body(quality):
    return {"lot": make_lot(quality.person).code, "count": 2}


def test_request_sent_again_is_answered_byte_for_byte_and_done_once(quality, body):
    key = new_key()
    first, second = (send(quality, "coupons/", body, key) for _ in range(2))
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.content == second.content
    assert second.headers["Content-Type"] == first.headers["Content-Type"] == "application/json"
    assert "Idempotency-Replayed" not in first.headers
    assert second.headers["Idempotency-Replayed"] == "true"
    assert Coupon.objects.count() == 2


def test_without_a_key_or_with_another_one_it_is_done_again(quality, body):
    quality.post("coupons/", body)
    quality.post("coupons/", body)
    send(quality, "coupons/", body, new_key())
    send(quality, "coupons/", body, new_key())
    assert Coupon.objects.count() == 8


def test_quotation_marks_of_the_key_may_be_left_out(quality, body):
    send(quality, "coupons/", body, '"a-key"')
    assert send(quality, "coupons/", body, "a-key").headers["Idempotency-Replayed"] == "true"


@pytest.mark.parametrize("key", ["", '""', '"', "a b", "ä", "x" * 201, 'a"b', "a\\b"])
def test_key_that_is_none_is_refused(key, quality, body):
    answer = send(quality, "coupons/", body, key)
    assert (answer.status_code, answer.json()["field"]) == (400, "Idempotency-Key")
    assert not Coupon.objects.exists()


def test_key_sent_with_another_body_or_address_is_refused(quality, body):
    send(quality, "coupons/", body, "k")
    for path, other in (("coupons/", body | {"count": 3}), ("projects/", {"code": "P", "title": "P"})):
        answer = send(quality, path, other, "k")
        assert (answer.status_code, answer.json()["code"]) == (422, "KeyReused")
    assert (Coupon.objects.count(), Project.objects.count()) == (2, 0)


def test_order_of_names_in_the_body_does_not_matter(quality, body):
    send(quality, "coupons/", body, "k")
    assert send(quality, "coupons/", dict(reversed(body.items())), "k").headers["Idempotency-Replayed"] == "true"


def test_key_belongs_to_one_person(quality, operator, body):
    send(quality, "coupons/", body, "k")
    answer = send(operator, "coupons/", body, "k")
    assert (answer.status_code, "Idempotency-Replayed" in answer.headers) == (201, False)
    assert Coupon.objects.count() == 4


def test_refused_request_is_not_kept(quality, body):
    for wrong in (body | {"count": 0}, body | {"lot": "NONE"}, body | {"colour": "red"}):
        assert send(quality, "coupons/", wrong, "k").status_code == 400
        assert not AnsweredRequest.objects.exists()
    assert send(quality, "coupons/", body, "k").status_code == 201


def test_what_a_refused_request_had_stored_outside_its_verb_stays(quality):
    """A wrong password that was counted is not forgotten because a key was sent along."""

    def refused():
        with requests.once(by=quality.person, key="k", digest="d"):
            AnsweredRequest.objects.create(person=quality.person, key="counted", digest="d", status=1)
            raise ReasonMissing()

    with pytest.raises(ReasonMissing):
        refused()
    assert [row.key for row in AnsweredRequest.objects.all()] == ["counted"]


def test_person_who_was_disabled_meanwhile_gets_no_kept_answer(quality, body):
    send(quality, "coupons/", body, "k")
    with trail.recorded("tests", "left the lab"):
        Person.objects.filter(pk=quality.person.pk).update(is_active=False)
    assert send(quality, "coupons/", body, "k").status_code == 401


def test_every_change_keeps_its_own_reason(quality, body):
    send(quality, "coupons/", body | {"why": "cut for the spring series"}, "k")
    coupon = Coupon.objects.first()
    send(quality, f"coupons/{coupon.code}/move/", {"state": "lost", "why": "not in its box"}, "l")
    said = [event.pgh_context.metadata["why"] for event in coupon.events.order_by("pgh_id")]
    assert said == ["cut for the spring series", "not in its box"]


def test_readings_and_imported_files_are_stored_once(quality):
    by = quality.person
    run = make_run(by)
    readings = [{"quantity": "sliding_angle", "drop": drop, "value": drop + 0.5} for drop in range(1, 13)]
    said = {"version": 1, "readings": readings}
    for _ in range(2):
        assert send(quality, f"runs/{run.code}/readings/", said, "k").status_code == 200
    assert Reading.objects.count() == 12
    version, lot, rig = make_method_version(by), make_liquid_lot(by), make_instrument(by)
    columns = {
        "run": "NEW-1",
        "coupon": make_coupon(by).code,
        "method": "sliding_angle",
        "method_version": version.number,
        "liquid": lot.code,
        "drop_volume_ul": 10,
        "observed_at": "2026-03-02T10:00:00+00:00",
        "dose": 0,
        "position": 1,
        "drop": 1,
        "quantity": "sliding_angle",
        "qualifier": "measured",
        "value": 6.5,
    }
    file = ",".join(columns) + "\n" + ",".join(map(str, columns.values())) + "\n"
    address = f"readings/import/?why=typed+in&instrument={rig.code}"
    options = {"format": None, "content_type": "text/csv"}
    answers = [send(quality, address, file, "l", **options) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200], answers[0].content
    assert answers[0].json() == answers[1].json()
    assert answers[0].json()["runs_added"] == 1
    assert send(quality, address + "&name=other", file, "l", **options).status_code == 422
    assert TestRun.objects.filter(code="NEW-1").count() == 1


def test_password_in_a_body_cannot_be_guessed_from_the_kept_digest(administrator):
    body = {"username": "newcomer", "full_name": "New", "role": "operator", "password": "bench-water-tilt-8"}
    assert send(administrator, "people/", body, "k").status_code == 201
    kept = AnsweredRequest.objects.get()
    assert "bench" not in kept.body
    said = b"\n".join([b"POST", b"/api/people/", json.dumps(body, sort_keys=True).encode()])
    assert kept.digest != hashlib.sha256(said).hexdigest()
    assert kept.digest == salted_hmac("labrecords.api.repeats", said, algorithm="sha256").hexdigest()


def test_old_answers_are_forgotten(quality, body):
    send(quality, "coupons/", body, "old")
    send(quality, "coupons/", body, "young")
    for key, days in (("old", requests.KEPT_DAYS + 1), ("young", requests.KEPT_DAYS - 1)):
        AnsweredRequest.objects.filter(key=key).update(answered_at=timezone.now() - timedelta(days=days))
    send(quality, "coupons/", body, "new")
    assert {row.key for row in AnsweredRequest.objects.all()} == {"young", "new"}


@real_transactions
def test_two_at_once_with_one_key_are_done_once_and_both_answered(monkeypatch):
    caller, found = Caller(make_person()), []
    lot = make_lot(caller.person)
    at_work = threading.Event()

    monkeypatch.setattr(coupons, "_make", _held_up(coupons._make, at_work))

    def work():
        try:
            found.append(send(caller, "coupons/", {"lot": lot.code}, "k"))
        finally:
            connection.close()

    first, second = threading.Thread(target=work), threading.Thread(target=work)
    first.start()
    assert at_work.wait(20)
    second.start()
    first.join(30)
    second.join(30)
    assert [answer.status_code for answer in found] == [201, 201]
    assert found[0].content == found[1].content
    assert sorted("Idempotency-Replayed" in answer.headers for answer in found) == [False, True]
    assert Coupon.objects.count() == 1


def _held_up(make, at_work):
    def slow(*args, **details):
        done = make(*args, **details)
        at_work.set()
        time.sleep(0.5)
        return done

    return slow


@real_transactions
def test_the_second_does_the_work_when_the_first_was_refused():
    person = make_person()
    at_work, found = threading.Event(), []

    def first():
        try:
            with requests.once(by=person, key="k", digest="d"):
                at_work.set()
                time.sleep(0.3)
                raise ReasonMissing()
        except ReasonMissing:
            found.append("refused")
        finally:
            connection.close()

    thread = threading.Thread(target=first)
    thread.start()
    assert at_work.wait(20)
    with requests.once(by=person, key="k", digest="another") as claim:
        found.append(claim.is_answered)
        claim.status, claim.body = 200, "{}"
    thread.join(20)
    assert sorted(map(str, found)) == ["False", "refused"]
    with pytest.raises(KeyReused), requests.once(by=person, key="k", digest="d"):
        pass


def posting_views():
    """Every view below /api/ that takes a POST, read from the addresses themselves."""

    def walk(patterns):
        for pattern in patterns:
            yield from walk(pattern.url_patterns) if hasattr(pattern, "url_patterns") else [pattern.callback]

    for callback in walk(urls.urlpatterns):
        view = getattr(callback, "cls", None) or getattr(callback, "view_class", None)
        actions = getattr(callback, "actions", None)
        takes_post = "post" in actions if actions else view and hasattr(view, "post")
        if takes_post:
            yield view


def test_every_post_of_the_api_takes_a_key_but_those_that_make_or_end_a_token():
    without = {view for view in posting_views() if not issubclass(view, Repeatable)}
    of_own_sign_in = {item.view_class for item in vars(account).values() if hasattr(item, "view_class")}
    assert without == {people.SignIn, people.SignOut, refusals.nothing_here.cls, *of_own_sign_in}


def test_secrets_that_are_shown_once_are_not_kept(quality, administrator):
    token = {"name": "program", "scope": "read", "password": PASSWORD, "why": "for the rig"}
    answers = [send(quality, "tokens/", token, "k") for _ in range(2)]
    person = f"people/{quality.person.username}/start-password/"
    answers += [send(administrator, person, {"why": "forgotten"}, "k") for _ in range(2)]
    assert [answer.status_code // 100 for answer in answers] == [2] * 4, [answer.content for answer in answers]
    assert not any("Idempotency-Replayed" in answer.headers for answer in answers)
    assert not AnsweredRequest.objects.exists()


def test_document_names_the_header_at_every_post_that_takes_it(tmp_path):
    file = tmp_path / "openapi.yml"
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(file))
    paths = yaml.safe_load(file.read_text())["paths"]
    silent = {
        address
        for address, operations in paths.items()
        if "post" in operations
        and "Idempotency-Key" not in {item["name"] for item in operations["post"].get("parameters", [])}
    }
    assert {address.split("/")[2] for address in silent} <= {"sign-in", "sign-out", "account", "tokens", "people"}
    assert {address for address in silent if "people" in address} == {"/api/people/{username}/start-password/"}
    assert "/api/tokens/" in silent
