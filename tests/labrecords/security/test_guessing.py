"""W18 (ASVS 6.1.1, 6.3.1, 2.4.1), statement 35: guessing is limited per account and address, and written down."""

from collections import Counter
from datetime import timedelta

import pytest
from axes.models import AccessAttempt
from django.conf import settings
from django.utils import timezone

from labrecords import sign_in
from labrecords.actions import people
from labrecords.errors import TooManyAttempts
from tests.factories import PASSWORD, make_person

pytestmark = pytest.mark.django_db


WRONG = "not-the-password"


def fail(at, username, times, address="192.0.2.1"):
    visitor = at(address)
    return Counter(visitor.token(username, WRONG).status_code for _ in range(times))


def count(username, address, n):
    """n failures that were counted just now, without hashing n passwords."""
    AccessAttempt.objects.create(
        username=sign_in.counted_as(username),
        ip_address=address,
        failures_since_start=n,
        user_agent=str(AccessAttempt.objects.count()),
        attempt_time=timezone.now(),
    )


def let_pass(minutes):
    for row in AccessAttempt.objects.all():
        AccessAttempt.objects.filter(pk=row.pk).update(attempt_time=row.attempt_time - timedelta(minutes=minutes))


@pytest.mark.parametrize("n", [50, pytest.param(1000, marks=pytest.mark.slow)])
def test_guesses_give_five_wrong_and_refusals_from_then_on_with_an_entry_each(at, person, events, stored, n):
    answers = fail(at, person.username, n)
    assert answers == {401: sign_in.AT_ADDRESS, 429: n - sign_in.AT_ADDRESS}
    expected = {"sign-in failed": 5, "too many attempts": n - 5}
    assert Counter(events()) == expected
    assert Counter(stored()) == expected


def test_right_password_is_refused_while_the_block_lasts_in_the_same_words_on_page_and_api(at, person):
    fail(at, person.username, 5)
    page, api = at().sign_in(person.username), at().token(person.username)
    assert (page.status_code, api.status_code) == (429, 429)
    assert api.json()["code"] == "TooManyAttempts"
    assert api.json()["message"] in page.text
    assert "Try again in 15 min, or ask an administrator" in page.text
    assert page.headers["Retry-After"] == api.headers["Retry-After"] == str(15 * 60)


def test_owner_signs_in_from_another_address_meanwhile(at, person):
    fail(at, person.username, 20)
    assert at("192.0.2.2").token(person.username).status_code == 200


def test_somebody_else_signs_in_from_the_same_address_meanwhile(at, person):
    fail(at, person.username, 20)
    assert at().token(make_person().username).status_code == 200


@pytest.mark.parametrize(("n", "status"), [(sign_in.OF_ADDRESS - 1, 200), (sign_in.OF_ADDRESS, 429)])
def test_one_address_that_fails_with_many_names_is_blocked_for_all(at, person, n, status):
    for number in range(n):
        count(f"name{number}", "192.0.2.1", 1)
    assert at().token(person.username).status_code == status
    assert at("192.0.2.2").token(person.username).status_code == 200


@pytest.mark.parametrize(("n", "status"), [(sign_in.OF_ACCOUNT - 1, 200), (sign_in.OF_ACCOUNT, 429)])
def test_name_that_fails_from_many_addresses_is_blocked_everywhere_at_the_stated_measure(at, person, n, status):
    for number in range(n):
        count(person.username, f"198.51.{number}.1", 1)
    assert at("203.0.113.9").token(person.username).status_code == status
    assert at("203.0.113.9").token(make_person().username).status_code == 200


def test_block_ends_after_the_stated_time_and_attempts_meanwhile_do_not_lengthen_it(at, person):
    fail(at, person.username, 5)
    let_pass(settings.AXES_COOLOFF_TIME.total_seconds() / 60 - 1)
    assert fail(at, person.username, 3) == {429: 3}
    let_pass(1.1)
    assert at().token(person.username).status_code == 200


def test_success_forgets_failures_of_that_name_at_that_address_only(at, person):
    other = make_person()
    fail(at, person.username, 4)
    fail(at, other.username, 4)
    assert at().token(person.username).status_code == 200
    assert fail(at, person.username, 5) == {401: 5}
    assert fail(at, other.username, 2) == {401: 1, 429: 1}


def test_an_own_success_does_not_reset_the_count_of_the_address(at, person):
    for number in range(sign_in.OF_ADDRESS):
        count(f"name{number}", "192.0.2.1", 1)
    count(person.username, "192.0.2.1", 1)
    people.lift_block(by=make_person("administrator"), why="asked", person=person)
    assert at().token(person.username).status_code == 429


def test_administrator_lifts_the_block_by_page_with_a_reason(at, person, keeper, events):
    fail(at, person.username, 5)
    address = f"/people/{person.pk}/lift-block/"
    assert "Say why" in keeper.post(address, {"why": ""}).text
    assert at().token(person.username).status_code == 429
    assert keeper.post(address, {"why": "forgot the new password"}).status_code == 302
    assert at().token(person.username).status_code == 200
    assert "people.lift_block" in events()


def test_block_counts_any_call_of_authenticate_with_a_request(at, person, rf):
    from django.contrib.auth import authenticate

    def signing(password):
        return authenticate(rf.post("/", REMOTE_ADDR="192.0.2.1"), username=person.username, password=password)

    assert [signing("wrong") for _ in range(5)] == [None] * 5
    with pytest.raises(TooManyAttempts):
        signing(PASSWORD)


def test_asking_for_the_password_again_is_limited_too(at, person):
    page = at().page
    page.force_login(person)
    body = {"password": "wrong", "new_password": "tilted-drop-2026", "again": "tilted-drop-2026"}
    answers = [page.post("/account/password/", body).status_code for _ in range(6)]
    assert answers == [200] * 5 + [429]
    assert page.post("/account/password/", body | {"password": PASSWORD}).status_code == 429


def test_ipv6_household_counts_as_one_address(at, person):
    for number in range(5):
        fail(at, person.username, 1, f"2001:db8:0:1::{number:x}")
    assert at("2001:db8:0:1:ffff::1").token(person.username).status_code == 429
    assert at("2001:db8:0:2::1").token(person.username).status_code == 200


def test_ipv4_address_written_as_ipv6_counts_as_itself(at, person, rf):
    written = {"::ffff:192.0.2.1": "192.0.2.1", "::ffff:c633:6407": "198.51.100.7", "192.0.2.1": "192.0.2.1"}
    assert {text: sign_in.address_of(rf.get("/", REMOTE_ADDR=text)) for text in written} == written
    fail(at, person.username, 5, "::ffff:192.0.2.1")
    assert at("192.0.2.1").token(person.username).status_code == 429
    assert at("::ffff:198.51.100.7").token(person.username).status_code == 200


@pytest.mark.parametrize("username", ["x" * 5000, "a\r\nb", "  ", "Ünïcode", "'; DROP TABLE x; --"])
def test_odd_names_are_counted_and_no_fault(at, username):
    answer = at().token(username)
    assert answer.status_code in (400, 401)
    assert at().sign_in(username).status_code == 200


def test_capitals_and_spaces_do_not_give_further_guesses(at, person):
    for number in range(5):
        fail(at, person.username.upper() if number % 2 else f" {person.username} ", 1)
    assert at().token(person.username).status_code == 429


def test_what_else_was_in_the_form_is_not_kept(at, person):
    at().sign_in(person.username, "wrong-secret-1", code="123456", next="/?q=wrong-secret-2")
    row = AccessAttempt.objects.get()
    assert (row.get_data, row.post_data) == ("", "")


def test_unknown_and_known_names_are_blocked_alike(at, person):
    assert fail(at, "nobody-of-that-name", 7) == fail(at, person.username, 7)


def test_tokens_that_are_none_are_counted_apart_and_block_no_person(at, person):
    def knock(address):
        visitor = at(address)
        visitor.api.credentials(HTTP_AUTHORIZATION="Token " + "0" * 64)
        return visitor.api.get("/api/coupons/").status_code

    answers = Counter(knock("192.0.2.1") for _ in range(sign_in.OF_TOKENS + 10))
    assert answers == {401: sign_in.OF_TOKENS, 429: 10}
    assert knock("192.0.2.2") == 401
    good = at()
    token = good.token(person.username)
    assert token.status_code == 200
    good.api.credentials(HTTP_AUTHORIZATION=f"Token {token.json()['token']}")
    assert good.api.get("/api/coupons/").status_code == 200
