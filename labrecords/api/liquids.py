"""Challenge liquids, lubricants and baths, their lots, and their properties with unit and source."""

from rest_framework import serializers

from analysis import QUANTITIES
from labrecords.actions import liquids
from labrecords.api.bodies import Row, RowBody, stored_fields, typed_fields
from labrecords.api.rows import Rows, posts
from labrecords.models import BathLot, ChallengeLiquid, LiquidLot, Lubricant, LubricantLot, Property


def _row(model):
    """What is stored of a liquid or lot."""
    meta = type("Meta", (), {"model": model, "fields": stored_fields(model)})
    return type(f"{model.__name__}Row", (Row,), {"Meta": meta})


def _body(model):
    """What people fill in; hazard tags are a list of declared keys."""
    meta = type("Meta", (), {"model": model, "fields": typed_fields(model)})
    names = {"Meta": meta}
    if "hazards" in meta.fields:
        names["hazards"] = serializers.ListField(child=serializers.CharField(), required=False)
    return type(f"{model.__name__}Body", (RowBody,), names)


ChallengeLiquidRow, LiquidLotRow = _row(ChallengeLiquid), _row(LiquidLot)
LubricantRow, LubricantLotRow, BathLotRow = _row(Lubricant), _row(LubricantLot), _row(BathLot)


class PropertyRow(Row):
    unit = serializers.SerializerMethodField()

    class Meta:
        model = Property
        fields = stored_fields(Property)

    def get_unit(self, row) -> str:
        return QUANTITIES[row.quantity].unit


class LiquidViews(Rows):
    queryset = ChallengeLiquid.objects.select_related("created_by")
    serializer_class = ChallengeLiquidRow
    filters = {"name": "name__icontains"}

    create = posts(liquids.create, _body(ChallengeLiquid), ChallengeLiquidRow)


class LiquidLotViews(Rows):
    queryset = LiquidLot.objects.select_related("liquid", "created_by")
    serializer_class = LiquidLotRow
    filters = {
        "liquid": "liquid__code__iexact",
        "expires_from": "expires_on__gte",
        "expires_to": "expires_on__lte",
    }

    create = posts(liquids.log_lot, _body(LiquidLot), LiquidLotRow)


class LubricantViews(Rows):
    queryset = Lubricant.objects.select_related("created_by")
    serializer_class = LubricantRow
    filters = {"name": "name__icontains", "is_pfas": "is_pfas"}

    create = posts(liquids.create_lubricant, _body(Lubricant), LubricantRow)


class LubricantLotViews(Rows):
    queryset = LubricantLot.objects.select_related("lubricant", "created_by")
    serializer_class = LubricantLotRow
    filters = {"lubricant": "lubricant__code__iexact"}

    create = posts(liquids.log_lubricant_lot, _body(LubricantLot), LubricantLotRow)


class BathLotViews(Rows):
    queryset = BathLot.objects.select_related("created_by")
    serializer_class = BathLotRow
    filters = {"title": "title__icontains"}

    create = posts(liquids.log_bath_lot, _body(BathLot), BathLotRow)


class PropertyViews(Rows):
    queryset = Property.objects.select_related(
        "liquid",
        "liquid_lot",
        "lubricant",
        "lubricant_lot",
        "recipe",
        "against_liquid",
        "against_lubricant",
        "created_by",
    )
    serializer_class = PropertyRow
    lookup_field = "pk"
    filters = {
        "quantity": "quantity",
        "liquid": "liquid__code__iexact",
        "liquid_lot": "liquid_lot__code__iexact",
        "lubricant": "lubricant__code__iexact",
        "lubricant_lot": "lubricant_lot__code__iexact",
        "recipe": "recipe__code__iexact",
    }

    create = posts(liquids.add_property, _body(Property), PropertyRow)
