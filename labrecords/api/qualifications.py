"""Qualifications as they were issued, and their file byte for byte. The way to one is under assessments."""

from base64 import b64encode

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.negotiation import BaseContentNegotiation

from analysis import Outcome
from labrecords.api.bodies import Row, stored_fields
from labrecords.api.fields import Code
from labrecords.api.refusals import RefusalShape
from labrecords.api.rows import Rows
from labrecords.api.shapes import shape
from labrecords.models import Qualification


class QualificationRow(Row):
    criteria = serializers.CharField(source="criterion_revision.criterion_set.code", read_only=True)
    revision = serializers.IntegerField(source="criterion_revision.number", read_only=True)
    outcomes = shape(Outcome)(many=True, read_only=True)
    assessment = serializers.PrimaryKeyRelatedField(read_only=True)
    amends = Code(Qualification, read_only=True, help_text="The report that this one amends or replaces.")
    superseded_by = Code(
        Qualification, source="successor", read_only=True, help_text="The report that amends or replaces this one."
    )

    class Meta:
        model = Qualification
        fields = stored_fields(Qualification, "id", "criterion_revision", "evidence", "file")


class AnyAccept(BaseContentNegotiation):
    """A file is sent as it is, whatever the request says it would accept."""

    def select_parser(self, request, parsers):
        return parsers[0]

    def select_renderer(self, request, renderers, format_suffix=None):
        return renderers[0], renderers[0].media_type


class QualificationViews(Rows):
    queryset = (
        Qualification.objects.select_related(
            "batch", "criterion_revision__criterion_set", "issued_by", "created_by", "amends"
        )
        .listed()
        .defer(None)
        .defer("file", "evidence", "amends__file", "amends__evidence")
    )
    serializer_class = QualificationRow
    lookup_field = "report_number"
    filters = {
        "batch": "batch__code__iexact",
        "criteria": "criterion_revision__criterion_set__code__iexact",
        "verdict": "verdict",
        "issued_from": "issued_at__gte",
        "issued_to": "issued_at__lte",
        "amends": "amends__report_number__iexact",
        "is_superseded": lambda rows, said: rows.filter(amended_by__isnull=not said),
    }

    @extend_schema(responses={(200, "application/pdf"): OpenApiTypes.BINARY, 404: RefusalShape})
    @action(detail=True, content_negotiation_class=AnyAccept)
    def file(self, request, **address):
        """The issued PDF, byte for byte; the header `Repr-Digest` holds its SHA-256 (RFC 9530)."""
        issued = self.get_object()
        name = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in issued.report_number)
        digest = b64encode(bytes.fromhex(issued.sha256)).decode()
        headers = {
            "Content-Disposition": f'attachment; filename="{name}.pdf"',
            "Repr-Digest": f"sha-256=:{digest}:",
        }
        return HttpResponse(bytes(issued.file), content_type="application/pdf", headers=headers)
