"""W21 (ASVS 6.5.2, 13.3.1, 14.2.1, 11.5.1), statement 36: API tokens."""

import re
from datetime import timedelta

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from labrecords.actions import account
from labrecords.errors import PasswordWrong, UnknownCode, ValueRefused
from labrecords.models import ApiToken
from tests.factories import PASSWORD, make_lab, make_lot, make_person

pytestmark = pytest.mark.django_db
LOT = {"code": "S-1", "material": "Glass", "form": "plate"}


def issue(person, **fields):
    return account.issue_token(by=person, password=PASSWORD, **{"name": "rig"} | fields)


def bearer(token):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    return client


@pytest.fixture
def person(db):
    return make_person("developer")


# 13.3.1, 11.5.1: 128 bit or more, kept as a digest only
def test_token_is_256_random_bits_and_only_its_digest_is_stored(person):
    tokens = {issue(person)[1] for _ in range(5)}
    assert len(tokens) == 5
    assert all(re.fullmatch(r"[0-9a-f]{64}", token) for token in tokens)  # limit: 64 × 4 = 256 bit
    stored = str(
        [*AuthToken.objects.values(), *ApiToken.objects.values(), *ApiToken.events.rel.related_model.objects.values()]
    )
    assert not any(token in stored for token in tokens)


def test_token_is_shown_once_on_the_page_that_issued_it(person):
    client = Client()
    client.force_login(person)
    body = {"name": "balance script", "scope": "read", "days": "30", "password": PASSWORD}
    answer = client.post("/account/tokens/issue/", body)
    token = re.search(r'id="token"[^>]*value="([0-9a-f]{64})"', answer.text)[1]
    assert "no-store" in answer.headers["Cache-Control"]
    assert bearer(token).get("/api/coupons/").status_code == 200
    later = client.get("/account/").text
    assert "balance script" in later
    assert token not in later


def test_issuing_asks_for_the_password(person):
    with pytest.raises(PasswordWrong):
        account.issue_token(by=person, password="wrong", name="rig")
    assert ApiToken.objects.count() == 0


# scope, centrally
def test_token_that_reads_only_is_refused_every_post_but_sign_out(person):
    make_lot(make_person("quality"))
    row, token = issue(person, scope="read")
    client = bearer(token)
    assert client.get("/api/materials/").status_code == 200
    posts = [address for address in post_addresses() if address != "/api/sign-in/"]
    assert len(posts) > 40
    answers = {address: client.post(address, {}, format="json") for address in posts if address != "/api/sign-out/"}
    assert {a: r.status_code for a, r in answers.items() if r.json().get("code") != "TokenReadsOnly"} == {}
    assert {r.status_code for r in answers.values()} == {403}
    for method in ("put", "patch", "delete"):
        assert getattr(client, method)("/api/materials/", {}, format="json").status_code == 403
    assert client.post("/api/sign-out/").status_code == 204
    assert client.get("/api/materials/").status_code == 401
    row.refresh_from_db()
    assert row.revoked_at is not None


def post_addresses():
    """Every address of the API that takes POST, from the URL list itself."""
    from django.urls import get_resolver

    def walk(patterns, prefix):
        for pattern in patterns:
            if hasattr(pattern, "url_patterns"):
                yield from walk(pattern.url_patterns, prefix + str(pattern.pattern))
            else:
                yield prefix + str(pattern.pattern), pattern.callback

    found = set()
    for text, view in walk(get_resolver().url_patterns, "/"):
        actions = getattr(view, "actions", None) or {}
        takes = "post" in actions or hasattr(getattr(view, "cls", None), "post")
        if text.startswith("/api/") and takes:
            found.add(re.sub(r"\(\?P<\w+>[^)]*\)|<[^>]+>", "1", text).replace("^", "").replace(r"\Z", "").rstrip("$"))
    return sorted(found)


def test_token_that_may_write_writes(person):
    make_lab(make_person("quality"))
    token = issue(person, scope="write")[1]
    assert bearer(token).post("/api/materials/", LOT, format="json").status_code == 201


def test_sign_in_may_ask_for_a_token_that_reads_only(at, person):
    token = at().token(person.username, scope="read").json()["token"]
    assert bearer(token).post("/api/materials/", LOT, format="json").status_code == 403
    assert at().token(person.username, scope="everything").status_code == 400


@pytest.mark.parametrize("scope", ["", "admin", "write read"])
def test_unknown_scope_is_refused(person, scope):
    with pytest.raises(ValueRefused):
        issue(person, scope=scope)


# expiry
@pytest.mark.parametrize("days", [0, -1, settings.TOKEN_DAYS + 1, 10**6])
def test_token_is_valid_within_the_limits_only(person, days):
    with pytest.raises(ValueRefused, match="is not between 1 and 90"):
        issue(person, days=days)


def test_token_ends_when_its_time_is_over_even_if_knox_kept_it(person):
    row, token = issue(person, days=1)
    assert timedelta(hours=23) < row.expires_at - timezone.now() <= timedelta(days=1)
    AuthToken.objects.update(expiry=None)
    assert bearer(token).get("/api/coupons/").status_code == 200
    from labrecords import trail

    with trail.recorded("tests", "a day passes"):
        ApiToken.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    assert bearer(token).get("/api/coupons/").status_code == 401


def test_token_that_nobody_issued_here_is_none(person):
    _, token = AuthToken.objects.create(user=person)
    assert bearer(token).get("/api/coupons/").status_code == 401


def test_token_whose_row_was_moved_to_somebody_else_is_none(person):
    token = issue(person)[1]
    AuthToken.objects.update(user=make_person("administrator"))
    assert bearer(token).get("/api/account/").status_code == 401
    AuthToken.objects.update(user=person)
    assert bearer(token).get("/api/account/").json()["username"] == person.username


# last use
def test_last_use_is_seen_and_written_at_most_once_a_minute(person, django_assert_max_num_queries):
    row, token = issue(person)
    assert row.last_used_at is None
    bearer(token).get("/api/coupons/")
    row.refresh_from_db()
    first = row.last_used_at
    assert timezone.now() - first < timedelta(seconds=20)
    bearer(token).get("/api/coupons/")
    row.refresh_from_db()
    assert row.last_used_at == first


# revoke
def test_revoked_token_works_no_more_and_stays_listed_with_trace(person):
    row, token = issue(person)
    client = Client()
    client.force_login(person)
    assert client.post(f"/account/tokens/{row.pk}/revoke/").status_code == 302
    assert bearer(token).get("/api/coupons/").status_code == 401
    assert "revoked" in client.get("/account/").text
    said = [event.pgh_context.metadata["why"] for event in row.events.order_by("pgh_id")]
    assert said == ["token for a program", "token revoked"]


def test_nobody_sees_or_revokes_another_persons_token(person):
    row, token = issue(person)
    stranger = make_person("administrator")
    with pytest.raises(UnknownCode):
        account.revoke_token(by=stranger, token=row)
    page, api = Client(), APIClient()
    page.force_login(stranger)
    api.force_authenticate(stranger)
    assert page.post(f"/account/tokens/{row.pk}/revoke/").status_code == 404
    assert api.get(f"/api/tokens/{row.pk}/").status_code == 404
    assert api.post(f"/api/tokens/{row.pk}/revoke/", {}, format="json").status_code == 404
    assert api.get("/api/tokens/").json()["count"] == 0
    assert bearer(token).get("/api/coupons/").status_code == 200


def test_list_issue_and_revoke_at_the_api(person):
    client = bearer(issue(person, scope="write")[1])
    body = {"name": "second", "scope": "read", "days": 5, "password": PASSWORD}
    made = client.post("/api/tokens/", body, format="json")
    assert made.status_code == 201
    assert bearer(made.json()["token"]).get("/api/coupons/").status_code == 200
    listed = client.get("/api/tokens/").json()["results"]
    assert [row["name"] for row in listed] == ["second", "rig"]
    assert not any("token" in row or "digest" in row for row in listed)
    assert client.post("/api/tokens/", body | {"password": "wrong"}, format="json").status_code == 403
    revoked = client.post(f"/api/tokens/{made.json()['id']}/revoke/", {}, format="json")
    assert revoked.json()["revoked_at"]


# never in a URL
def test_token_in_the_address_is_not_looked_at(person):
    token = issue(person)[1]
    for name in ("token", "auth", "access_token", "Authorization"):
        assert APIClient().get(f"/api/coupons/?{name}={token}").status_code == 401


@pytest.mark.parametrize("header", ["Token \xff", "Token " + "é" * 64, "Token " + "0" * 10_000, "token", "Token\t1"])
def test_odd_headers_are_no_fault(db, header):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=header)
    assert client.get("/api/coupons/").status_code == 401
