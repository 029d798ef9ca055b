"""Every refusal as JSON in one shape and in the same words as on pages and in commands."""

from __future__ import annotations

import logging

from django.core.exceptions import ValidationError
from django.db import DataError, IntegrityError, InternalError, OperationalError
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import api_view, permission_classes
from rest_framework.exceptions import NotFound
from rest_framework.permissions import AllowAny
from rest_framework.response import Response
from rest_framework.views import exception_handler

from labrecords.errors import DatabaseRefused, DatabaseUnavailable, FileRefused, Refusal

log = logging.getLogger(__name__)


class RefusedLine(serializers.Serializer):
    line = serializers.IntegerField()
    column = serializers.CharField()
    value = serializers.CharField()
    rule = serializers.CharField()


class RefusalShape(serializers.Serializer):
    """What every refused request is answered with."""

    code = serializers.CharField(help_text="Name of the rule, for programs.")
    field = serializers.CharField(help_text="Field of the request; empty when it is about the whole of it.")
    message = serializers.CharField(help_text="For people; the same words as on the pages.")
    lines = RefusedLine(many=True, required=False, help_text="Of a refused file: every line that was refused.")


@extend_schema(exclude=True)
@api_view(["GET", "POST", "PUT", "PATCH", "DELETE"])
@permission_classes([AllowAny])
def nothing_here(request, address=""):
    raise NotFound(f"There is nothing at “{request.path}”.")


def answer(problem, context):
    """REST framework's exception handler; None for what is a fault of ours."""
    refusal = problem if isinstance(problem, Refusal) else _of_database(problem)
    if refusal is not None:
        return _refused(refusal)
    if isinstance(problem, ValidationError):
        field, message = _first(getattr(problem, "message_dict", problem.messages))
        return _shape("ValidationError", field.removeprefix("__all__"), message, 400)
    response = exception_handler(problem, context)
    if response is not None:
        field, message = _first(response.data)
        message = f"{field}: {message}" if field else message
        response.data = {
            "code": type(problem).__name__,
            "field": field.rpartition(".")[2],
            "message": message,
        }
    return response


def _refused(refusal):
    if refusal.status >= 500:
        log.error("%s", refusal)
    response = _shape(refusal.code, refusal.field, refusal.told, refusal.status)
    for name, value in refusal.headers.items():
        response.headers[name] = value
    if isinstance(refusal, FileRefused):
        response.data["lines"] = refusal.lines
    return response


def _shape(code, field, message, status):
    return Response({"code": code, "field": field, "message": message}, status=status)


def _of_database(problem):
    """The rules that the database itself holds; a protected row is one of them."""
    if isinstance(problem, IntegrityError | InternalError | DataError):
        cause = getattr(problem.__cause__, "diag", None)
        rule = (cause and (cause.constraint_name or cause.message_primary)) or str(problem).partition("\n")[0]
        refusal = DatabaseRefused(rule=rule)
        refusal.status = 400 if isinstance(problem, DataError) else 409
        return refusal
    return DatabaseUnavailable(why="The database cannot be reached.") if isinstance(problem, OperationalError) else None


def _first(errors, path=""):
    """The first of REST framework's nested messages, with the path of its field."""
    if isinstance(errors, dict):
        own = {name: value for name, value in errors.items() if name not in ("detail", "non_field_errors")}
        if len(own) < len(errors):
            return _first(next(value for name, value in errors.items() if name not in own), path)
        name, value = next(iter(own.items()))
        return _first(value, f"{path}.{name}".strip("."))
    if isinstance(errors, list | tuple):
        return _first(next((item for item in errors if item), ""), path)
    return path, str(errors)
