"""What was really done to which coupons, step by step, and the deviations on the way."""

from django.db.models import Prefetch
from rest_framework import serializers

from labrecords.actions import processing
from labrecords.api.bodies import Body, Row, RowBody, stored_fields, typed_fields
from labrecords.api.fields import Code, Entered, Moment, Whole
from labrecords.api.recipes import typed_value
from labrecords.api.rows import Rows, posts
from labrecords.errors import UnknownCode
from labrecords.models import BathLot, Deviation, LubricantLot, Person, ProcessedCoupon, ProcessLot, ProcessRecord
from labrecords.visibility import visible


class ProcessedRow(Row):
    class Meta:
        model = ProcessedCoupon
        fields = stored_fields(ProcessedCoupon, "id", "process", "created_at", "created_by")


class DeviationRow(Row):
    process = serializers.PrimaryKeyRelatedField(read_only=True)

    class Meta:
        model = Deviation
        fields = stored_fields(Deviation)


class ProcessRow(Row):
    step = serializers.IntegerField(source="step.order", read_only=True)
    kind = serializers.CharField(source="step.kind", read_only=True)
    name = serializers.CharField(source="step.name", read_only=True)
    cautions = serializers.ListField(child=serializers.CharField(), source="step.declaration.cautions", read_only=True)
    actual = serializers.DictField(child=Entered())
    coupons = ProcessedRow(many=True, read_only=True, source="processed")
    deviations = DeviationRow(many=True, read_only=True)
    lots = serializers.SerializerMethodField()

    class Meta:
        model = ProcessRecord
        fields = stored_fields(ProcessRecord)

    def get_lots(self, process) -> list[str]:
        return [(use.bath_lot or use.lubricant_lot).code for use in process.lots.all()]


class ProcessedBody(RowBody):
    class Meta:
        model = ProcessedCoupon
        fields = typed_fields(ProcessedCoupon, "process")


class WeighedBody(RowBody):
    class Meta:
        model = ProcessedCoupon
        fields = ("coupon", "mass_before_mg", "mass_after_mg")


class Actual(Body):
    """Actual values and reasons by the keys that the step's kind declares."""

    actual = serializers.DictField(child=Entered(allow_null=True), required=False)
    reasons = serializers.DictField(
        child=serializers.CharField(),
        required=False,
        help_text="Of values outside tolerance; each becomes a deviation.",
    )


class RecordStep(Actual, RowBody):
    step = Whole(low=1, help_text="Order of the step in the batch's recipe revision.")
    coupons = ProcessedBody(many=True)
    operator = Code(Person, required=False, help_text="Who did it; without it, who sends it.")
    bath_lots = serializers.ListField(child=Code(BathLot), required=False)
    lubricant_lots = serializers.ListField(child=Code(LubricantLot), required=False)

    class Meta:
        model = ProcessRecord
        fields = ("batch", "started_at", "finished_at", "remark")

    def validate(self, said):
        step = said["batch"].recipe_revision.steps.filter(order=said["step"]).first()
        if step is None:
            raise UnknownCode(field="step", noun=f"step in {said['batch'].recipe_revision}", value=said["step"])
        return said | {
            "step": step,
            "coupons": [row["coupon"] for row in said["coupons"]],
            "masses": _masses(said["coupons"]),
            "rack": {row["coupon"].code: row.get("rack_position", "") for row in said["coupons"]},
            "actual": _typed(step.declaration, said.get("actual")),
        }


class FinishStep(Actual):
    finished_at = Moment()
    coupons = WeighedBody(many=True, required=False, help_text="Masses, where they were weighed.")
    remark = serializers.CharField(required=False, allow_blank=True)


class Numbered(serializers.PrimaryKeyRelatedField):
    """A row named by its number; one that the person may not see is not there."""

    def get_queryset(self):
        return visible(super().get_queryset(), self.context.get("by"))


class DeviationBody(RowBody):
    process = Numbered(queryset=ProcessRecord.objects, required=False, allow_null=True)

    class Meta:
        model = Deviation
        fields = typed_fields(Deviation, "process")


def finish(*, process, actual=None, coupons=(), **said):
    """The step's kind says what its values are."""
    actual = _typed(process.step.declaration, actual)
    return processing.finish(process=process, actual=actual, masses=_masses(coupons), **said)


class ProcessViews(Rows):
    queryset = ProcessRecord.objects.select_related("batch", "step", "operator", "created_by").prefetch_related(
        "processed__coupon",
        Prefetch("deviations", Deviation.objects.select_related("batch", "created_by")),
        Prefetch("lots", ProcessLot.objects.select_related("bath_lot", "lubricant_lot")),
    )
    serializer_class = ProcessRow
    lookup_field = "pk"
    filters = {
        "batch": "batch__code__iexact",
        "coupon": "processed__coupon__code__iexact",
        "kind": "step__kind",
        "operator": "operator__username__iexact",
        "is_open": "finished_at__isnull",
    }

    create = posts(processing.record, RecordStep, ProcessRow)
    finish = posts(processing.finish, FinishStep, ProcessRow, row="process", status=200, call=finish)


class DeviationViews(Rows):
    queryset = Deviation.objects.select_related("batch", "created_by")
    serializer_class = DeviationRow
    lookup_field = "pk"
    filters = {"batch": "batch__code__iexact"}

    create = posts(processing.note_deviation, DeviationBody, DeviationRow)


def _typed(kind, actual):
    """Values by the step's declaration, read strictly; an empty one counts as not given."""
    return {
        key: typed_value(kind.field(key), value) for key, value in (actual or {}).items() if value not in (None, "")
    }


def _masses(coupons):
    return {row["coupon"].code: (row.get("mass_before_mg"), row.get("mass_after_mg")) for row in coupons}
