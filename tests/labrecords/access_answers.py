"""How the access matrix asks and judges: every request in a transaction that is taken back.

What was stored is seen at the trail, which the database writes: no verb can store without leaving a line there.
"""

import re
from urllib.parse import urlencode

from django.db import connection, transaction
from django.urls import URLPattern, get_resolver
from pghistory.models import Context
from rest_framework.test import APIClient

from labrecords import access
from tests.labrecords.access_rules import API, RULES
from tests.labrecords.access_world import GUESSED, GUESSES, OPEN, OTHERS, OWN, SECRET, STRANGER, build, names_of

SIDES = (OWN, OPEN, OTHERS, GUESSED)
WRITES = ("POST", "PUT", "PATCH", "DELETE")
# The other roles of the lab differ from these by verbs alone.
MAIN = (STRANGER, "operator", "quality", "customer", "administrator")


def peopled():
    """The world with a client for each role, and what an address calls its rows."""
    made = build()
    made.clients = {role: _client(person) for role, person in made.cast.items()} | {STRANGER: _client(None)}
    told = {"token": made.token.pk}  # somebody else's
    made.names = {side: names_of(its, made.lab, made.spare) | told for side, its in made.sides.items()}
    made.names[GUESSED] = GUESSES
    made.mine = {role: {"token": row.pk} for role, row in made.tokens.items()}
    return made


def _client(person):
    client = APIClient(raise_request_exception=False)
    if person:
        client.force_login(person)
    return client


def addresses(patterns=None, prefix=""):
    """Every address that is served, its parameters as {}."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        if isinstance(pattern, URLPattern):
            yield prefix + _shape(pattern.pattern)
        else:
            yield from addresses(pattern.url_patterns, prefix + _shape(pattern.pattern))


def _shape(pattern):
    plain = str(pattern).removeprefix("^").removesuffix("$").removesuffix(r"\Z")
    return re.sub(r"\(\?P<\w+>[^)]*\)|<[^>]+>", "{}", plain)


# ---- what is expected -----------------------------------------------------------------------------------------------


def may(role, *verbs):
    """Whether the role's line in the table has all of these verbs; with the own account everybody may do all."""
    verbs = [verb for verb in verbs if not verb.startswith("account.")]
    return all(verb in access.MAY[role] or f"{verb.split('.')[0]}.*" in access.MAY[role] for verb in verbs)


def sees(role, side, rule):
    if side == GUESSED or role in rule.kept_from:
        return False
    if rule.is_of_person:
        return side == OWN
    if rule.is_of_lab or side == OWN or access.SEES[role] == access.EVERY:
        return True
    return side == OPEN and access.SEES[role] == access.OPEN


def expected(role, shape, rule, method, side):
    """(statuses, whether something is stored)."""
    is_api, [look, *further] = shape in API, rule.looks
    if rule.fixed:
        return rule.fixed.get(role, rule.fixed["*"]), False
    if role == STRANGER:
        return ({401} if is_api else {302}), False
    if not may(role, look):
        return {403}, False
    if method not in offered(shape, rule):
        return {405}, False
    if not may(role, *further):
        return {403}, False
    # The API reads what was sent before it asks for the row and the verb.
    unread = {400} if is_api and method == "POST" and rule.posts else set()
    if rule.row and not sees(role, side, rule):
        return {404} | unread, False
    if method != "POST" or not rule.posts:
        return {200}, False
    if not may(role, rule.posts):
        return ({403} | unread if is_api else {200, 400, 403}), False
    if not sees(role, side, rule) or side not in rule.fits:
        return {200, 400, 409}, False
    return {200, 201, 302}, not rule.is_untracked


def offered(shape, rule):
    """The methods that an address takes. Pages take whatever is no POST for a look."""
    if shape in API:
        return [*(["GET"] if rule.gets else []), *(["POST"] if rule.posts else [])]
    return ["GET", *WRITES] if rule.gets else ["POST"]


# ---- what happens ---------------------------------------------------------------------------------------------------


def ask(world, role, shape, rule, method, side):
    """(answer, whether something was stored); then all of it is taken back. `role`: or a client of one's own."""
    its, names = world.sides.get(side, world.sides[OWN]), names_for(world, role, side)
    address = "/" + shape.format(*(names[name] for name in rule.row))
    said = {"QUERY_STRING": _query(rule.query(world.names.get(side) if side != GUESSED else world.names[OWN]))}
    if method in WRITES:
        said |= _body(shape, rule, its)
    with transaction.atomic():
        before, client = Context.objects.count(), world.clients.get(role, role)
        cookies = {name: morsel.value for name, morsel in client.cookies.items()}
        answer = client.generic(method, address, **said)
        # Some answers are only made while they are sent: what they read must still be there.
        answer.text_sent = b"".join(answer) if answer.streaming else answer.content
        client.cookies.load(cookies)  # whoever signed out is back
        is_stored = not connection.needs_rollback and Context.objects.count() != before
        transaction.set_rollback(True)
    return answer, is_stored


def names_for(world, role, side):
    """What an address calls the rows of a side; on one's own side stands what is one's own."""
    return world.names[side] | (world.mine.get(role, {}) if side == OWN else {})


def _query(said):
    return urlencode(said)


def _body(shape, rule, its):
    said = rule.body(its)
    if isinstance(said, bytes):
        return {"data": said, "content_type": rule.kind}
    kind = rule.kind or ("json" if shape in API else "multipart")
    data, content_type = APIClient()._encode_data(said, format=kind)
    return {"data": data, "content_type": content_type}


def unexpected(world, shapes, roles=MAIN, methods=("GET", *WRITES), sides=SIDES):
    """One line for every answer that the rules do not allow."""
    found = []
    for shape in shapes:
        rule = RULES[shape]
        for role, method, side in cases(world, rule, roles, methods, sides):
            answer, is_stored = ask(world, role, shape, rule, method, side)
            statuses, stores = expected(role, shape, rule, method, side)
            if answer.status_code not in statuses or is_stored != stores:
                found.append(
                    f"{role} {method} {shape} ({side}): {answer.status_code}, stored: {is_stored}; "
                    f"allowed {sorted(statuses)}, stored: {stores}; {_said(answer)}"
                )
            text, known = _text(answer, world, rule, side), _known(role, rule)
            leaked = [word for word in world.secrets if word not in known and word in text]
            found += [f"{role} {method} {shape} ({side}) tells {word}" for word in leaked]
    return found


def cases(world, rule, roles, methods, sides):
    """Every side, where the address or what is posted to it names rows of one; a guessed row by address only."""
    names_rows = rule.body(world.sides[OWN]) != rule.body(world.sides[OTHERS])
    for role in roles:
        for method in methods:
            there = [OWN]
            if not rule.is_of_lab and (rule.row or (method == "POST" and names_rows)):
                there += [OTHERS] if rule.is_of_person else [OPEN, OTHERS] if method in ("GET", "POST") else [OTHERS]
            there += [GUESSED] if rule.row and method in ("GET", "POST") else []
            yield from ((role, method, side) for side in sides if side in there)


def _known(role, rule):
    """The administrator sees which projects there are, by code and title, and their history; of records nothing."""
    about_projects = {"projects.look", "laboratory.look", "journal.look", "history.look"} & set(rule.looks)
    return [SECRET] if role == "administrator" and about_projects else []


def _text(answer, world, rule, side):
    """The answer without what the request itself said."""
    text = answer.text_sent.decode(errors="replace")
    said = [str(world.names[side][name]) for name in rule.row]
    said += _words(rule.body(world.sides.get(side, world.sides[OWN])))
    for word in sorted(said, key=len, reverse=True):
        text = text.replace(word, "")
    return text


def _words(said):
    """Every text in what was posted."""
    if isinstance(said, dict | list):
        return [word for item in (said.values() if isinstance(said, dict) else said) for word in _words(item)]
    if isinstance(said, bytes):
        return [word for word in re.split(r"[,\n]", said.decode()) if word]
    return [said] if isinstance(said, str) and said else []


def _said(answer):
    return re.sub(r"\s+", " ", answer.text_sent.decode(errors="replace"))[-200:]
