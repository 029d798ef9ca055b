"""Safety data sheets: where each lies and the date on it."""

from rest_framework import serializers

from labrecords.actions import data_sheets
from labrecords.api.bodies import Row, RowBody, stored_fields, typed_fields
from labrecords.api.rows import Rows, posts
from labrecords.models import DataSheet


class DataSheetRow(Row):
    is_old = serializers.BooleanField(read_only=True, help_text="Time to ask for a newer edition.")

    class Meta:
        model = DataSheet
        fields = (*stored_fields(DataSheet), "is_old")


class DataSheetBody(RowBody):
    hazards = serializers.ListField(child=serializers.CharField(), help_text="Tags as of step-kinds/.")

    class Meta:
        model = DataSheet
        fields = typed_fields(DataSheet, "withdrawn_because", "withdrawn_by")


def _in_force(queryset, value):
    found = DataSheet.objects.in_force().values("pk")
    return queryset.filter(pk__in=found) if value else queryset.exclude(pk__in=found)


class DataSheetViews(Rows):
    queryset = DataSheet.objects.select_related("created_by", "withdrawn_by")
    serializer_class = DataSheetRow
    lookup_field = "pk"
    filters = {
        "material": "material__icontains",
        "hazard": lambda queryset, tag: queryset.filter(hazards__contains=[tag]),
        "is_in_force": _in_force,
    }

    create = posts(data_sheets.record, DataSheetBody, DataSheetRow)
    withdraw = posts(data_sheets.withdraw, answer=DataSheetRow, row="data_sheet", status=200)
