"""What every noun of the API has: a list with filters and pages, one by its code, history, verbs by POST."""

from __future__ import annotations

import re
from inspect import Parameter, signature

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers, viewsets
from rest_framework.decorators import action
from rest_framework.filters import BaseFilterBackend
from rest_framework.pagination import LimitOffsetPagination
from rest_framework.response import Response

from labrecords import access, entry
from labrecords.actions import rows
from labrecords.api.bodies import Body
from labrecords.api.fields import Why
from labrecords.api.history import ON, Change, Past, past, told
from labrecords.api.refusals import RefusalShape
from labrecords.api.repeats import KEY, Repeatable
from labrecords.errors import MistypedCode, UnknownCode, ValueRefused
from labrecords.visibility import visible


class Pages(LimitOffsetPagination):
    default_limit = 100
    max_limit = 1000


class Filters(BaseFilterBackend):
    """Query parameters that the view declares as {name: lookup}; an unknown one is refused, never ignored."""

    def filter_queryset(self, request, queryset, view):
        asked = request.query_params.dict()
        unknown = sorted(set(asked) - set(view.filters) - {"limit", "offset"})
        if unknown:
            rule = f"is no filter of this list; there are {', '.join(sorted(view.filters)) or 'none'}"
            raise ValueRefused(field=unknown[0], label="Filter", value=unknown[0], rule=rule)
        for name in set(asked) & set(view.filters):
            queryset = _filtered(queryset, name, view.filters[name], asked[name])
        return queryset

    def get_schema_operation_parameters(self, view):
        return [
            {"name": name, "in": "query", "required": False, "schema": {"type": "string"}}
            for name in sorted(view.filters)
        ]


class Rows(Repeatable, mixins.ListModelMixin, mixins.RetrieveModelMixin, viewsets.GenericViewSet):
    lookup_field = "code"
    lookup_value_regex = "[^/]+"
    filter_backends = [Filters]
    filters: dict = {}
    one_class = None  # the serializer of a single row, where it says more than the list
    page_prefetch = ()  # what that one needs

    @property
    def pagination_class(self):
        return Pages if self.action == "list" else None

    def get_queryset(self):
        found = super().get_queryset()
        if not getattr(self, "swagger_fake_view", False):  # the document is written with nobody asking
            found = visible(found, self.request.user)
        return found if self.action == "list" else found.prefetch_related(*self.page_prefetch)

    def get_serializer_class(self):
        return self.serializer_class if self.action == "list" else self.one_class or self.serializer_class

    def get_object(self):
        """The row that the address names; a missing one is answered 404, in the words of the actions."""
        try:
            return self.get_queryset().get(pk=self.find(self.kwargs[self.lookup_field]).pk)
        except (UnknownCode, MistypedCode) as refusal:
            refusal.status = 404
            raise

    def find(self, name):
        model = self.queryset.model
        if self.lookup_field == "code":
            return rows.find(model, name, by=self.request.user)
        is_odd = self.lookup_field == "pk" and not re.fullmatch(r"\d{1,18}", name, re.ASCII)
        seen = visible(model.objects.all(), self.request.user)
        row = None if is_odd else seen.filter(**{self.lookup_field: name}).first()
        if row is None:
            raise UnknownCode(field=self.lookup_field, noun=str(model._meta.verbose_name), value=name)
        return row

    @extend_schema(responses=Change(many=True), filters=False)
    @action(detail=True)
    def history(self, request, **address):
        """Who changed what, when and why, from the first entry on."""
        access.check(request.user, "history.look")
        return Response(Change(told(request.user, self.get_object()), many=True).data)

    @extend_schema(parameters=[ON], responses={200: Past, 400: RefusalShape, 404: RefusalShape}, filters=False)
    @action(detail=True, url_path="as-of")
    def as_of(self, request, **address):
        """The record as it was at a moment: its fields, and what belonged to it."""
        access.check(request.user, "history.look")
        return Response(Past(past(request.user, self.get_object(), request.query_params.dict())).data)


def posts(verb, body=Body, answer=None, *, row="", owner="", many=False, status=201, path=None, call=None):
    """A view that reads `body`, calls the verb and answers with what it returned.

    `row`: the verb's argument that the address names; where there is none, the view is the list's `create`.
    `owner`: attribute of the returned row that is answered instead. `call`: what is called in place of
    the verb, for values that only the row can read. The body's `why` follows the verb's signature.
    """
    body = body_of(verb, body)

    def view(self, request, **address):
        said = read(body, request)
        if row:
            said[row] = self.get_object()
        if is_signed(verb):
            said["request"] = request._request  # what failed attempts are counted by
        done = (call or verb)(by=request.user, **said)
        return Response(answer(fresh(self, done, owner), many=many).data, status=status)

    view.__name__ = verb.__name__ if row else "create"
    view.__doc__ = verb.__doc__
    refused = dict.fromkeys((400, 403, 409, 422, *([429] if is_signed(verb) else [])), RefusalShape)
    if row:
        view = action(detail=True, methods=["post"], url_path=path or verb.__name__)(view)
    responses = {status: answer(many=many), **refused}
    return extend_schema(request=body, responses=responses, parameters=[KEY], filters=False)(view)


def body_of(verb, body=Body):
    """The body with the reason beside it, required where the verb has no default for it; and the password to sign."""
    name = "".join(part.title() for part in re.split(r"[._]", verb.verb))
    needs_why = signature(verb).parameters["why"].default is Parameter.empty
    more = {"why": Why(required=needs_why), "__doc__": verb.__doc__, "__module__": __name__}
    if is_signed(verb):
        more["password"] = serializers.CharField(
            write_only=True, trim_whitespace=False, allow_blank=True, help_text="Of the person who signs, once again."
        )
    return type(name, (body,), more)


def is_signed(verb):
    return hasattr(verb, "meaning")


def read(body, request):
    """What the request says, as arguments of a verb."""
    reader = body(data=request.data, context={"by": request.user})
    reader.is_valid(raise_exception=True)
    return dict(reader.validated_data)


def fresh(view, done, owner=""):
    """What a verb returned, read anew with everything that the answer prints."""
    if isinstance(done, list):
        return view.get_queryset().filter(pk__in=[row.pk for row in done])
    row = getattr(done, owner) if owner else done
    return view.get_queryset().get(pk=row.pk)


def _filtered(queryset: QuerySet, name, lookup, value):
    try:
        if name.startswith("is_"):
            value = {"true": True, "false": False}[value.lower()]
        elif "_at__" in str(lookup):
            value = entry.moment(value, field=name)
        return lookup(queryset, value) if callable(lookup) else queryset.filter(**{lookup: value})
    except (KeyError, ValueError, ValidationError):
        raise ValueRefused(field=name, label="Filter", value=value, rule=f"is no value of {name}") from None
