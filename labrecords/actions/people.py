"""People: added, given a role, disabled. Never deleted. Nobody signs in as somebody else without a trace."""

import secrets

from axes.utils import reset
from django.core.exceptions import ValidationError

from labrecords import trail
from labrecords.access import ROLES
from labrecords.actions import account
from labrecords.errors import UnknownCode, ValueRefused
from labrecords.models import Person
from labrecords.sign_in import counted_as
from labrecords.trail import verb


def install(*, username, full_name, password):
    """The first administrator, in an empty installation only: there is nobody yet who could add one."""
    with trail.recorded("installation", "first administrator"):
        if Person.objects.exists():
            raise ValueRefused(field="username", label="First administrator", value=username, rule="is already there")
        return _add(username, full_name, "administrator", password)


@verb
def add(*, by, why="new member of the lab", username, full_name, role, password):
    """The password is a start password: two people know it, so it opens nothing but its own change."""
    return _add(username, full_name, role, password, has_start_secret=True)


@verb
def change_role(*, by, why, person, role):
    if role not in ROLES:
        raise ValueRefused(field="role", label="Role", value=role, rule=f"is none of {', '.join(ROLES)}")
    if role != "administrator":
        _refuse_last_administrator(person)
    if person == by:  # nobody elevates himself
        rule = "is you: another administrator changes your role"
        raise ValueRefused(field="person", label="Person", value=person.full_name, rule=rule)
    person = account.held(person)
    person.role = role
    person.save()
    return person


@verb
def disable(*, by, why, person):
    """No sign-in from now on, by session or token. The last administrator stays: nobody could undo it."""
    _refuse_last_administrator(person)
    person = account.held(person)
    person.is_active = False
    return account.end_everything(person)


@verb
def set_start_password(*, by, why, person):
    """(the person, a password to hand over), which opens nothing but its own change, within a week.

    Whoever hands it over could use it, so the trail says who did; the person sees it when signing in fails.
    """
    person, password = account.held(person), secrets.token_urlsafe(12)
    account.set_password(person, password)
    person.has_start_secret = True
    return account.end_everything(person), password


@verb
def end_sessions(*, by, why, person):
    return account.end_everything(account.held(person))


@verb
def reset_second_factor(*, by, why, person):
    """For somebody who has lost it: the password alone signs in again."""
    return account.remove_second_factor(account.held(person))


@verb
def lift_block(*, by, why, person):
    """Failed attempts for this name are forgotten, from whatever address."""
    reset(username=counted_as(person.username))
    return person


def find(username, *, field="username") -> Person:
    """The person with this sign-in name, in service or not: an old record may name somebody who has left."""
    text = str(username or "").strip()
    person = Person.objects.filter(username__iexact=text).first() if text else None
    if person is None:
        raise UnknownCode(field=field, noun="sign-in name", value=text)
    return person


def _refuse_last_administrator(person):
    active = Person.objects.select_for_update(no_key=True).filter(role="administrator", is_active=True)
    if [row.pk for row in active] == [person.pk]:
        rule = "is the last administrator; add another one first"
        raise ValueRefused(field="person", label="Person", value=person.full_name, rule=rule)


def _add(username, full_name, role, password, **more):
    person = Person(username=username.strip().lower(), full_name=full_name.strip(), role=role, **more)
    account.set_password(person, password)
    try:
        person.full_clean(exclude=["password", "secret_set_at"])
    except ValidationError as problem:
        field, messages = next(iter(problem.message_dict.items()))
        raise ValueRefused(field=field, label=field, value=username, rule=": " + messages[0]) from None
    person.save()
    return person
