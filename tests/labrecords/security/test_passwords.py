"""W19, W20 (ASVS 6.2.1 to 6.2.12, 11.4.2) and D14: passwords, and who may know one."""

from datetime import timedelta

import pytest
from django.contrib.auth.hashers import identify_hasher
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.db import DatabaseError, transaction
from django.test import Client
from django.utils import timezone

from labrecords import access, trail
from labrecords.actions import account, coupons, people, runs
from labrecords.errors import PasswordWrong, StartPasswordOnly, ValueRefused
from labrecords.models import Person
from tests.factories import PASSWORD, make_person

pytestmark = pytest.mark.django_db
NEW = "tilted-drop-2026"


def choose(person, new, old=PASSWORD):
    return account.change_password(by=person, password=old, new_password=new)


# 6.2.1, 6.2.9 (2): at least 12, at least 64 allowed; 6.2.5: no rules of composition; 6.2.8: taken as typed
@pytest.mark.parametrize("new", [
    "twelve of it", "p" * 6 + "q" * 64, "только-буквы-здесь", "  spaces kept  ", "ab" * 250, "😀" * 12, "!!!!!!!!!!!?",
])  # fmt: skip
def test_long_enough_is_enough_and_every_sign_counts(at, person, new):
    choose(person, new)
    assert at().token(person.username, new).status_code == 200
    assert at().token(person.username, new[:-1]).status_code == 401
    assert at().token(person.username, new + " ").status_code == 401


# 6.2.4 (1): the common ones
@pytest.mark.parametrize("new", ["short", "eleven-of-i", "password1234", "qwertyuiop123", "1q2w3e4r5t6y"])
def test_short_or_common_is_refused(person, new):
    with pytest.raises(ValueRefused, match=r"“…” : This password is too (short|common)"):
        choose(person, new)


def test_list_of_common_passwords_has_more_than_3000_entries():
    assert len(CommonPasswordValidator().passwords) > 3000


def test_own_name_is_refused(db):
    person = make_person("operator", "bartholomew-fitz", "Bartholomew Fitz")
    with pytest.raises(ValueRefused, match="similar"):
        choose(person, "bartholomew-fitz")


# 6.2.3 (1): the present one is asked for
def test_change_asks_for_the_present_password(person):
    with pytest.raises(PasswordWrong):
        choose(person, NEW, old="wrong")
    with pytest.raises(ValueRefused, match="is the old one"):
        choose(person, PASSWORD)


# 6.2.7 (1), 6.2.6: pasting and password managers work, the field hides what is typed
def test_fields_may_be_pasted_into_and_hide_what_is_typed(client, person):
    pages = [client.get("/sign-in/").text]
    client.force_login(person)
    pages.append(client.get("/account/password/").text)
    for text in pages:
        assert "onpaste" not in text
        assert 'type="password"' in text
        assert 'autocomplete="current-password"' in text
    assert 'autocomplete="new-password"' in pages[1]


# 6.2.10 (2): nobody has to change a password because it is old
def test_old_password_still_signs_in(at, person):
    with trail.recorded("tests", "years pass"):
        Person.objects.filter(pk=person.pk).update(secret_set_at=timezone.now() - timedelta(days=3000))
    assert at().token(person.username).status_code == 200


# W20, 11.4.2 (2): argon2id with Django's parameters
def test_hash_is_argon2id(person):
    choose(person, NEW)
    person.refresh_from_db()
    assert identify_hasher(person.password).algorithm == "argon2"
    assert person.password.startswith("argon2$argon2id$v=19$m=102400,t=2,p=8$")


def test_change_stands_in_the_trail_without_the_hash(person):
    choose(person, NEW)
    event = person.events.order_by("-pgh_id").first()
    assert event.pgh_context.metadata == {"who": person.username, "why": "chosen by the person"}
    assert not hasattr(event, "password")
    assert event.secret_set_at > person.events.first().secret_set_at


@pytest.mark.django_db(transaction=True)
def test_database_refuses_a_new_hash_that_leaves_no_trace(person):
    with pytest.raises(DatabaseError, match="Cannot update rows from labrecords_person"), transaction.atomic():
        Person.objects.filter(pk=person.pk).update(password="argon2$else")
    with pytest.raises(DatabaseError, match="pgh_context"), transaction.atomic():
        Person.objects.filter(pk=person.pk).update(password="argon2$else", secret_set_at=timezone.now())
    person.refresh_from_db()
    assert person.check_password(PASSWORD)


# D14: an administrator can hand over a start password, and nothing can be done with it but to change it
def given(administrator, person):
    return people.set_start_password(by=administrator, why="forgot it", person=person)[1]


def test_start_password_leaves_the_administrators_name_and_ends_what_was_open(at, administrator, person):
    client = Client()
    client.force_login(person)
    start = given(administrator, person)
    said = person.events.order_by("-pgh_id").first().pgh_context.metadata
    assert said == {"who": administrator.username, "why": "forgot it"}
    assert client.get("/coupons/").status_code == 302
    assert at().token(person.username).status_code == 401
    assert len(start) >= 12


def test_start_password_opens_no_page_but_its_change(at, administrator, person):
    start, visitor = given(administrator, person), at()
    visitor.sign_in(person.username, start)
    for address in ("/", "/coupons/", "/account/", "/account/tokens/issue/", "/people/"):
        answer = visitor.page.get(address)
        assert (answer.status_code, answer.headers["Location"]) == (302, "/account/password/")
    assert visitor.page.get("/api/coupons/").status_code == 401
    assert "Choose your own password first" in visitor.page.get("/account/password/").text
    answer = visitor.page.post("/account/password/", {"password": start, "new_password": NEW, "again": NEW})
    assert answer.status_code == 302
    assert visitor.page.get("/coupons/").status_code == 200


def test_start_password_does_nothing_in_any_action(administrator, person):
    given(administrator, person)
    for action in (coupons.log, runs.review, account.issue_token, account.start_second_factor):
        with pytest.raises(StartPasswordOnly):
            action(by=person, why="to try")
    assert not any(access.may(person, verb) for verb in ("coupons.log", "qualifications.issue", "account.issue_token"))


def test_start_password_gives_no_token_but_takes_ones_own_at_the_api(at, administrator, person):
    start = given(administrator, person)
    refused = at().token(person.username, start)
    assert (refused.status_code, refused.json()["code"]) == (403, "StartPasswordOnly")
    assert at().token(person.username, start, new_password="short").status_code == 400
    answer = at().token(person.username, start, new_password=NEW)
    assert answer.status_code == 200
    assert at().token(person.username, start).status_code == 401


# 6.4.1 (1): a start password that nobody used ends
def test_start_password_ends_after_a_week(at, administrator, person):
    start = given(administrator, person)
    with trail.recorded("tests", "a week passes"):
        Person.objects.filter(pk=person.pk).update(secret_set_at=timezone.now() - timedelta(days=7, minutes=1))
    answer = at().token(person.username, start)
    assert (answer.status_code, answer.json()["code"]) == (401, "StartPasswordOver")


def test_added_person_has_a_start_password(administrator):
    person = people.add(by=administrator, username="new", full_name="New Hand", role="operator", password=PASSWORD)
    assert person.has_start_secret
    with pytest.raises(StartPasswordOnly):
        coupons.log(by=person, why="to try")


def test_nobody_but_the_administrator_hands_over_passwords(person):
    client = Client()
    client.force_login(make_person("quality"))
    answer = client.post(f"/people/{person.pk}/start-password/", {"why": "to try"})
    assert "may not make a start password" in answer.text
    person.refresh_from_db()
    assert person.check_password(PASSWORD)


def test_start_password_page_shows_it_once_and_is_not_kept(keeper, person, at):
    import re

    answer = keeper.post(f"/people/{person.pk}/start-password/", {"why": "forgot it"})
    start = re.search(r'id="start"[^>]*value="([^"]+)"', answer.text)[1]
    assert "no-store" in answer.headers["Cache-Control"]
    assert at().sign_in(person.username, start).status_code == 302
    assert start not in keeper.get(f"/people/{person.pk}/").text
