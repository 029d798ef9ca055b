"""W23 (ASVS 16.5.1, 16.5.3, 13.4.2): a fault shows nothing of the inside, and closes."""

import importlib
import pkgutil

import pytest
from django.conf import settings
from django.db import OperationalError
from django.test import Client

from labrecords import access, actions
from labrecords.errors import Refusal
from labrecords.models import SubstrateLot
from labrecords.verbs import DOES, LOOKS, in_words
from labrecords.web import doors, today
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


@pytest.mark.parametrize(("role", "back"), [("operator", "today’s page"), ("administrator", "your first page")])
def test_what_is_not_there_is_a_page_of_the_site_with_a_way_back(page, role, back):
    page.force_login(make_person(role))
    answer = page.get("/no/such/")
    assert (answer.status_code, answer["Content-Type"]) == (404, "text/html; charset=utf-8")
    assert "There is nothing here" in answer.text
    assert f'<a class="row" href="/">{back}</a>' in answer.text
    assert 'aria-label="Pages"' in answer.text


def test_visitor_finds_no_navigation_where_nothing_is(db):
    answer = Client().get("/no/such/")
    assert answer.status_code == 404
    assert '<a class="row" href="/sign-in/">Sign in</a>' in answer.text
    assert "<nav" not in answer.text


def test_form_without_its_token_is_told_on_a_page_of_the_site(page):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(make_person("developer"))
    answer = strict.post("/materials/log/", {"code": "S", "material": "Aluminium", "form": "sheet"})
    assert answer.status_code == 403
    assert "This form was not taken" in answer.text
    assert "today’s page" in answer.text
    assert not SubstrateLot.objects.exists()


def test_look_that_is_refused_says_who_may_and_nothing_of_storing(page):
    page.force_login(make_person("administrator", full_name="Keeper"))
    answer = page.get("/coupons/")
    assert answer.status_code == 403
    assert "Keeper may not look at coupons: that is open to operator, developer, reviewer, quality." in answer.text
    assert "Nothing was stored" not in answer.text
    assert "Nothing was stored" in page.post("/coupons/log/", {}).text


def test_every_verb_has_words_of_its_own():
    """What a refusal says is taken from a table: a new verb needs a line there, a lost one leaves none behind."""
    modules = [
        importlib.import_module(f"labrecords.actions.{item.name}") for item in pkgutil.iter_modules(actions.__path__)
    ]
    verbs = {getattr(item, "verb", None) for module in modules for item in vars(module).values()}
    verbs = {name for name in verbs if isinstance(name, str)}
    asked = {entry for entries in access.MAY.values() for entry in entries if not entry.endswith(("*", ".look"))}
    assert verbs | asked == set(DOES)
    assert len(verbs) > 50
    opened = {verb for verb in doors._verbs().values() if verb} | {v for row in access.MAY.values() for v in row}
    assert {verb.partition(".")[0] for verb in opened if verb.endswith(".look")} - {"account"} == set(LOOKS)
    assert in_words("unheard.of") == "do this"


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
