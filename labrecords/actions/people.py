"""People: added, changed, disabled. Never deleted."""

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from labrecords import trail
from labrecords.errors import UnknownCode, ValueRefused
from labrecords.models import Person
from labrecords.trail import verb


def install(*, username, full_name, password):
    """The first administrator, in an empty installation only: there is nobody yet who could add one."""
    with trail.recorded("installation", "first administrator"):
        if Person.objects.exists():
            raise ValueRefused(field="username", label="First administrator", value=username, rule="is already there")
        return _add(username, full_name, "administrator", password)


@verb
def add(*, by, why="new member of the lab", username, full_name, role, password):
    return _add(username, full_name, role, password)


@verb
def disable(*, by, why, person):
    """No sign-in from now on, by session or token. The last administrator stays: nobody could undo it."""
    active = Person.objects.select_for_update(no_key=True).filter(role="administrator", is_active=True)
    if [row.pk for row in active] == [person.pk]:
        rule = "is the last administrator; add another one first"
        raise ValueRefused(field="person", label="Person", value=person.full_name, rule=rule)
    person.is_active = False
    person.save()
    return person


def find(username, *, field="username") -> Person:
    """The person with this sign-in name, in service or not: an old record may name somebody who has left."""
    text = str(username or "").strip()
    person = Person.objects.filter(username__iexact=text).first() if text else None
    if person is None:
        raise UnknownCode(field=field, noun="sign-in name", value=text)
    return person


def _add(username, full_name, role, password):
    person = Person(username=username.strip().lower(), full_name=full_name.strip(), role=role)
    try:
        validate_password(password, person)
    except ValidationError as problem:
        raise ValueRefused(
            field="password", label="Password", value="…", rule=": " + " ".join(problem.messages)
        ) from None
    person.set_password(password)
    try:
        person.full_clean(exclude=["password"])
    except ValidationError as problem:
        field, messages = next(iter(problem.message_dict.items()))
        raise ValueRefused(field=field, label=field, value=username, rule=": " + messages[0]) from None
    person.save()
    return person
