"""Whose rows a person may see. Each model says once, as `PROJECT`, how its rows lead to a project; the rest follows.
Rows that are one person's own say so as `OWNER`: nobody else sees them, whatever the role.

What a person may not see is, for that person, not there: lists leave it out, and a code or number that names it is
answered like one that was never given.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from django.db.models import Model, Q, QuerySet

from labrecords import access
from labrecords.errors import UnknownCode
from labrecords.models import Person, Project


class Sight:
    """What one person may see, asked of the database once. Nobody in particular (None) sees what is open to all."""

    def __init__(self, person=None):
        self.person = person
        self.sees = access.SEES.get(person.role, access.OWN) if person else access.OPEN

    @cached_property
    def own(self):
        """Projects that the person is a member of."""
        return frozenset(_own(self.person).values_list("pk", flat=True))

    @cached_property
    def hidden(self):
        """Members-only projects of others."""
        closed = Project.objects.filter(members_only=True)
        if self.person:
            closed = closed.exclude(pk__in=_own(self.person).values("pk"))
        return frozenset(closed.values_list("pk", flat=True))

    def narrow(self, rows: QuerySet) -> QuerySet:
        """Of these rows the ones that the person may see."""
        paths, owner = paths_of(rows.model), owner_of(rows.model)
        if owner:
            return rows.filter(**{owner: self.person.pk}) if self.person else rows.none()
        if self.sees == access.EVERY:
            return rows.all()
        if self.sees == access.OWN:
            return self._owned(rows, paths)
        if paths and self.hidden:
            for path in paths:
                rows = rows.exclude(**{f"{path}__in": self.hidden})
        return rows.all()

    def _owned(self, rows, paths):
        """What is meant for customers, of projects that the person is a member of; and the person itself."""
        if rows.model is Person:
            return rows.filter(pk=self.person.pk)
        leads_there = Q(pk__in=())
        for path in paths if getattr(rows.model, "IS_FOR_CUSTOMERS", False) else ():
            leads_there |= Q(**{f"{path}__in": self.own})
        return rows.filter(leads_there)

    def has_project(self, number) -> bool:
        """Whether the project with this number may be named to the person."""
        if self.sees == access.EVERY:
            return True
        return number in self.own if self.sees == access.OWN else number not in self.hidden

    def has_limits(self, model) -> bool:
        """Whether any row of the model could be one that the person may not see."""
        if self.sees == access.OWN or owner_of(model):
            return True
        return bool(self.sees == access.OPEN and paths_of(model) and self.hidden)


def visible(rows: QuerySet, person=None) -> QuerySet:
    """The rows that the person may see; without a person, those that are open to all of the lab."""
    return sight_of(person).narrow(rows)


def sight_of(person=None) -> Sight:
    """What the person may see: the one remembered for this request, else a new one."""
    return getattr(person, "sight", None) or Sight(person)


def remember(person) -> None:
    """Ask once for all lists of one request. Actions ask anew, once a transaction."""
    person.sight = Sight(person)


def refuse_unseen(sight, details) -> None:
    """Refuse what is out of sight among an action's arguments, also inside lists: as if it were not there."""
    given = {}
    for name, row in _rows(details.items()):
        if row.pk is not None:
            given.setdefault(row._meta.concrete_model, {})[row.pk] = (name, row)
    for model, rows in given.items():
        if sight.has_limits(model):
            seen = set(sight.narrow(model._base_manager.filter(pk__in=rows)).values_list("pk", flat=True))
            for key, (name, row) in rows.items():
                if key not in seen:
                    raise unknown(row, field=name)


def unknown(row, *, field):
    """The refusal of a row that is not there, said of one that is."""
    value = getattr(row, "code", None) or getattr(row, "username", None) or row.pk
    return UnknownCode(field=field, noun=str(row._meta.verbose_name), value=value)


def paths_of(model) -> tuple:
    """Lookups from the model to its project; none where its rows belong to the lab as a whole."""
    declared = model.PROJECT
    if declared is None:
        return ()
    return (declared,) if isinstance(declared, str) else declared


def owner_of(model) -> str:
    """The field with the one person whose own the rows are; nothing where they are the lab's."""
    return getattr(model, "OWNER", "")


def _own(person):
    return Project.objects.filter(members__person=person, members__is_current=True)


def _rows(items):
    """(argument, row) of every stored row, however deep it lies."""
    for name, value in items:
        if isinstance(value, Model):
            yield name, value
        elif isinstance(value, Mapping):
            yield from _rows((name, item) for item in value.values())
        elif isinstance(value, list | tuple | set | frozenset | QuerySet):
            yield from _rows((name, item) for item in value)
