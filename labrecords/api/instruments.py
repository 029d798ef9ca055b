"""Instruments with their calibrations."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.response import Response

from labrecords.actions import instruments
from labrecords.api.bodies import Body, Row, RowBody, stored_fields, typed_fields
from labrecords.api.fields import Day
from labrecords.api.rows import Rows, posts
from labrecords.models import Calibration, Instrument


class CalibrationRow(Row):
    class Meta:
        model = Calibration
        fields = stored_fields(Calibration, "id", "instrument")


class CalibrationBody(RowBody):
    class Meta:
        model = Calibration
        fields = typed_fields(Calibration, "instrument")


class InstrumentRow(Row):
    calibrations = CalibrationRow(many=True, read_only=True)

    class Meta:
        model = Instrument
        fields = stored_fields(Instrument)


class InstrumentBody(RowBody):
    class Meta:
        model = Instrument
        fields = typed_fields(Instrument, "in_doubt_from")


class WithdrawBody(Body):
    in_doubt_from = Day()


class AffectedShape(serializers.Serializer):
    runs = serializers.ListField(child=serializers.CharField())
    reports = serializers.ListField(child=serializers.CharField())


class InstrumentViews(Rows):
    queryset = Instrument.objects.select_related("created_by").prefetch_related("calibrations__created_by")
    serializer_class = InstrumentRow
    filters = {"is_in_service": "is_in_service", "title": "title__icontains"}

    create = posts(instruments.create, InstrumentBody, InstrumentRow)
    withdraw = posts(instruments.withdraw, WithdrawBody, InstrumentRow, row="instrument", status=200)
    put_back = posts(instruments.put_back, answer=InstrumentRow, row="instrument", status=200)

    @extend_schema(responses=AffectedShape, filters=False)
    @action(detail=True)
    def affected(self, request, **address):
        """Codes of the runs read while it is in doubt, and numbers of the reports that rest on one of them."""
        runs, reports = instruments.affected(self.get_object(), by=request.user)
        said = {"runs": [run.code for run in runs], "reports": [row.report_number for row in reports]}
        return Response(AffectedShape(said).data)

    calibrate = posts(instruments.calibrate, CalibrationBody, InstrumentRow, row="instrument", owner="instrument")
