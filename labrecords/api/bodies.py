"""What goes in and out: serializers derived from the models, so that a field is declared once."""

from __future__ import annotations

from django.db import models
from django.utils.text import capfirst
from rest_framework import serializers
from rest_framework.utils.field_mapping import ClassLookupDict

from labrecords.api.fields import Code, Day, Moment, Number, Whole
from labrecords.errors import ValueRefused


class Row(serializers.ModelSerializer):
    """A row of a model: every field in `Meta.fields` and every one declared on the class."""

    serializer_field_mapping = serializers.ModelSerializer.serializer_field_mapping | {
        models.FloatField: Number,
        models.PositiveIntegerField: Whole,
        models.DateTimeField: Moment,
        models.DateField: Day,
    }

    def get_field_names(self, declared_fields, info):
        return list(dict.fromkeys([*self.Meta.fields, *declared_fields]))

    def build_standard_field(self, name, model_field):
        kind = ClassLookupDict(self.serializer_field_mapping)[model_field]
        facts = _facts(model_field)
        if not model_field.editable or model_field.primary_key:
            return kind, {"read_only": True, "label": facts["label"]}
        if issubclass(kind, serializers.CharField):
            facts["allow_blank"] = model_field.blank
        return kind, facts

    def build_relational_field(self, name, relation):
        facts = _facts(relation.model_field)
        if not relation.model_field.editable:
            return Code, {"model": relation.related_model, "read_only": True}
        return Code, {"model": relation.related_model, **facts}


class Body(serializers.Serializer):
    """What a request may say. A name that is not declared is refused, never ignored."""

    def to_internal_value(self, data):
        if isinstance(data, dict):
            known = {name for name, field in self.fields.items() if not field.read_only}
            unknown = sorted(str(name) for name in set(data) - known)
            if unknown:
                rule = f"is no field of this request; there are {', '.join(sorted(known)) or 'none'}"
                raise ValueRefused(field=unknown[0], label="Field", value=unknown[0], rule=rule)
        return super().to_internal_value(data)


class RowBody(Body, Row):
    """A request whose fields are those of a model, which checks the values in the words of every face."""


def stored_fields(model, *leave_out):
    """Names of everything that is stored of a row; its number in the table only where it has no code."""
    names = [field.name for field in model._meta.concrete_fields if field.name not in leave_out]
    return tuple(name for name in names if name != "id" or "code" not in names)


def typed_fields(model, *leave_out):
    """Names of what people fill in. Not for a model whose rows have a state: there, say the names."""
    return tuple(
        field.name
        for field in model._meta.concrete_fields
        if field.editable and not field.primary_key and field.name not in leave_out
    )


def _facts(model_field):
    return {
        "label": capfirst(str(model_field.verbose_name)),
        "help_text": str(model_field.help_text) or _choices(model_field),
        "required": not (model_field.blank or model_field.null or model_field.has_default()),
        "allow_null": model_field.null,
    }


def _choices(model_field):
    """The keys that a text may be, for the document; the model refuses others in its own words."""
    keys = [str(key) for key, _ in model_field.flatchoices if key != ""]
    return f"One of {', '.join(keys)}." if keys else None
