"""The trail of any record: every change with old and new values, and the record as it was at a moment."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from labrecords import entry, journal
from labrecords import history as trail
from labrecords.api.bodies import Body
from labrecords.api.fields import Moment, Whole
from labrecords.api.refusals import RefusalShape
from labrecords.errors import MistypedCode, UnknownCode, ValueRefused
from labrecords.visibility import sight_of

ON = OpenApiParameter("on", str, required=True, description="Date and time, year first; the lab's time without a zone.")


class Change(serializers.Serializer):
    """One line of a row's history."""

    at = serializers.DateTimeField(help_text="The server's clock.")
    what = serializers.CharField()
    who = serializers.CharField()
    why = serializers.CharField()
    changed = serializers.DictField(help_text="Fields that it gave another value; null for a project out of sight.")
    before = serializers.DictField(help_text="The same fields before it; empty for the first entry.")


class Past(serializers.Serializer):
    """A record as it was at a moment."""

    on = serializers.DateTimeField()
    existed = serializers.BooleanField(help_text="False before its first entry; the rest is then null.")
    changed_at = serializers.DateTimeField(allow_null=True, help_text="When it was last changed before.")
    who = serializers.CharField(allow_null=True)
    why = serializers.CharField(allow_null=True)
    record = serializers.DictField(
        allow_null=True, help_text="Every field that the trail keeps; a project out of sight is null."
    )
    parts = serializers.DictField(
        child=serializers.ListField(child=serializers.DictField()),
        help_text="Rows without a code of their own that belonged to it, by kind: readings, members, steps …",
    )


def told(by, row):
    """The changes of a row, oldest first, as `Change` writes them."""
    sight = sight_of(by)
    return [_told(change, sight) for change in trail.changes(row)]


def _told(change, sight):
    fields = {item.name: item for item in trail.tracked_fields(change.event.pgh_tracked_model)}
    earlier = change.values if change.earlier else ()
    return {
        "at": change.at,
        "what": change.event.pgh_label,
        "who": change.who,
        "why": change.why,
        "changed": {name: trail.as_stored(fields[name], change.event, sight) for name in change.values},
        "before": {name: trail.as_stored(fields[name], change.earlier, sight) for name in earlier},
    }


def past(by, row, asked):
    """The row at the moment that a request asks for, as `Past` writes it."""
    unknown = sorted(set(asked) - {"on"})
    if unknown:
        raise ValueRefused(field=unknown[0], label="Parameter", value=unknown[0], rule="is not known; there is on")
    on = entry.moment(asked.get("on", ""), field="on", label="As it was on")
    trail.check_moment(on)
    event = trail.as_of(row, on)
    said = event.pgh_context.metadata if event else {}
    parts = trail.parts_as_of(by, row, on) if event else {}
    sight = sight_of(by)
    return {
        "on": on,
        "existed": event is not None,
        "changed_at": event and event.pgh_created_at,
        "who": said.get("who"),
        "why": said.get("why"),
        "record": event and _fields(event, sight),
        "parts": {trail.noun_of(model): [_fields(part, sight) for part in events] for model, events in parts.items()},
    }


def _fields(event, sight):
    return {item.name: trail.as_stored(item, event, sight) for item in trail.tracked_fields(event.pgh_tracked_model)}


def _found(request, noun, name):
    try:
        return trail.found(request.user, noun, name)
    except (UnknownCode, MistypedCode) as refusal:
        refusal.status = 404
        raise


class JournalRow(Change):
    noun = serializers.CharField(help_text="Kind of record, as in /api/history/.")
    record = serializers.CharField(help_text="What it is called by there.")


class JournalPage(serializers.Serializer):
    count = serializers.IntegerField()
    results = JournalRow(many=True)


class Asked(Body):
    since = Moment(help_text="First moment.")
    until = Moment(required=False, help_text="Last moment; without it, now.")
    who = serializers.CharField(required=False, help_text="Sign-in name.")
    noun = serializers.CharField(required=False, help_text="Kind of record, as in /api/history/.")
    limit = Whole(low=1, high=1000, required=False, default=100)
    offset = Whole(low=0, required=False, default=0)


class JournalView(APIView):
    @extend_schema(operation_id="history_of_all", parameters=[Asked], responses={200: JournalPage, 400: RefusalShape})
    def get(self, request):
        """Every change of every record in a time span, newest first."""
        asked = Asked(data=request.query_params.dict())
        asked.is_valid(raise_exception=True)
        said = {"until": timezone.now(), **asked.validated_data}
        start, end = said.pop("offset"), said.pop("limit")
        if said.get("noun", "") not in ("", *trail.nouns()):
            rule = f"is no kind of record; there are {', '.join(sorted(trail.nouns()))}"
            raise ValueRefused(field="noun", label="Noun", value=said["noun"], rule=rule)
        lines = journal.found(request.user, journal.Span(**said))
        told = journal.changes(list(lines[start : start + end]))
        sight = sight_of(request.user)
        rows = [_told(change, sight) | {"noun": noun, "record": change.name} for noun, change in told]
        return Response(JournalPage({"count": lines.count(), "results": rows}).data)


class HistoryView(APIView):
    """Records that have no list of their own in the API have their history here too."""

    @extend_schema(operation_id="history_list", responses={200: Change(many=True), 404: RefusalShape})
    def get(self, request, noun, name):
        """Who changed what of any record, when and why, from the first entry on."""
        return Response(Change(told(request.user, _found(request, noun, name)), many=True).data)


class PastView(APIView):
    @extend_schema(
        operation_id="history_as_of", parameters=[ON], responses={200: Past, 400: RefusalShape, 404: RefusalShape}
    )
    def get(self, request, noun, name):
        """Any record as it was at a moment."""
        return Response(Past(past(request.user, _found(request, noun, name), request.query_params.dict())).data)
