"""W06 and W08 (ASVS 15.3.3, 3.5.1, 3.5.3): nothing is written by looking, by a foreign form, or beside a form."""

import re

import pytest
from django.db import connection
from django.test import Client

from labrecords import trail
from labrecords.models import Coupon, Person
from tests.factories import PASSWORD, make_coupon, make_person
from tests.labrecords.security.addresses import World

pytestmark = pytest.mark.django_db
ROLES = ["operator", "developer", "reviewer", "quality", "administrator"]
# What may change by looking: the session's last use, and the log of what was refused.
APART = {"django_session", "labrecords_securityevent", "django_migrations"}


@pytest.fixture
def world(db):
    return World(make_person("quality"))


def state():
    """A hash of every table's rows."""
    with connection.cursor() as cursor:
        tables = sorted(set(connection.introspection.table_names(cursor)) - APART)
        found = {}
        for table in tables:
            name = connection.ops.quote_name(table)
            cursor.execute(f"SELECT md5(string_agg(t::text, '|' ORDER BY t::text)) FROM {name} t")  # noqa: S608
            found[table] = cursor.fetchone()[0]
    return found


def test_state_sees_a_change_of_one_letter(world):
    """Negative control: without it, equal hashes would prove nothing."""
    before = state()
    assert len(before) > 60
    with trail.recorded("tests", "one letter"):
        Coupon.objects.filter(pk=Coupon.objects.first().pk).update(place="x")
    changed = {table for table, found in state().items() if found != before[table]}
    assert changed >= {"labrecords_coupon", "labrecords_couponevent", "pghistory_context"}
    assert "labrecords_batch" not in changed


# W08, 3.5.3 (1): every GET of the URL list, for each role and for a stranger
@pytest.mark.thorough
def test_no_get_changes_anything(world):
    addresses = sorted(world.addresses())
    before, opened = state(), {}
    for role in [*ROLES, "stranger"]:
        client = Client()
        if role != "stranger":
            client.force_login(make_person(role))
            before = state()
        answers = {address: client.get(address).status_code for address in addresses}
        assert {a: s for a, s in answers.items() if s >= 500} == {}
        opened[role] = sum(status == 200 for status in answers.values())
        assert state() == before, role
    assert len(addresses) > 120
    # Most addresses are really looked at, not only refused (verbs answer 405 to GET).
    assert opened["quality"] > 80
    assert opened["stranger"] <= 2  # the sign-in page, the document of the API


# W08, 3.5.1 (1): every address that takes a form
def test_post_without_token_is_refused_everywhere_also_at_the_sign_in(world):
    pages = [address for address in world.addresses() if not address.startswith("/api/")]
    client = Client(enforce_csrf_checks=True)
    assert client.post("/sign-in/", {"username": world.person.username, "password": PASSWORD}).status_code == 403
    client.force_login(world.person)
    before = state()
    answers = {address: client.post(address, {"why": "x"}).status_code for address in pages}
    assert {address: status for address, status in answers.items() if status != 403} == {}
    assert len(pages) > 50
    assert state() == before


def test_api_takes_a_session_with_its_token_only(world):
    client = Client(enforce_csrf_checks=True)
    client.force_login(world.person)
    posts = [a for a in world.addresses() if a.startswith("/api/") and a not in ("/api/sign-in/", "/api/schema/")]
    before = state()
    answers = {a: client.post(a, {}, content_type="application/json").status_code for a in posts}
    assert {a: status for a, status in answers.items() if status not in (401, 403, 405)} == {}
    assert state() == before


def test_form_with_its_token_is_taken(world):
    """Negative control of the refusals above."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(world.person)
    page = client.get("/instruments/add/").text
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)[1]
    body = {"code": "RIG-9", "title": "Stage", "csrfmiddlewaretoken": token}
    assert client.post("/instruments/add/", body).status_code == 302


def test_token_of_another_session_is_refused(world):
    thief, victim = Client(enforce_csrf_checks=True), Client(enforce_csrf_checks=True)
    thief.force_login(make_person())
    victim.force_login(world.person)
    foreign = re.search(r'csrfmiddlewaretoken" value="([^"]+)"', thief.get("/instruments/add/").text)[1]
    victim.get("/instruments/add/")
    body = {"code": "RIG-9", "title": "Stage", "csrfmiddlewaretoken": foreign}
    assert victim.post("/instruments/add/", body).status_code == 403


# W06, 15.3.3 (2): mass assignment
def test_further_fields_of_a_form_are_not_stored(person):
    administrator = Client()
    administrator.force_login(make_person("administrator"))
    extra = {"is_active": "", "has_second_factor": "on", "sessions_ended": "7", "id": "1"}
    body = {"username": "new", "full_name": "New Hand", "role": "operator", "password": "tilted-drop-2026"}
    assert administrator.post("/people/add/", body | extra).status_code == 302
    made = Person.objects.get(username="new")
    assert (made.is_active, made.has_second_factor, made.sessions_ended, made.has_start_secret) == (
        True,
        False,
        0,
        True,
    )


def test_further_fields_of_the_api_are_refused_by_name(at, db):
    person = make_person("quality")
    coupon, visitor = make_coupon(person), at()
    visitor.api.credentials(HTTP_AUTHORIZATION=f"Token {visitor.token(person.username).json()['token']}")
    for name in ("state", "code", "created_by", "created_at", "id", "is_current"):
        body = {"place": "drawer", "why": "tidy", name: "x"}
        answer = visitor.api.post(f"/api/coupons/{coupon.code}/amend/", body, format="json")
        assert (answer.status_code, answer.json()["field"]) == (400, name)
