"""Fields of the API: strict numbers and dates, rows named by their code, the reason of a change."""

from __future__ import annotations

from contextlib import contextmanager
from decimal import Decimal

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from labrecords import entry
from labrecords.actions import coupons, qualifications, rows
from labrecords.errors import ReasonMissing, Refusal, UnknownCode, ValueRefused
from labrecords.models import Coupon, Person, Qualification

NUMBER_OR_TEXT = {"oneOf": [{"type": "number"}, {"type": "string"}]}


def name_of(field):
    """The name that the sender used; the item of a list goes by the name of its list."""
    return field.field_name or (field.parent.field_name if field.parent is not None else "") or ""


@contextmanager
def named(field):
    """A refusal inside is booked to the field that the sender filled in."""
    try:
        yield
    except Refusal as refusal:
        refusal.field = name_of(field)
        raise


def as_typed(value, *, field, label):
    """Text as it was typed; a JSON number becomes the same digits without exponent. Refuses all else."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueRefused(field=field, label=label, value=value, rule="is neither a number nor a text")
    return format(Decimal(repr(value)), "f") if isinstance(value, float) else str(value)


@extend_schema_field(NUMBER_OR_TEXT)
class Entered(serializers.Field):
    """A number or a text as somebody typed it; what it means is the declaration's business."""

    def to_internal_value(self, data):
        return as_typed(data, field=name_of(self), label=self.label or name_of(self))

    def to_representation(self, value):
        return value


@extend_schema_field({"type": "number"})
class Number(serializers.Field):
    def to_internal_value(self, data):
        label = self.label or name_of(self)
        value = entry.number(as_typed(data, field=name_of(self), label=label), field=name_of(self), label=label)
        if value is None and not self.allow_null:
            self.fail("null")
        return value

    def to_representation(self, value):
        return value


@extend_schema_field({"type": "integer"})
class Whole(serializers.Field):
    def __init__(self, *, low=0, high=10**9, **facts):
        self.bounds = {"low": low, "high": high}
        super().__init__(**facts)

    def to_internal_value(self, data):
        label = self.label or name_of(self)
        value = entry.whole(
            as_typed(data, field=name_of(self), label=label), field=name_of(self), label=label, **self.bounds
        )
        if value is None and not self.allow_null:
            self.fail("null")
        return value

    def to_representation(self, value):
        return value


class Moment(serializers.DateTimeField):
    def to_internal_value(self, data):
        return entry.moment(data, field=name_of(self), label=self.label or "")


class Day(serializers.DateField):
    def to_internal_value(self, data):
        value = entry.day(data, field=name_of(self), label=self.label or "")
        if value is None and not self.allow_null:
            self.fail("null")
        return value


@extend_schema_field({"type": "string"})
class Code(serializers.Field):
    """A row, named by its code; a person by the sign-in name, a report by its number."""

    def __init__(self, model, **facts):
        self.model = model
        super().__init__(**facts)

    def to_internal_value(self, data):
        with named(self):
            if self.model is Coupon:
                return coupons.find(data, by=self.by)
            if self.model is Person:
                return _person(data)
            if self.model is Qualification:
                return qualifications.find(data, by=self.by)
            return rows.find(self.model, data, by=self.by)

    @property
    def by(self):
        """Who names it: what that person may not see is not there."""
        return self.context.get("by")

    def to_representation(self, row):
        if isinstance(row, Qualification):
            return row.report_number
        return row.username if isinstance(row, Person) else row.code


@extend_schema_field({"type": "string"})
class Why(serializers.CharField):
    """The reason; without it, or with an empty one, the refusal is that of the actions."""

    def run_validation(self, data=serializers.empty):
        if (data is serializers.empty and self.required) or data is None or data == "":
            raise ReasonMissing()
        return super().run_validation(data)


def _person(name):
    person = Person.objects.filter(username__iexact=str(name).strip()).first()
    if person is None:
        raise UnknownCode(noun="person", value=name)
    return person
