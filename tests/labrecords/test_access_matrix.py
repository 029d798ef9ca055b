"""Role × address × method × row: made from Django's own list of addresses, so that none is left out."""

import re
from itertools import product
from urllib.parse import quote

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.urls import get_resolver, path
from rest_framework.test import APIClient

from labrecords import access, history, trail, visibility
from labrecords.actions import account, instruments, people
from labrecords.api import admission, authentication
from labrecords.api import fields as api_fields
from labrecords.api import rows as api_rows
from labrecords.models import (
    BathLot,
    Calibration,
    ChallengeLiquid,
    CriterionRevision,
    DataSheet,
    Instrument,
    Laboratory,
    LiquidLot,
    Lubricant,
    LubricantLot,
    MethodVersion,
    Person,
    Project,
    ProjectMember,
    RecipeStep,
    Release,
    SubstrateLot,
    TestRun,
)
from labrecords.models.sign_in import READ
from labrecords.web import assessments, coupons, doors, gate, qualifications, runs
from tests.factories import PASSWORD
from tests.labrecords.access_answers import MAIN, WRITES, addresses, ask, expected, may, peopled, unexpected
from tests.labrecords.access_rules import API, RULES
from tests.labrecords.access_world import GUESSES, OF_PROJECTS, OPEN, OTHERS, OWN, SECRET, STRANGER

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
    found = unexpected(world, shapes, roles=("operator", "customer"), methods=("GET", "POST"))
    found += unexpected(world, shapes, roles=(STRANGER, "administrator"), methods=("GET", "POST"), sides=[OWN])
    found += unexpected(world, shapes, roles=("operator",), methods=("PUT", "PATCH", "DELETE"), sides=[OWN])
    assert not found, "\n".join(found)


@pytest.mark.thorough
def test_no_address_answers_other_than_its_rule_to_any_role(world):  # takes minutes
    found = unexpected(world, RULES, roles=[STRANGER, *access.ROLES], methods=("GET", *WRITES))
    assert not found, "\n".join(found)


def test_what_one_may_not_see_is_answered_like_what_was_never_there(world):
    """Status and words are the same, but for the name that the request itself gave."""
    world.names[NOWHERE] = world.names[OTHERS] | {name: GUESSES[name] for name in OF_PROJECTS}
    differing = []
    for shape, rule in RULES.items():
        if rule.fixed or rule.is_of_lab or not rule.row or not rule.gets:
            continue
        kept_from = [(role, OWN) for role in rule.kept_from]
        for role, hidden in (("operator", OTHERS), ("customer", OTHERS), ("customer", OPEN), *kept_from):
            said = [str(world.names[side][name]) for side in (hidden, NOWHERE) for name in {*rule.row} & {*OF_PROJECTS}]
            there, guessed = (_plain(world, role, shape, rule, side, said) for side in (hidden, NOWHERE))
            if there != guessed:
                differing.append(f"{role} {shape}: {there} and {guessed}")
    assert not differing, "\n".join(differing)


def _plain(world, role, shape, rule, side, said):
    answer, _ = ask(world, role, shape, rule, "GET", side)
    text = answer.text_sent.decode(errors="replace")
    # Each page carries a token of its own.
    text = re.sub(r'(csrfmiddlewaretoken" value="|X-CSRFToken": ")\w+', "", text)
    for word in sorted(said, key=len, reverse=True):  # in both answers: a number may stand elsewhere too
        text = text.replace(word, "…")
    return answer.status_code, text


# ---- every kind of record by its history ----------------------------------------------------------------------------

# Kinds of record that belong to the lab as a whole; what is new belongs to a project until it stands here.
OF_LAB = (Laboratory, Person, SubstrateLot, ChallengeLiquid, LiquidLot, Lubricant, LubricantLot, BathLot, Instrument,
          Calibration, MethodVersion, DataSheet, Release)  # fmt: skip
ADMINISTERED = (Laboratory, Person, Project, ProjectMember, Release)
READERS = ("operator", "quality", "administrator")


def wrong_histories(world, models, roles=READERS):
    """One line for every history shown to whom it is not for, kept from whom it is for, or telling of others."""
    found = []
    for model in models:
        for (side, row), role in product(_rows_made(world, model), roles):
            name, on = history.name_of(row), RULES["history/{}/{}/"].query({})["on"]
            for start, end in (("/history", ""), ("/api/history", "as-of/")):
                address = f"{start}/{history.noun_of(row)}/{quote(name)}/{end}"
                answer = world.clients[role].get(address, {"on": on})
                if answer.status_code != (200 if _may_read(role, side, row) else 404):
                    found.append(f"{role} {address} ({side}): {answer.status_code}")
                text = answer.content.decode().replace(name, "")
                known = [SECRET] if role == "administrator" else []
                found += [f"{role} {address} tells {word}" for word in set(world.secrets) - {*known} if word in text]
    return found


def _rows_made(world, model):
    """(side, row): what the side calls its own, else the newest of the model that was made for it."""
    for side, its in world.sides.items():
        named, (low, high) = [row for row in vars(its).values() if type(row) is model], its.made[model]
        if named or high > low:
            yield side, named[0] if named else model._default_manager.get(pk=high)


def _may_read(role, side, row):
    if role == "administrator":
        return isinstance(row, ADMINISTERED)
    return side != OTHERS or isinstance(row, OF_LAB)


@pytest.mark.thorough
def test_history_of_every_kind_of_record_is_for_whom_the_record_is_for(world):
    kinds = history.nouns()
    assert len(kinds) > 25
    assert wrong_histories(world, kinds.values()) == []


def test_histories_of_others_are_found(world, monkeypatch):
    models = [CriterionRevision, RecipeStep, TestRun]
    assert wrong_histories(world, models, ["operator"]) == []
    monkeypatch.setattr(history, "visible", everything)
    found = wrong_histories(world, models, ["operator"])
    assert {"criterion-revision", "recipe-step", "test-run"} == {
        line.split("history/")[1].split("/")[0] for line in found
    }


# ---- own tokens, read-only tokens, start passwords ------------------------------------------------------------------


def test_journal_and_histories_name_own_tokens_only(world):
    mine, other = world.tokens["quality"], world.token
    for address in ("/changes/file/", "/api/history/?since=2020-01-01T00:00Z&limit=1000"):
        answer = world.clients["quality"].get(address)
        text = (b"".join(answer) if answer.streaming else answer.content).decode()
        assert mine.digest in text
        assert other.digest not in text
    for start in ("/history", "/api/history"):
        assert world.clients["quality"].get(f"{start}/api-token/{mine.digest}/").status_code == 200
        assert world.clients["quality"].get(f"{start}/api-token/{other.digest}/").status_code == 404
        assert world.clients["administrator"].get(f"{start}/api-token/{other.digest}/").status_code == 404


def taken_by_reader(world):
    """Addresses of the API that a token for looking got something written at, or was let in to write."""
    client = APIClient(raise_request_exception=False)
    client.credentials(HTTP_AUTHORIZATION=f"Token {_issued(world.cast['quality'], READ)}")
    assert client.get("/api/coupons/").status_code == 200
    free = ("api/sign-in/", "api/sign-out/")
    shapes = [shape for shape in API if shape not in free and not RULES[shape].fixed]
    asked = [(ask(world, client, shape, RULES[shape], method, OWN), shape) for shape in shapes for method in WRITES]
    return [shape for (answer, is_stored), shape in asked if answer.status_code != 403 or is_stored]


def _issued(person, scope):
    return account.issue_token(by=person, password=PASSWORD, name=f"to {scope}", scope=scope)[1]


def test_token_for_looking_writes_nowhere(world):
    assert taken_by_reader(world) == []


@pytest.mark.thorough
def test_token_that_is_let_in_to_write_is_found(world, monkeypatch):
    monkeypatch.setattr(authentication, "_refuse_beyond_scope", nothing_asked)
    assert len(taken_by_reader(world)) > 50


def opened_by_start_password(world):
    """Addresses that answer somebody with a start password otherwise than with the page to change it."""
    with transaction.atomic():
        person, _ = people.set_start_password(by=world.cast["administrator"], why="lost", person=world.guest)
        client = APIClient(raise_request_exception=False)
        client.force_login(person)
        found = []
        for shape, rule in RULES.items():
            is_free = rule.fixed or shape == "account/password/"
            for method in () if is_free else ("GET", "POST"):
                answer, is_stored = ask(world, client, shape, rule, method, OWN)
                is_kept_out = answer.status_code == 401 or answer.headers.get("Location") == "/account/password/"
                found += [] if is_kept_out and not is_stored else [f"{method} {shape}: {answer.status_code}"]
        assert client.get("/account/password/").status_code == 200
        transaction.set_rollback(True)
    return found


def test_start_password_opens_only_its_own_change(world):
    assert opened_by_start_password(world) == []


@pytest.mark.thorough
def test_page_that_a_start_password_opens_is_found(world, monkeypatch):
    monkeypatch.setattr(gate.Gate, "_kept_out", nothing_asked)
    assert "GET coupons/: 403" in opened_by_start_password(world)


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
    issuing = {role for role in access.ROLES if may(role, "assessments.issue")}
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
    "an assessment for whoever knows its number": ("assessments/{}/", [(assessments, "visible", everything)]),
    "a draft for whoever knows its number": ("assessments/{}/draft/", [(assessments, "visible", everything)]),
    "a list of what is on its way that leaks": ("qualifications/", [(qualifications, "visible", everything)]),
    "an attachment for whoever knows its number": ("attachments/{}/", [(history, "visible", everything)]),
    "a journal of everything": ("changes/file/", [(history, "visible", everything)]),
    "histories for the administrator": ("history/{}/{}/", [(history.access, "may", lambda person, verb: True)]),
    "runs that an instrument touched": ("instruments/{}/affected/", [(instruments, "visible", everything)]),
    "tokens of everybody": ("api/tokens/{}/", [(visibility, "owner_of", lambda model: "")]),
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


QUICK = "a page that looks up without asking who"


@pytest.mark.parametrize(
    "fault", [QUICK, *(pytest.param(fault, marks=pytest.mark.thorough) for fault in FAULTS if fault != QUICK)]
)
def test_matrix_finds_a_planted_fault(world, monkeypatch, fault):
    shape, patches = FAULTS[fault]
    shown = {"roles": ("operator", "customer", "administrator"), "methods": ("GET", "POST")}
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
