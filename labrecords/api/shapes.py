"""Shapes of frozen records for the document, read from their annotations: no second list of fields."""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Mapping

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

_PLAIN = {str: serializers.CharField, int: serializers.IntegerField, bool: serializers.BooleanField}
_made = {}


@extend_schema_field({"oneOf": [{"type": "number"}, {"type": "string"}]})
class Figure(serializers.Field):
    """A number; "inf" where a value lies beyond every stage limit."""


@extend_schema_field({})
class Anything(serializers.Field):
    pass


class Shape(serializers.Serializer):
    """Describes; what was stored goes out as it is, also when it was stored by an older version."""

    def to_representation(self, data):
        return data


def shape(record, *leave_out, **extra):
    """A serializer class with the fields of a frozen record, functions left out and `extra` fields added."""
    if record not in _made:
        hints = typing.get_type_hints(record)
        fields = {
            item.name: _field(hints[item.name]) for item in dataclasses.fields(record) if item.name not in leave_out
        }
        _made[record] = type(record.__name__, (Shape,), {**fields, **extra, "__doc__": record.__doc__})
    return _made[record]


def _field(hint, **facts):
    origin, parts = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        return _field(*[part for part in parts if part is not type(None)][:1], allow_null=type(None) in parts)
    if origin in (tuple, list):
        return serializers.ListField(child=_field(parts[0]), **facts)
    if origin is Mapping:
        return serializers.DictField(child=_field(parts[1]), **facts)
    if dataclasses.is_dataclass(hint):
        return shape(hint)(**facts)
    if hint is float:
        return Figure(**facts)
    return _PLAIN.get(hint, Anything)(**facts)
