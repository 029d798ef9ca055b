"""Who changed what of a row, when and why, from the trail that the database wrote."""

from datetime import date, datetime

from django.utils import timezone

from labrecords.models import Person


def history(row):
    """One entry an event, oldest first: when, who, why, and what changed as (label, before, after)."""
    names = dict(Person.objects.values_list("username", "full_name"))
    entries, earlier = [], None
    for event in row.events.select_related("pgh_context", *_relations(row)).order_by("pgh_id"):
        said = event.pgh_context.metadata
        who = names.get(said["who"], said["who"])
        entries.append(
            {
                "event": event,
                "when": event.pgh_created_at,
                "who": who,
                "why": said["why"],
                "changes": _changes(row, earlier, event) if earlier else [],
            }
        )
        earlier = event
    return entries


def _relations(row):
    """Read with the events, so that a long history asks no more queries than a short one."""
    kept = {field.name for field in row.events.model._meta.concrete_fields}
    return [field.name for field in row._meta.concrete_fields if field.is_relation and field.name in kept]


def _changes(row, earlier, event):
    return [
        (field.verbose_name, _shown(earlier, field), _shown(event, field))
        for field in row._meta.concrete_fields
        if hasattr(event, field.attname) and getattr(earlier, field.attname) != getattr(event, field.attname)
    ]


def _shown(event, field):
    value = dict(field.flatchoices).get(getattr(event, field.attname)) or getattr(event, field.name)
    if isinstance(value, datetime):
        return f"{timezone.localtime(value):%Y-%m-%d %H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    return "nothing" if value in (None, "") else value
