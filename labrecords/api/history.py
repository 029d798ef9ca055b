"""The trail of any record: every change with old and new values, and the record as it was at a moment."""

from __future__ import annotations

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from labrecords import entry
from labrecords import history as trail
from labrecords.api.refusals import RefusalShape
from labrecords.errors import MistypedCode, UnknownCode, ValueRefused

ON = OpenApiParameter("on", str, required=True, description="Date and time, year first; the lab's time without a zone.")


class Change(serializers.Serializer):
    """One line of a row's history."""

    at = serializers.DateTimeField(help_text="The server's clock.")
    what = serializers.CharField()
    who = serializers.CharField()
    why = serializers.CharField()
    changed = serializers.DictField(help_text="Fields that this change gave another value.")
    before = serializers.DictField(help_text="The same fields before it; empty for the first entry.")


class Past(serializers.Serializer):
    """A record as it was at a moment."""

    on = serializers.DateTimeField()
    existed = serializers.BooleanField(help_text="False before its first entry; the rest is then null.")
    changed_at = serializers.DateTimeField(allow_null=True, help_text="When it was last changed before.")
    who = serializers.CharField(allow_null=True)
    why = serializers.CharField(allow_null=True)
    record = serializers.DictField(allow_null=True, help_text="Every field that the trail keeps.")
    parts = serializers.DictField(
        child=serializers.ListField(child=serializers.DictField()),
        help_text="Rows without a code of their own that belonged to it, by kind: readings, members, steps …",
    )


def told(row):
    """The changes of a row, oldest first, as `Change` writes them."""
    for change in trail.changes(row):
        fields = {item.name: item for item in trail.tracked_fields(type(row))}
        yield {
            "at": change.at,
            "what": change.event.pgh_label,
            "who": change.who,
            "why": change.why,
            "changed": {name: trail.as_stored(fields[name], change.event) for name in change.values},
            "before": {name: trail.as_stored(fields[name], change.earlier) for name in change.values}
            if change.earlier
            else {},
        }


def past(row, asked):
    """The row at the moment that a request asks for, as `Past` writes it."""
    unknown = sorted(set(asked) - {"on"})
    if unknown:
        raise ValueRefused(field=unknown[0], label="Parameter", value=unknown[0], rule="is not known; there is on")
    on = entry.moment(asked.get("on", ""), field="on", label="As it was on")
    trail.check_moment(on)
    event = trail.as_of(row, on)
    said = event.pgh_context.metadata if event else {}
    parts = trail.parts_as_of(row, on) if event else {}
    return {
        "on": on,
        "existed": event is not None,
        "changed_at": event and event.pgh_created_at,
        "who": said.get("who"),
        "why": said.get("why"),
        "record": event and _fields(event),
        "parts": {trail.noun_of(model): [_fields(part) for part in events] for model, events in parts.items()},
    }


def _fields(event):
    return {item.name: trail.as_stored(item, event) for item in trail.tracked_fields(event.pgh_tracked_model)}


def _found(request, noun, name):
    try:
        return trail.found(request.user, noun, name)
    except (UnknownCode, MistypedCode) as refusal:
        refusal.status = 404
        raise


class HistoryView(APIView):
    """Records that have no list of their own in the API have their history here too."""

    @extend_schema(operation_id="history_list", responses={200: Change(many=True), 404: RefusalShape})
    def get(self, request, noun, name):
        """Who changed what of any record, when and why, from the first entry on."""
        return Response(Change(told(_found(request, noun, name)), many=True).data)


class PastView(APIView):
    @extend_schema(
        operation_id="history_as_of", parameters=[ON], responses={200: Past, 400: RefusalShape, 404: RefusalShape}
    )
    def get(self, request, noun, name):
        """Any record as it was at a moment."""
        return Response(Past(past(_found(request, noun, name), request.query_params.dict())).data)
