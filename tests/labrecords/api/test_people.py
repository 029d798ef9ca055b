"""Sign-in by token, sign-out, who is refused."""

import hashlib

import pytest
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from labrecords.actions import people
from labrecords.models import Person
from tests.factories import PASSWORD, make_coupon, make_person
from tests.labrecords.api.conftest import Caller

pytestmark = pytest.mark.django_db
REFUSED = {
    "code": "SignInRefused",
    "field": "username",
    "message": "Sign-in name and password do not fit, or the person has been disabled.",
}


def sign_in(username, password=PASSWORD):
    answer = APIClient().post("/api/sign-in/", {"username": username, "password": password}, format="json")
    return answer.status_code, answer.json()


def test_token_is_shown_once_and_stored_as_digest_only():
    status, data = sign_in(make_person("operator", "Bench1".lower()).username)
    assert (status, set(data)) == (200, {"token", "expiry"})
    stored = AuthToken.objects.get()
    assert stored.digest != data["token"]
    assert data["token"] not in {str(value) for value in vars(stored).values()}
    # hand: the library states SHA-512 of the token's characters
    assert stored.digest == hashlib.sha512(data["token"].encode()).hexdigest()


def test_sign_in_takes_the_name_in_any_case():
    make_person("operator", "ada")
    assert sign_in("ADA")[0] == 200


@pytest.mark.parametrize("password", ["wrong-password-9", PASSWORD.upper(), PASSWORD + " "])
def test_wrong_password_is_refused(password):
    assert sign_in(make_person().username, password) == (401, REFUSED)


def test_unknown_name_gets_the_same_answer_as_a_wrong_password():
    assert sign_in("nobody") == (401, REFUSED)


def test_administrator_gives_himself_no_other_role(administrator):
    make_person("administrator")  # so that he is not the last one
    own = administrator.person
    said = administrator.post(f"people/{own.username}/change-role/", {"why": "curious", "role": "quality"})
    assert (said[0], said[1]["code"], "is you" in said[1]["message"]) == (400, "ValueRefused", True), said
    own.refresh_from_db()
    assert own.role == "administrator"


def test_disabled_person_is_refused_at_sign_in_and_with_an_older_token(administrator):
    caller = Caller(make_person("operator"))
    assert caller.get("coupons/")[0] == 200
    status, data = administrator.post(f"people/{caller.person.username}/disable/", {"why": "left the lab"})
    assert (status, data["is_active"]) == (200, False)
    assert caller.get("coupons/")[0] == 401
    assert sign_in(caller.person.username) == (401, REFUSED)


def test_sign_out_ends_the_token(operator):
    assert operator.post("sign-out/") == (204, None)
    assert AuthToken.objects.count() == 0
    status, data = operator.get("coupons/")
    assert (status, data["code"]) == (401, "AuthenticationFailed")


def test_expired_token_is_refused(operator):
    AuthToken.objects.update(expiry=timezone.now() - timezone.timedelta(seconds=1))
    assert operator.get("coupons/")[0] == 401


@pytest.mark.parametrize("header", ["", "Token ", "Token 0123", "Bearer x", "Token a b"])
def test_stranger_is_refused(header):
    client = APIClient()
    if header:
        client.credentials(HTTP_AUTHORIZATION=header)
    answer = client.get("/api/coupons/")
    assert answer.status_code == 401
    assert set(answer.json()) == {"code", "field", "message"}


def test_administrator_adds_a_person_whose_password_never_comes_back(administrator):
    body = {
        "username": "Grace",
        "full_name": "Grace of the bench",
        "role": "operator",
        "password": "tilted-drop-2026",
    }
    status, data = administrator.post("people/", body)
    assert (status, data["username"], data["role"]) == (201, "grace", "operator")
    assert "password" not in data
    assert Person.objects.get(username="grace").check_password("tilted-drop-2026")
    assert "password" not in str(administrator.get("people/grace/history/"))
    assert administrator.get("people/", role="operator")[1]["count"] == 1


def test_role_without_the_verb_is_refused_in_the_words_of_the_action(operator):
    status, data = operator.post(
        "people/", {"username": "x", "full_name": "X", "role": "quality", "password": PASSWORD}
    )
    assert (status, data["code"]) == (403, "NotAllowed")
    assert data["message"] == f"{operator.person.full_name} may not add people: that is open to administrator."


def test_nobody_makes_himself_something_else(administrator):
    body = {"username": "x", "full_name": "X", "role": "operator", "password": PASSWORD, "is_active": False}
    status, data = administrator.post("people/", body)
    assert (status, data["code"], data["field"]) == (400, "ValueRefused", "is_active")


def test_administrator_does_not_write_measured_data(administrator):
    coupon = make_coupon(make_person())
    status, data = administrator.post(f"coupons/{coupon.code}/move/", {"state": "lost", "why": "tidy"})
    assert (status, data["code"]) == (403, "NotAllowed")


def test_people_disable_asks_for_a_reason(administrator):
    person = people.add(by=administrator.person, username="tmp", full_name="T", role="operator", password=PASSWORD)
    status, data = administrator.post(f"people/{person.username}/disable/")
    assert (status, data["code"], data["field"]) == (400, "ReasonMissing", "why")
