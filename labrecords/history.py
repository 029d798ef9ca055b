"""What the trail says of a row: every change with both values, and the row as it was at a moment.

The nouns are the tracked models themselves. Whether somebody may see a row is asked in one place, `rows_of`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache

from django.apps import apps
from django.db import models
from django.utils import timezone
from django.utils.text import slugify

from analysis import MEASURED, NOT_MOVED, QUALIFIERS, QUANTITIES
from labrecords import access
from labrecords.actions import coupons
from labrecords.errors import UnknownCode, UnknownNoun, ValueRefused
from labrecords.models import Coupon, Laboratory, Person, Project, ProjectMember, Release
from labrecords.visibility import visible

IN_UNIT = ("value", "uncertainty", "limit")  # fields whose unit is that of the row's quantity
ENTERED = "insert"
# What an administrator keeps; everything else is open to those who may look at measured records.
ADMINISTERED = (Laboratory, Person, Project, ProjectMember, Release)


@dataclass(frozen=True)
class Change:
    """One event of the trail. `values`: field -> (before, after), both as they are stored."""

    event: models.Model
    earlier: models.Model | None
    values: dict

    @property
    def at(self):
        return self.event.pgh_created_at

    @property
    def is_entry(self):
        return self.event.pgh_label == ENTERED

    @property
    def who(self):
        return self.event.pgh_context.metadata["who"]

    @property
    def why(self):
        return self.event.pgh_context.metadata["why"]

    @property
    def name(self):
        """What the row is called by, as in its address."""
        field = naming_field(self.event.pgh_tracked_model)
        return str(self.event.pgh_obj_id if field == "pk" else getattr(self.event, field))


def nouns() -> dict[str, type[models.Model]]:
    """The word for each tracked model, as it stands in addresses."""
    found = apps.get_app_config("labrecords").get_models()
    tracked = [model.pgh_tracked_model for model in found if hasattr(model, "pgh_tracked_model")]
    return {noun_of(model): model for model in tracked}


def noun_of(row) -> str:
    return _slug(str(row._meta.verbose_name))


_slug = cache(slugify)  # lists ask for it once a row


@cache
def naming_field(model) -> str:
    """What a row is called by: its code, sign-in name or report number; its number where it has none of them."""
    named = (item.name for item in model._meta.fields if item.unique and isinstance(item, models.CharField))
    return next(named, "pk")


def name_of(row) -> str:
    return str(getattr(row, naming_field(type(row))))


def rows_of(by, model):
    """The rows of a noun that this person may see."""
    rows = model._default_manager.defer(*_files_of(model))
    if model not in ADMINISTERED and not access.may(by, "runs.look"):
        return rows.none()
    return visible(rows, by)


def found(by, noun: str, name: str):
    """The row that a noun and a name stand for. Raises UnknownCode, also where the person may not see it."""
    model = nouns().get(noun)
    if model is None:
        raise UnknownNoun(value=noun, nouns=", ".join(sorted(nouns())))
    rows, field = rows_of(by, model), naming_field(model)
    if model is Coupon:
        rows = rows.filter(pk=coupons.find(name, by=by).pk)
    elif field == "pk":
        rows = rows.filter(pk=name) if re.fullmatch(r"\d{1,18}", name, re.ASCII) else rows.none()
    else:
        # Codes may differ in capitals only: the one that was written goes first.
        rows = rows.filter(**{field: name}) or rows.filter(**{f"{field}__iexact": name})
    row = rows[:1]
    if not row:
        raise UnknownCode(field=noun, noun=str(model._meta.verbose_name), value=name)
    return row[0]


# ---- changes -----------------------------------------------------------------------------------------


def changes(row) -> list[Change]:
    """Every change of the row, oldest first; the first one gives each field that was filled."""
    found, earlier = [], None
    for event in with_names(row.events.order_by("pgh_id")):
        found.append(change(type(row), earlier, event))
        earlier = event
    return found


def tracked_fields(model):
    """The fields of a model that the trail keeps."""
    kept = {item.attname for item in event_model(model)._meta.concrete_fields}
    return [item for item in model._meta.concrete_fields if item.attname in kept]


def untracked_labels(model) -> list[str]:
    kept = tracked_fields(model)
    return [str(item.verbose_name) for item in model._meta.concrete_fields if item not in kept]


def event_model(model):
    return model.pgh_event_models[ENTERED]


def with_names(events):
    """Events with who, why and the rows they point to: a long history asks no more queries than a short one."""
    relations = [item for item in tracked_fields(events.model.pgh_tracked_model) if item.is_relation]
    heavy = [name for item in relations for name in _files_of(item.related_model, f"{item.name}__")]
    return events.select_related("pgh_context", *[item.name for item in relations]).defer(*heavy)


def _files_of(model, before=""):
    """Fields that hold whole files: they are not read to say what a row is called."""
    return [f"{before}{item.name}" for item in model._meta.concrete_fields if isinstance(item, models.BinaryField)]


def change(model, earlier, event) -> Change:
    """The change that an event made to the one before it; every field that was filled where there is none."""
    values = {}
    for item in tracked_fields(model):
        before, after = getattr(earlier, item.attname, None), getattr(event, item.attname)
        if (before != after) if earlier else (after not in (None, "", {}, []) and not item.primary_key):
            values[item.name] = (before, after)
    return Change(event, earlier, values)


# ---- as it was ---------------------------------------------------------------------------------------


def check_moment(on):
    """Refuse a moment that has not come: until then the record may change."""
    if on > timezone.now():
        rule = "lies in the future: what the record will be then is not known"
        raise ValueRefused(field="on", label="As it was on", value=moment(on), rule=rule)


def as_of(row, on):
    """The row's last event up to a moment; None before its first entry."""
    return with_names(row.events.filter(pgh_created_at__lte=on).order_by("-pgh_id")).first()


def parts_of(model) -> list:
    """Relations to the rows that belong to a row of this model and have no code of their own."""
    tracked = set(nouns().values())
    return [
        relation
        for relation in model._meta.related_objects
        if relation.related_model in tracked
        and relation.related_model is not model
        and naming_field(relation.related_model) == "pk"
    ]


def parts(by, row):
    """(model, rows) of each kind of part, without the rows that this person may not see."""
    for relation in parts_of(type(row)):
        yield relation.related_model, rows_of(by, relation.related_model).filter(**{relation.field.attname: row.pk})


def parts_as_of(by, row, on) -> dict:
    """The events of the parts that stood at a moment, by their model; what had been replaced by then is left out."""
    standing = {}
    for relation in parts_of(type(row)):
        model, owner = relation.related_model, relation.field.attname
        seen = rows_of(by, model).order_by()
        events = event_model(model).objects.filter(**{owner: row.pk}, pgh_created_at__lte=on, pgh_obj__in=seen)
        events = with_names(events.order_by("pgh_obj_id", "-pgh_id").distinct("pgh_obj_id"))
        standing.setdefault(model, []).extend(event for event in events if getattr(event, "is_current", True))
    return standing


# ---- in words ----------------------------------------------------------------------------------------


def people() -> dict[str, str]:
    """Names by sign-in name, as the trail keeps it."""
    return dict(Person.objects.values_list("username", "full_name"))


def moment(at) -> str:
    """Time of the server's clock, to the second and with its zone."""
    return f"{timezone.localtime(at):%Y-%m-%d %H:%M:%S %Z}"


def label_of(field) -> str:
    label = str(field.verbose_name)
    return label if label[1:2].isupper() else f"{label[:1].upper()}{label[1:]}"


def is_out_of_sight(field, value, sight) -> bool:
    """Whether a field points to a project that this person does not see: the row was in it once and has left it.

    Only projects: whatever else a row points to is shown with it on the row's own page too.
    """
    return field.related_model is Project and value is not None and not sight.has_project(value)


def in_words(field, event, sight) -> str:
    """A field of an event as people read it: choices and rows by their names, numbers with their unit.

    `sight`: that of the person who reads it (visibility.sight_of).
    """
    value = getattr(event, field.attname) if event is not None else None
    if value in (None, "", [], {}):
        return "nothing"
    if is_out_of_sight(field, value, sight):
        return "a project for members only"
    if field.is_relation:
        return _row_in_words(getattr(event, field.name), value)
    if field.flatchoices and not isinstance(value, dict | list):
        return str(dict(field.flatchoices).get(value) or value)
    text = _plain(value)
    quantity = QUANTITIES.get(getattr(event, "quantity", None))
    return text + _joined(quantity.unit) if quantity and field.name in IN_UNIT else text


def reading_in_words(row) -> str:
    """A reading, or an event of one: its number with unit, or what became of the drop."""
    quantity = QUANTITIES[row.quantity]
    if row.qualifier == MEASURED:
        return f"{row.value:g}{_joined(quantity.unit)}"
    if row.qualifier == NOT_MOVED:
        return f"> {row.value:g}{_joined(quantity.unit)} ({quantity.beyond})"
    return f"{QUALIFIERS[row.qualifier]}{f': {row.reason}' if row.reason else ''}"


def as_stored(field, event, sight):
    """A field of an event for programs: a row by its name, everything else as it is stored.

    None for a project out of the reader's `sight`.
    """
    if is_out_of_sight(field, getattr(event, field.attname), sight):
        return None
    if field.is_relation:
        row = getattr(event, field.name)
        return None if row is None else name_of(row)
    return getattr(event, field.attname)


def _row_in_words(row, number):
    if row is None:
        return f"number {number}"
    return str(getattr(row, "code", None) or row)


def _plain(value):
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return moment(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.10g}".replace("-", "−")
    if isinstance(value, dict):
        return "; ".join(f"{key}: {_plain(item)}" for key, item in value.items())
    return ", ".join(_plain(item) for item in value) if isinstance(value, list) else str(value)


def _joined(unit):
    return unit if unit in ("", "°") else f" {unit}"
