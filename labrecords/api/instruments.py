"""Instruments with their calibrations."""

from labrecords.actions import instruments
from labrecords.api.bodies import Row, RowBody, stored_fields, typed_fields
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
        fields = typed_fields(Instrument)


class InstrumentViews(Rows):
    queryset = Instrument.objects.select_related("created_by").prefetch_related("calibrations__created_by")
    serializer_class = InstrumentRow
    filters = {"is_in_service": "is_in_service", "title": "title__icontains"}

    create = posts(instruments.create, InstrumentBody, InstrumentRow)
    calibrate = posts(instruments.calibrate, CalibrationBody, InstrumentRow, row="instrument", owner="instrument")
