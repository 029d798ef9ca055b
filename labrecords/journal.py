"""Every change of every record, newest first: by time, person and kind of record, from all event tables at once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import CharField, OuterRef, Subquery, Value

from labrecords import history
from labrecords.history import Change


@dataclass(frozen=True)
class Span:
    """What is asked for; an empty word asks for all."""

    since: datetime
    until: datetime
    who: str = ""
    noun: str = ""


def found(by, span: Span):
    """(noun, number of the event, time) of each change that this person may see; can be counted and cut into pages."""
    nouns = {noun: model for noun, model in history.nouns().items() if span.noun in ("", noun)}
    arms = [_of_noun(by, noun, model, span) for noun, model in nouns.items()]
    return arms[0].union(*arms[1:], all=True).order_by("-pgh_created_at", "-pgh_id", "noun")


def _of_noun(by, noun, model, span):
    events = history.event_model(model).objects.filter(
        pgh_created_at__gte=span.since,
        pgh_created_at__lte=span.until,
        pgh_obj__in=history.rows_of(by, model).order_by(),
    )
    if span.who:
        events = events.filter(pgh_context__metadata__who=span.who)
    return events.order_by().values_list(Value(noun, output_field=CharField()), "pgh_id", "pgh_created_at")


def changes(lines) -> list[tuple[str, Change]]:
    """The changes behind some lines of `found`, in the same order, each with its noun."""
    nouns, numbers = history.nouns(), {}
    for noun, number, _ in lines:
        numbers.setdefault(noun, []).append(number)
    told = {noun: _changes(nouns[noun], wanted) for noun, wanted in numbers.items()}
    return [(noun, told[noun][number]) for noun, number, _ in lines]


def _changes(model, numbers):
    """Two queries a noun: the events, and the one before each."""
    events = history.event_model(model).objects
    before = events.filter(pgh_obj=OuterRef("pgh_obj"), pgh_id__lt=OuterRef("pgh_id")).order_by("-pgh_id")
    rows = events.filter(pgh_id__in=numbers).annotate(before=Subquery(before.values("pgh_id")[:1]))
    rows = list(history.with_names(rows))
    earlier = history.with_names(events.filter(pgh_id__in=[row.before for row in rows if row.before])).in_bulk()
    return {row.pgh_id: history.change(model, earlier.get(row.before), row) for row in rows}
