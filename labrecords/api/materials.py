"""Substrate lots: what coupons are cut from."""

from labrecords.actions import materials
from labrecords.api.bodies import Row, RowBody, stored_fields, typed_fields
from labrecords.api.rows import Rows, posts
from labrecords.models import SubstrateLot


class SubstrateLotRow(Row):
    class Meta:
        model = SubstrateLot
        fields = stored_fields(SubstrateLot)


class SubstrateLotBody(RowBody):
    class Meta:
        model = SubstrateLot
        fields = typed_fields(SubstrateLot)


class SubstrateLotViews(Rows):
    queryset = SubstrateLot.objects.select_related("created_by")
    serializer_class = SubstrateLotRow
    filters = {"material": "material__icontains", "form": "form", "supplier_lot": "supplier_lot__iexact"}

    create = posts(materials.log_lot, SubstrateLotBody, SubstrateLotRow)
