"""Role × address × method × row: made from Django's own list of addresses, so that none is left out."""

import re

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.urls import get_resolver, path

from labrecords import access, trail, visibility
from labrecords.api import admission
from labrecords.api import fields as api_fields
from labrecords.api import rows as api_rows
from labrecords.web import coupons, doors, qualifications, runs
from tests.labrecords.access_answers import MAIN, WRITES, addresses, ask, expected, may, peopled, unexpected
from tests.labrecords.access_rules import API, RULES
from tests.labrecords.access_world import GUESSES, OF_PROJECTS, OPEN, OTHERS, OWN, STRANGER

pytestmark = pytest.mark.django_db
NOWHERE = "nowhere"  # the others' address with a row that was never there


@pytest.fixture(scope="module")
def world(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), transaction.atomic():
        yield peopled()
        transaction.set_rollback(True)


def without_rule(shapes):
    return sorted(set(shapes) - set(RULES))


def test_every_address_has_a_rule_and_every_rule_an_address():
    served = set(addresses())
    assert without_rule(served) == [], "add a line to tests/labrecords/access_rules.py"
    assert sorted(set(RULES) - served) == []
    assert len(served) > 150


def test_an_address_without_rule_is_named():
    more = [*get_resolver().url_patterns, path("gadgets/<int:pk>/repair/", lambda request, pk: HttpResponse())]
    assert without_rule(addresses(more)) == ["gadgets/{}/repair/"]


@pytest.mark.parametrize("part", ["api", "pages"])
def test_no_address_answers_other_than_its_rule(world, part):
    shapes = [shape for shape in RULES if (shape in API) == (part == "api")]
    found = unexpected(world, shapes, methods=("GET", "POST"))
    found += unexpected(world, shapes, roles=(STRANGER, "operator", "customer"), methods=("PUT", "PATCH", "DELETE"))
    assert not found, "\n".join(found)


@pytest.mark.slow
def test_no_address_answers_other_than_its_rule_to_any_role(world):
    found = unexpected(world, RULES, roles=[STRANGER, *access.ROLES], methods=("GET", *WRITES))
    assert not found, "\n".join(found)


def test_what_one_may_not_see_is_answered_like_what_was_never_there(world):
    """Status and words are the same, but for the name that the request itself gave."""
    world.names[NOWHERE] = world.names[OTHERS] | {name: GUESSES[name] for name in OF_PROJECTS}
    differing = []
    for shape, rule in RULES.items():
        if rule.fixed or rule.is_of_lab or not rule.row or not rule.gets:
            continue
        for role, hidden in (("operator", OTHERS), ("customer", OTHERS), ("customer", OPEN)):
            there, guessed = (_plain(world, role, shape, rule, side) for side in (hidden, NOWHERE))
            if there != guessed:
                differing.append(f"{role} {shape}: {there} and {guessed}")
    assert not differing, "\n".join(differing)


def _plain(world, role, shape, rule, side):
    answer, _ = ask(world, role, shape, rule, "GET", side)
    text = answer.content.decode(errors="replace")
    for name in set(rule.row) & set(OF_PROJECTS):
        text = text.replace(str(world.names[side][name]), "…")
    # Each page carries a token of its own.
    return answer.status_code, re.sub(r'(csrfmiddlewaretoken" value="|X-CSRFToken": ")\w+', "", text)


# ---- what the table of roles must say, whatever else it says --------------------------------------------------------

MEASURED = (
    "coupons",
    "processing",
    "runs",
    "batches",
    "qualifications",
    "explanations",
    "today",
    "recipes",
    "criteria",
)


def broken_promises():
    found = [f"customer has {verb}" for verb in access.MAY["customer"] if verb != "qualifications.look"]
    found += [f"administrator has {verb}" for verb in access.MAY["administrator"] if verb.partition(".")[0] in MEASURED]
    found += [f"{role} has people.add" for role in access.ROLES if may(role, "people.add") != (role == "administrator")]
    issuing = {role for role in access.ROLES if may(role, "qualifications.issue")}
    found += [] if issuing == {"quality"} else [f"reports are issued by {sorted(issuing)}"]
    found += [] if not may("operator", "runs.review") else ["operator reviews"]
    return found


def test_customer_reads_reports_only_and_administrator_no_measured_data():
    assert broken_promises() == []
    assert access.SEES["customer"] == access.OWN
    assert set(access.SEES) == set(access.MAY) == set(access.ROLES)


# ---- planted faults: the matrix finds each --------------------------------------------------------------------------


def everything(rows, person=None):
    return rows.all()


def nothing_asked(*arguments, **more):
    return None


FAULTS = {
    "a page that looks up without asking who": ("runs/{}/", [(runs, "visible", everything)]),
    "a list that leaks": ("coupons/", [(coupons, "visible", everything)]),
    "a form that offers rows of others": ("coupons/log/", [(coupons, "offered", lambda form, person: form)]),
    "a file for whoever knows its number": ("qualifications/{}/file/", [(qualifications, "visible", everything)]),
    "a page that asks for no verb": ("coupons/", [(doors, "check", nothing_asked)]),
    "an API list that leaks": ("api/coupons/", [(api_rows, "visible", everything)]),
    "an API row for whoever knows its number": (
        "api/readings/{}/",
        [(api_rows, "visible", everything)],
    ),
    "an API view that asks for no verb": (
        "api/qualifications/{}/history/",
        [(api_rows.access, "check", nothing_asked)],
    ),
    "an API that asks for no verb": ("api/liquids/", [(admission.access, "check", nothing_asked)]),
    "a verb that asks for no role": ("api/recipes/", [(trail.access, "check", nothing_asked)]),
    "a verb that takes rows of others": (
        "api/coupons/",
        [(visibility, "refuse_unseen", nothing_asked), (api_fields.rows, "visible", everything)],
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_matrix_finds_a_planted_fault(world, monkeypatch, fault):
    shape, patches = FAULTS[fault]
    shown = {"roles": ("operator", "customer"), "methods": ("GET", "POST")}
    assert unexpected(world, [shape], **shown) == []
    for module, name, planted in patches:
        monkeypatch.setattr(module, name, planted)
    assert unexpected(world, [shape], **shown) != []


@pytest.mark.parametrize(("role", "verb"), [("customer", "coupons.look"), ("administrator", "runs.look"),
                                            ("operator", "runs.review"), ("developer", "people.add")])  # fmt: skip
def test_a_verb_too_many_in_the_table_is_found(monkeypatch, role, verb):
    monkeypatch.setitem(access.MAY, role, [*access.MAY[role], verb])
    assert broken_promises() != []


def test_an_action_refuses_rows_of_others_even_where_a_form_offers_them(world, monkeypatch):
    """The page is not the only guard: with its choices left open, nothing is stored."""
    monkeypatch.setattr(coupons, "offered", lambda form, person: form)
    rule = RULES["coupons/log/"]
    answer, is_stored = ask(world, "operator", "coupons/log/", rule, "POST", OTHERS)
    assert (answer.status_code, is_stored) == (200, False)
    assert "There is no project" in answer.text
    assert ask(world, "operator", "coupons/log/", rule, "POST", OWN)[1]
    assert expected("operator", "coupons/log/", rule, "POST", OTHERS)[1] is False


def test_all_main_roles_are_roles():
    assert set(MAIN) - {STRANGER} <= set(access.ROLES)
