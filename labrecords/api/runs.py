"""Test runs and their readings: entered, corrected, completed, reviewed; what they mean; files of them."""

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.response import Response

from analysis import Chain, RunResult, as_data, explain_run
from labrecords.actions import analyses, runs
from labrecords.api.bodies import Body, Row, RowBody, stored_fields
from labrecords.api.fields import Code, Entered, Whole
from labrecords.api.methods import NamedVersion
from labrecords.api.parsers import CsvBytes
from labrecords.api.refusals import RefusalShape
from labrecords.api.repeats import KEY
from labrecords.api.rows import Rows, posts
from labrecords.api.shapes import shape
from labrecords.errors import ValueRefused
from labrecords.exchange import conditions
from labrecords.exchange.readings import ImportReport, import_file
from labrecords.models import Analysis, Person, Reading, TestRun


class ReadingRow(Row):
    replaces = serializers.PrimaryKeyRelatedField(read_only=True)

    class Meta:
        model = Reading
        fields = stored_fields(Reading)


class RunRow(Row):
    method = serializers.CharField(source="method_version.method", read_only=True)
    method_version = serializers.IntegerField(source="method_version.number", read_only=True)
    operators = serializers.SerializerMethodField()

    class Meta:
        model = TestRun
        fields = stored_fields(TestRun)

    def get_operators(self, run) -> list[str]:
        return [row.person.username for row in run.operators.all()]


class RunPage(RunRow):
    """A run with its readings as they stand; replaced ones are under /api/readings/."""

    readings = serializers.SerializerMethodField()

    def get_readings(self, run) -> list[dict]:
        return ReadingRow([row for row in run.readings.all() if row.is_current], many=True).data

    get_readings._spectacular_annotation = {"field": ReadingRow(many=True)}


class ResultRow(Row):
    """The stored analysis with what it was computed from."""

    result = shape(RunResult)(source="content", allow_null=True)

    class Meta:
        model = Analysis
        fields = ("run", "code_version", "inputs_digest", "created_at", "created_by")


class EnterRun(NamedVersion, RowBody):
    code = serializers.CharField(required=False, help_text="Without it the next number of the lab.")
    operators = serializers.ListField(child=Code(Person), required=False, help_text="Without it, who sends it.")
    exposure_conditions = serializers.DictField(
        child=Entered(allow_null=True), required=False, help_text="By the keys that the exposure declares."
    )

    class Meta:
        model = TestRun
        # Said by name: a run has a state and a version, which the verbs set.
        fields = (
            "coupon", "liquid_lot", "drop_volume_ul", "instrument", "room_temperature_c", "room_humidity_pct",
            "observed_at", "dose", "dose_kind", "exposure_kind", "exposure", "not_recorded", "remark",
        )  # fmt: skip


class ReadingBody(RowBody):
    drop = Whole(low=1, high=10000, required=False)
    value = Entered(required=False, allow_null=True)

    class Meta:
        model = Reading
        fields = ("quantity", "position", "direction", "qualifier", "reason")

    def validate(self, said):
        return runs.Typed(**said)


class RecordReadings(Body):
    version = Whole(low=1, help_text="The run's version that you have seen; a newer one is a conflict.")
    readings = ReadingBody(many=True)


class SeenVersion(Body):
    version = Whole(low=1, required=False)


class RunExplanations(serializers.Serializer):
    """The chain behind each statistic and check of a run."""

    run = serializers.CharField()
    chains = shape(Chain)(many=True)


class RunViews(Rows):
    queryset = TestRun.objects.with_names().prefetch_related("operators__person")
    page_prefetch = ("readings__excluded_by", "readings__created_by", "readings__run")
    serializer_class = RunRow
    one_class = RunPage
    filters = {
        "coupon": "coupon__code__iexact",
        "batch": "coupon__memberships__batch__code__iexact",
        "method": "method_version__method",
        "liquid": "liquid_lot__liquid__code__iexact",
        "instrument": "instrument__code__iexact",
        "operator": "operators__person__username__iexact",
        "state": "state",
        "dose": "dose",
        "observed_from": "observed_at__gte",
        "observed_to": "observed_at__lte",
    }

    create = posts(runs.enter, EnterRun, RunPage)
    record = posts(runs.record, RecordReadings, RunPage, row="run", status=200, path="readings")
    complete = posts(runs.complete, SeenVersion, RunPage, row="run", status=200)
    review = posts(runs.review, SeenVersion, RunPage, row="run", status=200)
    lift_review = posts(runs.lift_review, answer=RunPage, row="run", status=200, path="lift-review")
    reopen = posts(runs.reopen, answer=RunPage, row="run", status=200)

    @extend_schema(responses={200: ResultRow, 404: RefusalShape})
    @action(detail=True)
    def results(self, request, **address):
        """What the readings mean: statistics, checks and drop pairs; null while there are none."""
        run = self.get_object()
        stored = run.analyses.filter(is_current=True).select_related("run", "created_by").first()
        return Response(ResultRow(stored).data if stored else {"run": run.code, "result": None})

    @extend_schema(responses={200: RunExplanations, 404: RefusalShape})
    @action(detail=True)
    def explanations(self, request, **address):
        """Why each statistic and check of the run is what it is: the chain from readings to result."""
        run = self.get_object()
        rows = analyses.records_with_baselines(TestRun.objects.filter(coupon=run.coupon_id))
        record, baseline = next((record, baseline) for item, record, baseline in rows if item.pk == run.pk)
        return Response({"run": run.code, "chains": as_data(explain_run(record, baseline))})


class ReadingViews(Rows):
    queryset = Reading.objects.select_related("run", "excluded_by", "created_by")
    serializer_class = ReadingRow
    lookup_field = "pk"
    filters = {
        "run": "run__code__iexact",
        "coupon": "run__coupon__code__iexact",
        "batch": "run__coupon__memberships__batch__code__iexact",
        "quantity": "quantity",
        "qualifier": "qualifier",
        "is_current": "is_current",
    }

    exclude = posts(runs.exclude, answer=ReadingRow, row="reading", status=200)
    include = posts(runs.include, answer=ReadingRow, row="reading", status=200)

    @extend_schema(
        request={"text/csv": OpenApiTypes.STR},
        responses={200: shape(ImportReport), 400: RefusalShape},
        parameters=[KEY, *(OpenApiParameter(name, str) for name in ("name", "why", *conditions.DEFAULTS))],
        filters=False,
    )
    @action(detail=False, methods=["post"], url_path="import", parser_classes=[CsvBytes])
    def import_csv(self, request):
        """A tidy CSV as the body: whole file or nothing. Conditions that it lacks go in the address."""
        said = request.query_params.dict()
        why, name = said.pop("why", None), said.pop("name", "a file sent to the API")
        unknown = sorted(set(said) - set(conditions.DEFAULTS))
        if unknown:
            rule = f"is no condition of a run; there are {', '.join(conditions.DEFAULTS)}"
            raise ValueRefused(field=unknown[0], label="Parameter", value=unknown[0], rule=rule)
        data = request.data if isinstance(request.data, bytes) else b""
        report = import_file(by=request.user, data=data, name=name, why=why, defaults=said)
        return Response(as_data(report))
