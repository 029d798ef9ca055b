"""W09, W10, W25 (ASVS 3.3.1 to 3.3.4, 3.4.1 to 3.4.6), statement 37: headers, cookies, and the deployment check."""

import json
import os
import subprocess
import sys

import pytest
from django.conf import settings
from django.core.checks import run_checks
from django.test import Client

from labrecords import checks
from tests.factories import make_person
from tests.labrecords.security.addresses import World

POLICY = {
    "default-src 'self'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'",
}  # fmt: skip


def in_production(*arguments, **variables):
    environment = {name: value for name, value in os.environ.items() if name != "DJANGO_ALLOW_ASYNC_UNSAFE"}
    environment |= {"LABRECORDS_HTTPS": "1"} | variables
    command = [sys.executable, str(settings.ROOT / "manage.py"), *arguments]
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=120)


# W25
def test_deployment_check_is_clean_with_nothing_silenced():
    done = in_production("check", "--deploy", "--fail-level", "WARNING")
    assert done.stderr == ""
    assert done.returncode == 0
    assert done.stdout == "System check identified no issues (0 silenced).\n"


@pytest.mark.thorough
@pytest.mark.parametrize(("variables", "expected"), [
    ({"LABRECORDS_HTTPS": "0"}, "security.W004"),
    ({"LABRECORDS_HTTPS": "0"}, "labrecords.W005"),
    ({"LABRECORDS_DEBUG": "1"}, "security.W018"),
    ({"LABRECORDS_SECRET_KEY": "short"}, "security.W009"),
])  # fmt: skip
def test_deployment_check_fails_where_something_is_wrong(variables, expected):
    """Negative control."""
    done = in_production("check", "--deploy", "--fail-level", "WARNING", **variables)
    assert done.returncode == 1
    assert expected in done.stderr


@pytest.mark.parametrize("name", ["LABRECORDS_SESSION_IDLE_MINUTES", "LABRECORDS_SESSION_HOURS",
                                  "LABRECORDS_BLOCK_MINUTES", "LABRECORDS_TOKEN_DAYS"])  # fmt: skip
@pytest.mark.parametrize("value", ["0", "-1", "ten", "1e3", "٣", "999999"])
def test_limit_that_is_none_stops_the_start_with_one_sentence(name, value, monkeypatch):
    from labrecords import settings as read
    from labrecords.errors import SettingRefused

    monkeypatch.setenv(name, value)
    with pytest.raises(SettingRefused, match=f"Setting {name}: “{value}” is no"):
        read._number(name, 1, 1, 1440)


@pytest.mark.parametrize(("changed", "number"), [
    ({"CONTENT_SECURITY_POLICY": {"DIRECTIVES": {"default-src": ["'self'", "'unsafe-inline'"]}}}, 1),
    ({"CONTENT_SECURITY_POLICY": None}, 1),
    ({"SESSION_LONGEST": settings.SESSION_LONGEST * 100}, 2),
    ({"DATA_UPLOAD_MAX_MEMORY_SIZE": None}, 3),
    ({"DATA_UPLOAD_MAX_NUMBER_FIELDS": None}, 3),
    ({"AXES_ENABLED": False}, 4),
    ({"AUTHENTICATION_BACKENDS": ["django.contrib.auth.backends.ModelBackend"]}, 4),
])  # fmt: skip
def test_own_checks_see_what_django_does_not(settings, changed, number):
    for name, value in changed.items():
        setattr(settings, name, value)
    found = {message.id for message in run_checks(include_deployment_checks=True)}
    assert f"labrecords.W00{number}" in found


@pytest.mark.django_db
def test_check_of_the_database_role_asks_the_database():
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_tables WHERE tablename ~ '^labrecords_' AND tableowner = current_user")
        owned = cursor.fetchone()[0]
    found = checks.working_role_owns_no_record(None, databases=["default"])
    assert [message.id for message in found] == (["labrecords.W006"] if owned else [])


# W09 and W10: what production sends, asked in a process of its own
SCRIPT = """
import json, django
django.setup()
from django.test import Client
client = Client(SERVER_NAME="localhost")
plain, page = client.get("/sign-in/"), client.get("/sign-in/", secure=True)
print(json.dumps({"status": plain.status_code, "to": plain.headers["Location"], "headers": dict(page.headers),
                  "cookies": {name: dict(morsel) for name, morsel in page.cookies.items()}}))
from django.conf import settings
print(json.dumps({name: getattr(settings, name) for name in dir(settings) if "COOKIE" in name}, default=str))
"""


@pytest.fixture(scope="module")
def production():
    environment = os.environ | {"LABRECORDS_HTTPS": "1", "DJANGO_SETTINGS_MODULE": "labrecords.settings"}
    done = subprocess.run([sys.executable, "-c", SCRIPT], env=environment, capture_output=True, text=True, check=True,
                          cwd=settings.ROOT, timeout=120)  # fmt: skip
    answer, cookies = done.stdout.splitlines()
    return json.loads(answer) | {"settings": json.loads(cookies)}


def test_production_sends_everybody_to_https_for_a_year(production):
    assert (production["status"], production["to"]) == (301, "https://localhost/sign-in/")
    sent = production["headers"]["Strict-Transport-Security"]
    assert sent == "max-age=31536000; includeSubDomains; preload"


def test_cookies_of_production_are_bound_to_host_and_https(production):
    assert set(production["cookies"]) == {"__Host-csrf"}
    for morsel in production["cookies"].values():
        assert (morsel["secure"], morsel["httponly"], morsel["samesite"]) == (True, True, "Lax")
        assert (morsel["path"], morsel["domain"]) == ("/", "")
    told = production["settings"]
    assert told["SESSION_COOKIE_NAME"] == "__Host-session"
    assert told["SESSION_COOKIE_SECURE"] is told["SESSION_COOKIE_HTTPONLY"] is True
    assert told["SESSION_COOKIE_DOMAIN"] is told["CSRF_COOKIE_DOMAIN"] is None


def assert_headers(answer, address):
    sent = answer.headers
    assert set(sent["Content-Security-Policy"].split("; ")) == POLICY, address
    assert sent["X-Content-Type-Options"] == "nosniff", address
    assert sent["Referrer-Policy"] == "same-origin", address
    assert sent["Cross-Origin-Opener-Policy"] == "same-origin", address
    assert sent["X-Frame-Options"] == "DENY", address
    assert "camera=()" in sent["Permissions-Policy"], address


@pytest.mark.django_db
def test_every_answer_carries_the_headers():
    world, client = World(make_person("quality")), Client()
    for address in ["/no/such/page/", "/api/no/such/", "/coupons/%00/", "/static/labrecords/lab.css", "/sign-in/"]:
        assert_headers(client.head(address), address)  # HEAD: a static file need not be closed
    assert_headers(client.get("/", headers={"host": "elsewhere.example"}), "foreign host")
    client.force_login(world.person)
    for address in world.addresses():
        assert_headers(client.get(address), address)
        assert_headers(client.post(address), address)


@pytest.mark.django_db
def test_policy_has_nothing_to_allow(client):
    """No page holds inline script, style or handler; the figures style themselves by attributes."""
    import re

    world = World(make_person("quality"))
    client.force_login(world.person)
    inline = re.compile(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=|javascript:|<base|<object|<embed|<iframe")
    for address in world.addresses():
        answer = client.get(address)
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            assert inline.findall(answer.text) == [], address
