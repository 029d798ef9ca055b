"""Assessments: the way from a tested batch to its report, one step a verb; signing asks for the password again."""

from django.db.models import Prefetch
from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action

from analysis import Outcome
from labrecords.actions import assessments, signing
from labrecords.api.bodies import Body, Row, stored_fields
from labrecords.api.fields import Code, Whole
from labrecords.api.qualifications import AnyAccept
from labrecords.api.refusals import RefusalShape
from labrecords.api.rows import Rows, posts
from labrecords.api.shapes import shape
from labrecords.errors import UnknownCode
from labrecords.models import Assessment, AssessmentVersion, Batch, CriterionSet, Qualification, Signature
from labrecords.reports import qualification


class SignatureRow(Row):
    class Meta:
        model = Signature
        fields = stored_fields(Signature, "id", "assessment", "created_at", "created_by")


class CheckedSignature(serializers.Serializer):
    """A signature, whether it is of the version that counts, and what does not fit it."""

    signature = SignatureRow()
    counts = serializers.BooleanField()
    is_valid = serializers.BooleanField()
    faults = serializers.ListField(child=serializers.CharField())


class AssessmentRow(Row):
    criteria = serializers.CharField(source="criterion_revision.criterion_set.code", read_only=True)
    revision = serializers.IntegerField(source="criterion_revision.number", read_only=True)
    verdict = serializers.SerializerMethodField()
    content_sha256 = serializers.SerializerMethodField()
    next = serializers.SerializerMethodField(help_text="Name of the verb that leads on; empty at the end of the way.")
    report = serializers.SerializerMethodField(help_text="Number of the issued report.")

    class Meta:
        model = Assessment
        fields = stored_fields(Assessment, "criterion_revision")

    def get_verdict(self, row) -> str:
        return _content(row).verdict

    def get_content_sha256(self, row) -> str:
        return _content(row).content_sha256

    def get_next(self, row) -> str:
        return assessments.NEXT.get(row.state, "")

    def get_report(self, row) -> str | None:
        report = getattr(row, "report", None)
        return report and report.report_number


class AssessmentPage(AssessmentRow):
    """An assessment with what is to be signed and every signature, checked."""

    outcomes = serializers.SerializerMethodField()
    deviations = serializers.SerializerMethodField()
    signatures = serializers.SerializerMethodField()

    @extend_schema_field(shape(Outcome)(many=True))
    def get_outcomes(self, row):
        return row.content.evidence["judgement"]["outcomes"]

    def get_deviations(self, row) -> list[dict]:
        return row.content.evidence["deviations"]

    @extend_schema_field(CheckedSignature(many=True))
    def get_signatures(self, row):
        return CheckedSignature(signing.verify(row), many=True).data


def _content(row):
    """The version that counts, of those that were read with the row."""
    return next(version for version in row.versions.all() if version.number == row.version)


class PrepareAssessment(Body):
    batch = Code(Batch)
    criteria = Code(CriterionSet, help_text="Code of the specification.")
    revision = Whole(low=1, required=False, help_text="Number of its revision; without it the newest.")
    amends = Code(Qualification, required=False, help_text="Number of the issued report that this one amends.")
    amendment = serializers.CharField(required=False, help_text="amends (a further document) or replaces.")
    amendment_reason = serializers.CharField(required=False, help_text="What changes and why; the report prints it.")

    def validate(self, said):
        asked, specification = said.pop("revision", None), said.pop("criteria")
        found = specification.revisions.filter(number=asked).first() if asked else specification.revisions.last()
        if found is None:
            raise UnknownCode(field="revision", noun=f"revision of {specification.code}", value=asked)
        return said | {"criterion_revision": found}


class Seen(Body):
    version = Whole(low=1, help_text="The version that you have looked at; a newer one is a conflict.")


class MaybeSeen(Body):
    version = Whole(low=1, required=False)


class AssessmentViews(Rows):
    queryset = (
        Assessment.objects.select_related(
            "batch", "criterion_revision__criterion_set", "created_by", "amends", "report"
        )
        .defer("amends__file", "amends__evidence", "report__file", "report__evidence")
        .prefetch_related(Prefetch("versions", AssessmentVersion.objects.defer("evidence")))
    )
    serializer_class = AssessmentRow
    one_class = AssessmentPage
    lookup_field = "pk"
    filters = {
        "batch": "batch__code__iexact",
        "criteria": "criterion_revision__criterion_set__code__iexact",
        "state": "state",
        "amends": "amends__report_number__iexact",
    }

    create = posts(assessments.prepare, PrepareAssessment, AssessmentPage)
    prepare_again = posts(
        assessments.prepare_again, MaybeSeen, AssessmentPage, row="assessment", status=200, path="prepare-again"
    )
    complete = posts(assessments.complete, Seen, AssessmentPage, row="assessment", status=200)
    review = posts(assessments.review, Seen, AssessmentPage, row="assessment", status=200)
    approve = posts(assessments.approve, Seen, AssessmentPage, row="assessment", status=200)
    issue = posts(
        assessments.issue, MaybeSeen, AssessmentPage, row="assessment", owner="assessment", status=200,
        call=qualification.issue,
    )  # fmt: skip
    withdraw = posts(assessments.withdraw, MaybeSeen, AssessmentPage, row="assessment", status=200)

    @extend_schema(responses={(200, "application/pdf"): OpenApiTypes.BINARY, 404: RefusalShape})
    @action(detail=True, content_negotiation_class=AnyAccept)
    def draft(self, request, **address):
        """What would be issued as PDF, marked as a draft on every page."""
        assessment = self.get_object()
        name = f"draft-assessment-{assessment.pk}-version-{assessment.version}.pdf"
        headers = {"Content-Disposition": f'attachment; filename="{name}"'}
        return HttpResponse(qualification.draft(assessment), content_type="application/pdf", headers=headers)
