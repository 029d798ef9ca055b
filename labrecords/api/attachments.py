"""Files of records: listed, sent as a form, read byte for byte, withdrawn."""

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser

from labrecords import uploads
from labrecords.actions import attachments
from labrecords.api.bodies import Row, RowBody, stored_fields
from labrecords.api.parsers import StrictJson
from labrecords.api.qualifications import AnyAccept
from labrecords.api.refusals import RefusalShape
from labrecords.api.rows import Rows, posts
from labrecords.errors import ValueRefused
from labrecords.models import Attachment
from labrecords.models.attachment import OWNERS


class AttachmentRow(Row):
    kind = serializers.CharField(source="stored.kind", read_only=True)
    size = serializers.IntegerField(source="stored.size", read_only=True, help_text="Bytes.")
    sha256 = serializers.CharField(source="stored.sha256", read_only=True)

    class Meta:
        model = Attachment
        fields = stored_fields(Attachment, "stored")


class AddAttachment(RowBody):
    file = serializers.FileField(required=False, allow_empty_file=True)

    class Meta:
        model = Attachment
        fields = (*OWNERS, "note")

    def validate(self, said):
        owners = [said.pop(name) for name in OWNERS if name in said]
        if len(owners) != 1 or owners[0] is None:
            rule = f"is not exactly one of {', '.join(OWNERS)}"
            value = f"{len(owners)} records"
            raise ValueRefused(field="owner", label="What the file belongs to", value=value, rule=rule)
        return said | {"owner": owners[0]}


def add(*, file=None, **said):
    name, data = uploads.received(file)
    return attachments.add(name=name, data=data, **said)


def _withdrawn(queryset, value):
    return queryset.filter(withdrawn_by__isnull=not value)


class AttachmentViews(Rows):
    queryset = Attachment.objects.with_names()
    serializer_class = AttachmentRow
    lookup_field = "pk"
    parser_classes = [StrictJson, MultiPartParser]
    filters = {name: f"{name}__code__iexact" for name in OWNERS} | {
        "sha256": "stored__sha256",
        "is_withdrawn": _withdrawn,
    }

    create = posts(attachments.add, AddAttachment, AttachmentRow, call=add)
    withdraw = posts(attachments.withdraw, answer=AttachmentRow, row="attachment", status=200)

    @extend_schema(responses={(200, "application/octet-stream"): OpenApiTypes.BINARY, 404: RefusalShape})
    @action(detail=True, content_negotiation_class=AnyAccept)
    def file(self, request, **address):
        """The file, byte for byte; the header `Repr-Digest` holds its SHA-256 (RFC 9530)."""
        return uploads.sent(self.get_object())
