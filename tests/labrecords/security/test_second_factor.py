"""The second factor (ASVS 6.3.3, optional here; 6.5.1): asked for where it is on, each code once, reset with trace."""

import base64
import hmac
import re
import struct
import time

import pytest
from django_otp.plugins.otp_totp.models import TOTPDevice

from labrecords.actions import account, people
from labrecords.errors import CodeRefused, NotFromThisState, PasswordWrong
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db


def code_of(key, at=None):
    """Independent: RFC 6238 with RFC 4226's truncation, from the standard library alone."""
    counter = struct.pack(">Q", int(time.time() if at is None else at) // 30)
    digest = hmac.new(key, counter, "sha1").digest()
    start = digest[-1] & 15
    return f"{(struct.unpack('>I', digest[start : start + 4])[0] & 0x7FFFFFFF) % 10**6:06d}"


def test_code_of_this_test_is_that_of_the_standard():
    # published: RFC 6238, appendix B, SHA-1, time 59 s gives 94287082 (8 digits; its last six here)
    assert code_of(b"12345678901234567890", 59) == "287082"


@pytest.fixture
def key(person):
    """The secret of a person who has turned it on by the action; the code that did it is used up."""
    device = account.start_second_factor(by=person, password=PASSWORD)
    account.confirm_second_factor(by=person, code=code_of(device.bin_key))
    TOTPDevice.objects.update(last_t=-1)  # so that tests need not wait for the next half minute
    return device.bin_key


def test_password_alone_no_longer_signs_in_at_page_and_api(at, person, key):
    assert "six-digit code" in at().sign_in(person.username).text
    answer = at().token(person.username)
    assert (answer.status_code, answer.json()["code"], answer.json()["field"]) == (401, "CodeRefused", "code")


@pytest.mark.parametrize("code", ["000000", "abcdef", "١٢٣٤٥٦", "12345", "1e5", "0" * 500])
def test_wrong_code_is_refused(at, person, key, code):
    answer = at().token(person.username, code=code)
    assert answer.status_code == 401
    assert at().sign_in(person.username, code=code[:20]).status_code == 200


def test_right_code_signs_in_once(at, person, key):
    code = code_of(key)
    assert at().sign_in(person.username, code=f"{code[:3]} {code[3:]}").status_code == 302
    assert at().token(person.username, code=code).status_code == 401


def test_right_code_with_a_wrong_password_tells_nothing_and_is_not_used_up(at, person, key):
    code = code_of(key)
    wrong = at().token(person.username, "wrong", code=code)
    assert wrong.json()["code"] == "SignInRefused"
    assert at().token(person.username, code=code).status_code == 200


def test_guessing_codes_is_limited(at, person, key):
    answers = [at().token(person.username, code="000000").status_code for _ in range(7)]
    assert answers == [401] * 5 + [429] * 2


def test_turning_on_asks_for_password_and_code_by_pages(at, person):
    visitor = at()
    visitor.sign_in(person.username)
    assert "That is not your password" in visitor.page.post("/account/second-factor/start/", {"password": "x"}).text
    assert not TOTPDevice.objects.exists()
    visitor.page.post("/account/second-factor/start/", {"password": PASSWORD})
    shown = visitor.page.get("/account/second-factor/confirm/")
    assert "no-store" in shown.headers["Cache-Control"]
    assert shown.text.count("<svg") == 1
    key = base64.b32decode(re.search(r"<code>([A-Z2-7 ]+)</code>", shown.text)[1].replace(" ", ""))
    assert visitor.page.post("/account/second-factor/confirm/", {"code": "000000"}).status_code == 200
    assert at().token(person.username).status_code == 200  # not on yet
    TOTPDevice.objects.update(throttling_failure_count=0)
    assert visitor.page.post("/account/second-factor/confirm/", {"code": code_of(key)}).status_code == 302
    assert at().token(person.username).status_code == 401


def test_looking_at_the_secret_again_is_not_possible_once_it_is_on(client, person, key):
    client.force_login(person)
    assert client.get("/account/second-factor/confirm/").status_code == 404
    with pytest.raises(NotFromThisState):
        account.start_second_factor(by=person, password=PASSWORD)


def test_turning_off_asks_for_the_password_and_a_reason(at, person, key):
    with pytest.raises(PasswordWrong):
        account.end_second_factor(by=person, why="new phone", password="wrong")
    account.end_second_factor(by=person, why="new phone", password=PASSWORD)
    assert at().token(person.username).status_code == 200


def test_administrator_resets_it_with_trace(at, person, administrator, key):
    people.reset_second_factor(by=administrator, why="lost the phone", person=person)
    said = person.events.order_by("-pgh_id").first()
    assert (said.has_second_factor, said.pgh_context.metadata["who"]) == (False, administrator.username)
    assert at().token(person.username).status_code == 200


def test_other_people_have_their_own(person, administrator, key):
    device = account.start_second_factor(by=administrator, password=PASSWORD)
    with pytest.raises(CodeRefused):
        account.confirm_second_factor(by=administrator, code=code_of(key))
    assert device.bin_key != key


def test_at_the_api(at, person):
    visitor = at()
    visitor.api.credentials(HTTP_AUTHORIZATION=f"Token {visitor.token(person.username).json()['token']}")

    def post(address, **body):
        return visitor.api.post(f"/api/account/{address}/", body, format="json")

    assert post("second-factor/start", password="wrong").status_code == 403
    started = post("second-factor/start", password=PASSWORD).json()
    key = base64.b32decode(started["key"])
    assert post("second-factor/confirm", code=code_of(key)).json()["has_second_factor"] is True
    assert post("second-factor/end", password=PASSWORD).status_code == 400  # a reason is asked for
    assert post("second-factor/end", password=PASSWORD, why="new phone").json()["has_second_factor"] is False


def test_qr_code_is_drawn_of_rectangles_and_holds_no_text_of_the_secret():
    from labrecords.reports.qr import qr_svg

    svg = qr_svg("otpauth://totp/ada?secret=GEZDGNBVGY3TQOJQ", "code")
    assert set(re.findall(r"<(\w+)", svg)) == {"svg", "title", "rect"}
    assert "GEZDGNBVGY3TQOJQ" not in svg


def test_administrator_never_sees_a_secret(keeper, person, key):
    text = base64.b32encode(key).decode()
    for address in (f"/people/{person.pk}/", "/people/", "/people/log/", "/api/people/", f"/api/people/{person}/"):
        body = keeper.get(address).content.decode()
        assert text not in body
        assert key.hex() not in body
