"""Batches: formed, joined by further coupons; what their readings mean."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.response import Response

from analysis import BatchResult, Chain, as_data, explain_batch
from labrecords.actions import analyses, batches
from labrecords.api.bodies import Body, Row, RowBody, stored_fields
from labrecords.api.fields import Code
from labrecords.api.recipes import NamedRevision
from labrecords.api.refusals import RefusalShape
from labrecords.api.rows import Rows, posts
from labrecords.api.shapes import shape
from labrecords.models import Batch, BatchMember, Coupon, Deviation


class MemberRow(Row):
    class Meta:
        model = BatchMember
        fields = ("coupon", "role", "created_at", "created_by")


class BatchDeviationRow(Row):
    class Meta:
        model = Deviation
        fields = stored_fields(Deviation, "batch", "process")


class BatchRow(Row):
    recipe = serializers.CharField(source="recipe_revision.recipe.code", read_only=True)
    revision = serializers.IntegerField(source="recipe_revision.number", read_only=True)

    class Meta:
        model = Batch
        fields = stored_fields(Batch, "recipe_revision")


class BatchPage(BatchRow):
    """A batch with its coupons, its deviations and its qualifications."""

    members = MemberRow(many=True, read_only=True)
    deviations = BatchDeviationRow(many=True, read_only=True)
    qualifications = serializers.SerializerMethodField()

    def get_qualifications(self, batch) -> list[str]:
        return list(batch.qualifications.values_list("report_number", flat=True))


class FormBatch(NamedRevision, RowBody):
    treated = serializers.ListField(child=Code(Coupon))
    control = serializers.ListField(child=Code(Coupon), required=False)
    reference = serializers.ListField(child=Code(Coupon), required=False)

    class Meta:
        model = Batch
        fields = ("code", "title", "project", "lot", "treatment", "sampling", "remark")


class AmendBatch(RowBody):
    class Meta:
        model = Batch
        fields = batches.AMENDABLE


class JoinBatch(Body):
    coupon = Code(Coupon)
    role = serializers.CharField()


class GroupExplanations(serializers.Serializer):
    """The chains of one group of coupons; its key is that of the results."""

    group = serializers.CharField()
    chains = shape(Chain)(many=True)


class BatchExplanations(serializers.Serializer):
    groups = GroupExplanations(many=True)


class BatchViews(Rows):
    queryset = Batch.objects.select_related("project", "lot", "recipe_revision__recipe", "created_by")
    page_prefetch = ("members__coupon", "members__created_by", "deviations__created_by")
    serializer_class = BatchRow
    one_class = BatchPage
    filters = {
        "project": "project__code__iexact",
        "recipe": "recipe_revision__recipe__code__iexact",
        "lot": "lot__code__iexact",
        "coupon": "members__coupon__code__iexact",
    }

    create = posts(batches.form, FormBatch, BatchPage)
    amend = posts(batches.amend, AmendBatch, BatchPage, row="batch", status=200)
    join = posts(batches.join, JoinBatch, BatchPage, row="batch", owner="batch")

    @extend_schema(responses={200: shape(BatchResult), 404: RefusalShape})
    @action(detail=True)
    def results(self, request, **address):
        """Statistics with the coupon as the unit of replication, over the completed runs as they are now."""
        return Response(as_data(analyses.batch_result(self.get_object())))

    @extend_schema(responses={200: BatchExplanations, 404: RefusalShape})
    @action(detail=True)
    def explanations(self, request, **address):
        """Why each statistic of each group of coupons is what it is, coupon by coupon."""
        told = explain_batch(analyses.batch_records(self.get_object()))
        return Response({"groups": as_data([{"group": key, "chains": chains} for key, chains in told.items()])})
