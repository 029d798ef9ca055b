"""Who and why of every change: one reason a transaction, opened before the transaction.

The database refuses a write to a tracked table without it (event rows have a NOT NULL context), raw SQL included.
"""

from __future__ import annotations

import functools
import inspect
from contextlib import contextmanager
from contextvars import ContextVar

import pghistory
from django.db import transaction

from labrecords import access, security, visibility
from labrecords.errors import ReasonMissing, ReasonUnreadable

# While a trail is open: what each acting person may see, asked once for all actions of the transaction.
_open = ContextVar("open_trail", default=None)
ABOUT_PEOPLE = ("people.", "account.")  # verbs that the security log names as well


LONGEST_REASON = 2000  # characters


@contextmanager
def recorded(who: str, why: str):
    """A transaction whose every change is booked to `who` and `why`; inside another one, that one's reason stands."""
    if not str(why).strip():
        raise ReasonMissing()
    if "\0" in str(why) or len(str(why)) > LONGEST_REASON:
        raise ReasonUnreadable(most=LONGEST_REASON)
    if _open.get() is not None:
        with transaction.atomic():
            yield
        return
    token = _open.set({})
    try:
        # The context is transaction-local in PostgreSQL, so it is opened outside the transaction it belongs to.
        with pghistory.context(who=str(who), why=str(why).strip()), transaction.atomic():
            yield
    finally:
        _open.reset(token)


def verb(action):
    """Make a function an action: checks role and rows, opens the transaction with who and why, then calls it.

    Every action takes `by` (a Person) and `why`; a signature without a default for `why` makes the reason mandatory.
    """
    name = f"{action.__module__.rsplit('.', 1)[-1]}.{action.__name__}"
    default = inspect.signature(action).parameters["why"].default

    @functools.wraps(action)
    def wrapped(*, by, why=default, **details):
        access.check(by, name)
        visibility.refuse_unseen(_sight(by), details)
        if why is inspect.Parameter.empty:
            raise ReasonMissing()
        with recorded(by.username, why):
            done = action(by=by, why=why, **details)
        if name.startswith(ABOUT_PEOPLE):
            security.note(name, who=by.username, why=why, **_whom(details))
        return done

    wrapped.verb = name
    return wrapped


def _whom(details):
    """The person that a verb was about, and the role given; never what else it was told."""
    told = {name: details[name] for name in ("username", "role", "name", "scope") if name in details}
    person = details.get("person")
    return told | ({"person": person.username} if person is not None else {})


def _sight(person):
    seen = _open.get()
    if seen is None:
        return visibility.Sight(person)
    return seen.setdefault(person.pk, visibility.Sight(person))
