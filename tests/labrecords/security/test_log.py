"""W22 (ASVS 16.2.1, 16.2.2, 16.3.1, 16.3.2, 16.4.1, 16.4.2): the security log."""

import json
import logging
import re
import stat

import pytest
from django.conf import settings
from django.db import DatabaseError, transaction
from django.test import Client
from django.utils import timezone

from labrecords import security
from labrecords.actions import account, coupons, people
from labrecords.errors import NotAllowed
from labrecords.models import SecurityEvent
from labrecords.web import gate
from tests.factories import PASSWORD, make_coupon, make_person
from tests.labrecords.security.roles import as_working_role

pytestmark = pytest.mark.django_db


def entries(lines):
    return [json.loads(line) for line in lines]


# 16.2.1, 16.3.1: who, what, when, from where; sign-ins, failures, sign-outs
def test_sign_in_failure_and_sign_out_say_who_when_and_from_where(at, person, lines):
    visitor = at("192.0.2.7")
    visitor.sign_in(person.username, "wrong")
    visitor.sign_in(person.username)
    visitor.page.post("/sign-out/")
    said = entries(lines)
    assert [entry["event"] for entry in said] == ["sign-in failed", "signed in", "signed out"]
    assert {entry["who"] for entry in said} == {person.username}
    assert {entry["address"] for entry in said} == {"192.0.2.7"}
    # 16.2.2: UTC, to the millisecond
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}\+00:00", entry["at"]) for entry in said)


# 16.3.2: denials, whatever the face
def test_denial_is_written_down_for_page_api_and_action(at, person, lines):
    coupon, stranger = make_coupon(make_person()), make_person("administrator")
    page, visitor = Client(), at()
    page.force_login(stranger)
    visitor.api.credentials(HTTP_AUTHORIZATION=f"Token {visitor.token(stranger.username).json()['token']}")
    page.post(f"/coupons/{coupon.code}/move/", {"state": "lost", "why": "tidy"})
    visitor.api.post(f"/api/coupons/{coupon.code}/move/", {"state": "lost", "why": "tidy"}, format="json")
    with pytest.raises(NotAllowed):
        coupons.move(by=stranger, why="tidy", coupon=coupon, state="lost")
    denied = [entry for entry in entries(lines) if entry["event"] == "denied"]
    assert [(entry["who"], entry["verb"]) for entry in denied] == [
        (stranger.username, verb) for verb in ("coupons.look", "coupons.look", "coupons.move")
    ]
    # The page, not the record: its code may be hidden from whoever reads the log.
    assert re.fullmatch(r"/coupons/<\w+:code>/move/", denied[0]["path"])
    assert denied[1]["path"].startswith("/api/coupons/(?P<code>")
    assert coupon.code not in str([lines, *SecurityEvent.objects.values()])


@pytest.mark.parametrize("path", ["/batches/ACMË-TAKEOVER/", "/batches/ACMË-TAKEOVER/none/such/", "/ACMË-TAKEOVER"])
def test_codes_in_addresses_are_not_written_down(administrator, lines, path):
    """A denial, a form without its token, and a session that is over, whatever the address."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(administrator)
    client.get(path)
    client.post(path, {})
    session = client.session
    session[gate.SINCE] = 0
    session.save()
    client.get(path)
    events = [entry["event"] for entry in entries(lines)]
    assert "session ended by its limit" in events
    if path == "/batches/ACMË-TAKEOVER/":
        assert "denied" in events
        assert [event for event in events if "csrf: Forbidden" in event and event.endswith(": /batches/<str:code>/")]
    assert "TAKEOVER" not in str([lines, *SecurityEvent.objects.values()])


def test_form_without_token_and_foreign_host_are_written_down(person, events):
    client = Client(enforce_csrf_checks=True)
    client.force_login(person)
    client.post("/instruments/add/", {})
    client.get("/", headers={"host": "elsewhere.example"})
    said = " ".join(events())
    assert "django.security.csrf: Forbidden" in said
    assert "django.security.DisallowedHost" in said


def test_what_an_administrator_does_about_people_is_written_down(administrator, person, lines):
    made = people.add(by=administrator, username="new", full_name="New", role="operator", password="tilted-drop-2026")
    people.change_role(by=administrator, why="trained", person=made, role="developer")
    people.set_start_password(by=administrator, why="forgot", person=made)
    people.end_sessions(by=administrator, why="stolen", person=made)
    people.lift_block(by=administrator, why="asked", person=made)
    people.reset_second_factor(by=administrator, why="lost", person=made)
    people.disable(by=administrator, why="left", person=made)
    account.issue_token(by=person, password=PASSWORD, name="rig")
    account.change_password(by=person, password=PASSWORD, new_password="tilted-drop-2026")
    said = entries(lines)
    assert [entry["event"] for entry in said] == [
        "people.add", "people.change_role", "people.set_start_password", "people.end_sessions", "people.lift_block",
        "people.reset_second_factor", "people.disable", "account.issue_token", "account.change_password",
    ]  # fmt: skip
    assert (said[1]["who"], said[1]["person"], said[1]["role"]) == (administrator.username, "new", "developer")


# 16.4.1: nothing that is typed forges a line
@pytest.mark.parametrize("typed", [
    'x\r\n{"at": "2026-01-01", "event": "signed in", "who": "pell"}', "a\x1b[2Kb", "‮gnp", "a\u2028b", "\x00", "é" * 999,
])  # fmt: skip
def test_typed_text_stays_inside_its_line(lines, typed):
    security.note(f"event {typed}", who=typed)
    [line] = lines
    assert line.isascii()
    assert line.isprintable()
    assert json.loads(line)["who"] == typed[:200]


def test_path_and_reason_cannot_forge_a_line(at, administrator, person, lines):
    people.end_sessions(by=administrator, why="x\r\nforged", person=person)
    client = Client(enforce_csrf_checks=True)
    client.force_login(person)
    client.post("/coupons/a%0d%0aforged/move/", {})
    assert len(lines) >= 3
    assert all(json.loads(line) and line.isprintable() for line in lines)


# A text that is nobody's name may be a password typed into the wrong field
def test_name_that_nobody_has_is_not_written_down(at, db, lines):
    at().sign_in("my-secret-passphrase", "ada")
    assert [entry["who"] for entry in entries(lines)] == ["(nobody of this name)"]
    assert "my-secret-passphrase" not in str(list(SecurityEvent.objects.values()))


def test_file_is_the_owners_alone_and_turns_over():
    security.note("for the file")
    assert stat.S_IMODE(settings.SECURITY_LOG.stat().st_mode) == 0o600
    assert json.loads(settings.SECURITY_LOG.read_text().splitlines()[-1])["event"] == "for the file"
    [handler] = [h for h in logging.getLogger("labrecords.security").handlers if isinstance(h, security.LogFile)]
    assert (handler.maxBytes, handler.backupCount) == (10 * 2**20, 20)


def test_file_that_cannot_be_written_keeps_nobody_out(at, person, monkeypatch):
    def full(self, record):
        raise OSError("No space left on device")

    monkeypatch.setattr(security.LogFile, "shouldRollover", full)
    assert at().sign_in(person.username).status_code == 302


# 16.4.2: the table takes rows and gives none back changed
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("statement", ["UPDATE labrecords_securityevent SET who = 'x'",
                                       "DELETE FROM labrecords_securityevent"])  # fmt: skip
def test_row_of_the_log_is_neither_changed_nor_deleted(statement):
    from django.db import connection

    security.note("something")
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert SecurityEvent.objects.get().event == "something"


@pytest.mark.django_db(transaction=True)
def test_row_of_the_log_has_the_clock_of_the_server_whatever_it_says():
    person = make_person()
    with as_working_role() as working:
        working.execute(
            "INSERT INTO labrecords_securityevent (at, level, event, who, facts) "
            "VALUES ('2001-01-01', 'info', 'signed in', %s, '{}')", [person.username],
        )  # fmt: skip
        working.commit()
    assert abs((timezone.now() - SecurityEvent.objects.get().at).total_seconds()) < 60


def test_log_is_read_by_administrator_and_quality_only(person, administrator):
    security.note("<b>something</b>", who="ada")
    for role, status in {"administrator": 200, "quality": 200, "operator": 403, "developer": 403}.items():
        client = Client()
        client.force_login(make_person(role))
        answer = client.get("/people/log/")
        assert answer.status_code == status, role
        assert ("&lt;b&gt;something" in answer.text) is (status == 200)
