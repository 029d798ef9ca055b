"""W01 to W03 (ASVS 7.2.3, 7.2.4, 7.3.1, 7.3.2, 7.1.1, 7.4.1 to 7.4.5): sessions change, end, and can be ended."""

from datetime import timedelta

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client
from django.utils import timezone

from labrecords.actions import people
from labrecords.web import gate
from tests.factories import PASSWORD, make_person

pytestmark = pytest.mark.django_db


def is_in(client):
    return client.get("/coupons/").status_code == 200


def two_sessions(person):
    pair = Client(), Client()
    for client in pair:
        client.force_login(person)
    return pair


def age(client, **fields):
    """Move a session's stamps back, as if the time had passed."""
    session = client.session
    for name, passed in fields.items():
        session[name] -= int(passed.total_seconds())
    session.save()


# W01, 7.2.3 and 7.2.4 (1)
def test_session_id_has_128_bits_and_changes_at_each_sign_in(at, person):
    visitor = at()
    visitor.page.get("/sign-in/")
    seen = []
    for _ in range(2):
        visitor.sign_in(person.username)
        seen.append(visitor.page.cookies[settings.SESSION_COOKIE_NAME].value)
        visitor.page.post("/sign-out/")
    assert len(set(seen)) == 2
    assert all(len(key) == 32 and set(key) <= set("abcdefghijklmnopqrstuvwxyz0123456789") for key in seen)
    # limit: 32 characters out of 36 are 32 × log2(36) = 165 bit
    assert not Session.objects.filter(session_key__in=seen).exists()


def test_id_given_before_the_sign_in_is_not_taken_over(at, person):
    """Session fixation: the key that a visitor brings does not become the signed-in one."""
    visitor = at()
    session = visitor.page.session
    session["seen"] = 1
    session.save()
    visitor.page.cookies[settings.SESSION_COOKIE_NAME] = session.session_key
    visitor.sign_in(person.username)
    assert visitor.page.cookies[settings.SESSION_COOKIE_NAME].value != session.session_key
    thief = Client()
    thief.cookies[settings.SESSION_COOKIE_NAME] = session.session_key
    assert not is_in(thief)


# W02, 7.3.1, 7.3.2, 7.1.1 (2)
def test_defaults_are_an_hour_without_use_and_twelve_in_all():
    assert (timedelta(hours=1), timedelta(hours=12)) == (settings.SESSION_IDLE, settings.SESSION_LONGEST)


@pytest.mark.parametrize(("idle", "stays"), [(timedelta(minutes=59), True), (timedelta(minutes=60), False)])
def test_session_that_nobody_uses_ends(client, person, idle, stays):
    client.force_login(person)
    age(client, **{gate.SEEN: idle, gate.SINCE: idle})
    assert is_in(client) is stays


def test_session_ends_after_its_longest_time_however_busy(client, person, events):
    client.force_login(person)
    age(client, **{gate.SINCE: settings.SESSION_LONGEST})
    answer = client.get("/coupons/", follow=True)
    assert answer.redirect_chain[0][0].startswith("/sign-in/")
    assert "You were signed out" in answer.text
    assert "session ended by its limit" in events()


@pytest.mark.parametrize("is_own", [True, False])
def test_sign_in_at_the_api_does_not_prolong_the_session_whose_cookie_came_along(at, person, is_own):
    visitor = at()
    visitor.sign_in(person.username)
    age(visitor.page, **{gate.SEEN: timedelta(minutes=50), gate.SINCE: timedelta(hours=11)})
    before = visitor.page.session[gate.SINCE], visitor.page.session[gate.SEEN]
    name = person.username if is_own else make_person().username
    said = {"username": name, "password": PASSWORD}
    answer = visitor.page.post("/api/sign-in/", said, "application/json", headers={gate.UNATTENDED: "1"})
    assert answer.status_code == 200
    assert (visitor.page.session[gate.SINCE], visitor.page.session[gate.SEEN]) == before
    # A new sign-in at the page begins a new session.
    visitor.page.post("/sign-out/")
    visitor.sign_in(person.username)
    assert timezone.now().timestamp() - visitor.page.session[gate.SINCE] < 60


def test_use_keeps_a_session_alive_and_what_a_page_asks_by_itself_does_not(client, person):
    client.force_login(person)
    age(client, **{gate.SEEN: timedelta(minutes=50), gate.SINCE: timedelta(minutes=50)})
    client.get("/", headers={gate.UNATTENDED: "1"})
    assert timezone.now().timestamp() - client.session[gate.SEEN] > 2900
    client.get("/")
    assert timezone.now().timestamp() - client.session[gate.SEEN] < 60


def test_every_element_that_asks_by_the_clock_says_so():
    polls = [
        (path.name, line)
        for path in (settings.ROOT / "labrecords" / "templates").rglob("*.html")
        for line in path.read_text().splitlines()
        if 'hx-trigger="every' in line
    ]
    assert polls
    assert [path for path, line in polls if gate.UNATTENDED not in line] == []


def test_part_of_a_page_asked_after_the_end_sends_the_whole_page_to_the_sign_in(client, person):
    client.force_login(person)
    age(client, **{gate.SEEN: timedelta(hours=2)})
    asked = {"HX-Request": "true", "HX-Current-URL": "http://testserver/runs/"}
    answer = client.get("/", headers=asked)
    assert (answer.status_code, answer.headers["HX-Redirect"]) == (401, "/sign-in/?next=%2Fruns%2F")
    answer = client.get("/", headers=asked | {"HX-Current-URL": "https://elsewhere.example/x"})
    assert answer.headers["HX-Redirect"] == "/sign-in/?"


# W03, 7.4.1 (1)
def test_sign_out_ends_the_session_on_the_server(at, person):
    visitor = at()
    visitor.sign_in(person.username)
    key = visitor.page.cookies[settings.SESSION_COOKIE_NAME].value
    visitor.page.post("/sign-out/")
    thief = Client()
    thief.cookies[settings.SESSION_COOKIE_NAME] = key
    assert not is_in(thief)


# 7.4.2 (1)
def test_disabling_ends_every_session_and_token_at_once(at, person, administrator):
    sessions, visitor = two_sessions(person), at()
    visitor.api.credentials(HTTP_AUTHORIZATION=f"Token {visitor.token(person.username).json()['token']}")
    assert visitor.api.get("/api/coupons/").status_code == 200
    people.disable(by=administrator, why="left", person=person)
    assert [is_in(client) for client in sessions] == [False, False]
    assert visitor.api.get("/api/coupons/").status_code == 401


# 7.4.3 (2)
def test_changing_the_password_ends_all_other_sessions_and_tokens(at, person):
    mine, other = two_sessions(person)
    visitor = at()
    visitor.api.credentials(HTTP_AUTHORIZATION=f"Token {visitor.token(person.username).json()['token']}")
    new = "tilted-drop-2026"
    mine.post("/account/password/", {"password": PASSWORD, "new_password": new, "again": new})
    assert (is_in(mine), is_in(other)) == (True, False)
    assert visitor.api.get("/api/coupons/").status_code == 401


def test_person_ends_the_other_sessions(person):
    mine, other = two_sessions(person)
    assert mine.post("/account/end-other-sessions/").status_code == 302
    assert (is_in(mine), is_in(other)) == (True, False)


# 7.4.5 (2)
def test_administrator_ends_the_sessions_of_one_person_with_trace(person, keeper):
    sessions, bystander = two_sessions(person), Client()
    bystander.force_login(make_person())
    keeper.post(f"/people/{person.pk}/end-sessions/", {"why": "laptop was stolen"})
    assert [is_in(client) for client in (*sessions, bystander)] == [False, False, True]
    assert person.events.order_by("-pgh_id").first().pgh_context.metadata["why"] == "laptop was stolen"


def test_operator_ends_nobody_elses_sessions(person):
    client, other = Client(), make_person()
    client.force_login(person)
    victim = Client()
    victim.force_login(other)
    answer = client.post(f"/people/{other.pk}/end-sessions/", {"why": "to try"})
    assert "may not end the sessions of people" in answer.text
    assert is_in(victim)
