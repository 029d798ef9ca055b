"""W23 (ASVS 16.5.1, 16.5.3, 13.4.2): a fault shows nothing of the inside, and closes."""

import pytest
from django.conf import settings
from django.db import OperationalError
from django.test import Client

from labrecords.errors import Refusal
from labrecords.web import today
from tests.factories import PASSWORD, make_person

INSIDE = [
    "Traceback",
    "SELECT",
    "psycopg",
    str(settings.ROOT),
    "labrecords/web",
    ".py",
    "site-packages",
    "secret-in-the-fault",
]


@pytest.fixture
def page(db):
    client = Client(raise_request_exception=False)
    client.force_login(make_person())
    return client


def fault(*args, **kwargs):
    raise ValueError("SELECT secret-in-the-fault FROM labrecords_person")


@pytest.mark.parametrize("problem", [ValueError, OperationalError, KeyError, RecursionError])
def test_fault_of_a_page_shows_nothing_of_the_inside(page, monkeypatch, problem):
    def broken(now):
        raise problem("SELECT secret-in-the-fault FROM labrecords_person")

    monkeypatch.setattr(today, "_running", broken)
    answer = page.get("/")
    assert answer.status_code == 500
    assert [word for word in INSIDE if word in answer.content.decode()] == []


def test_fault_of_the_api_shows_nothing_of_the_inside(page, monkeypatch):
    from labrecords.api import rows

    monkeypatch.setattr(rows.Filters, "filter_queryset", fault)
    answer = page.get("/api/coupons/")
    assert answer.status_code == 500
    assert [word for word in INSIDE if word in answer.content.decode()] == []


@pytest.mark.parametrize("address", ["/no/such/", "/api/no/such/", "/coupons/NONE-26-0001-X/", "/runs/none/",
                                     "/qualifications/none/file/", "/static/../settings.py", "/static/none.css",
                                     "/.env", "/.git/config", "/requirements.txt", "/admin/"])  # fmt: skip
def test_what_is_not_there_shows_nothing_of_the_inside(page, address):
    answer = page.get(address)
    assert answer.status_code == 404
    body = answer.content.decode()
    assert [word for word in INSIDE if word in body] == []
    assert "urlpatterns" not in body
    assert "DEBUG" not in body


def test_debug_is_off_unless_asked_for():
    assert settings.DEBUG is False


def test_fault_in_the_check_of_a_password_lets_nobody_in(db, at, monkeypatch):
    from labrecords.models import Person

    person, visitor = make_person(), at()
    visitor.page.raise_request_exception = False
    monkeypatch.setattr(Person, "check_password", fault)
    assert visitor.sign_in(person.username).status_code == 500
    assert visitor.page.get("/coupons/").status_code == 302


def test_fault_in_the_counting_of_failures_lets_nobody_in(db, at, monkeypatch):
    from labrecords.sign_in import Attempts

    person, visitor = make_person(), at()
    visitor.page.raise_request_exception = visitor.api.raise_request_exception = False
    monkeypatch.setattr(Attempts, "get_failures", fault)
    assert visitor.sign_in(person.username).status_code == 500
    assert visitor.token(person.username, PASSWORD).status_code == 500
    assert visitor.page.get("/coupons/").status_code == 302


def test_fault_in_the_table_of_roles_lets_nobody_act(db, monkeypatch):
    from labrecords import access
    from labrecords.actions import projects

    person = make_person()
    monkeypatch.setattr(access, "may", fault)
    with pytest.raises(ValueError):
        projects.start(by=person, code="X", title="X")
    monkeypatch.setattr(access, "may", lambda *a: False)
    with pytest.raises(Refusal):
        projects.start(by=person, code="X", title="X")
