"""What is declared and not stored: methods, step kinds, criterion kinds, quantities. Read at each request."""

import dataclasses

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from analysis import CRITERION_KINDS, EXPOSURES, METHODS, QUANTITIES, Exposure, Method, Quantity, as_data, citation
from labrecords.api.refusals import RefusalShape
from labrecords.api.shapes import shape
from labrecords.errors import UnknownCode
from labrecords.processes import KINDS, StepKind, cautions_of


class ReadingDeclaration(serializers.Serializer):
    """A quantity that a method reads, with what the quantity's own declaration says."""

    quantity = serializers.CharField()
    can_be_not_moved = serializers.BooleanField()
    can_move_on_placing = serializers.BooleanField()
    is_required = serializers.BooleanField()
    declared = shape(Quantity)()


class StandardShape(serializers.Serializer):
    key = serializers.CharField()
    citation = serializers.CharField()


FUNCTIONS = ("checks", "decide", "derived", "notes")  # of declarations: they stay behind

MethodShape = shape(Method, *FUNCTIONS, readings=ReadingDeclaration(many=True), standards=StandardShape(many=True))
ExposureShape = shape(
    Exposure,
    standards=StandardShape(many=True),
    cautions=serializers.ListField(child=serializers.CharField(), help_text="For the people who do it."),
)
StepKindShape = shape(
    StepKind,
    cautions=serializers.ListField(child=serializers.CharField(), help_text="Shown with every such step."),
)
CriterionKindShape = shape(type(next(iter(CRITERION_KINDS.values()))), "decide")
QuantityShape = shape(Quantity)


def _plain(record):
    """Fields of a declaration as data; its functions stay behind."""
    fields = {item.name: getattr(record, item.name) for item in dataclasses.fields(record)}
    return as_data({name: value for name, value in fields.items() if name not in FUNCTIONS})


def _method(method):
    readings = [as_data(kind) | {"declared": _plain(QUANTITIES[kind.quantity])} for kind in method.readings]
    standards = [{"key": key, "citation": citation(key)} for key in method.standards]
    return _plain(method) | {"readings": readings, "standards": standards}


def _exposure(exposure):
    standards = [{"key": key, "citation": citation(key)} for key in exposure.standards]
    return _plain(exposure) | {"standards": standards, "cautions": cautions_of(exposure.hazards)}


def _step_kind(kind):
    return _plain(kind) | {"cautions": kind.cautions}


def declared(noun, registry, answer, form=_plain):
    """The list and the single view of one kind of declaration."""

    class Many(APIView):
        @extend_schema(operation_id=f"{noun}_list", responses=answer(many=True))
        def get(self, request):
            return Response([form(item) for item in registry.values()])

    class One(APIView):
        @extend_schema(operation_id=f"{noun}_retrieve", responses={200: answer, 404: RefusalShape})
        def get(self, request, key):
            if key not in registry:
                refusal = UnknownCode(field="key", noun=noun.replace("_", " "), value=key)
                refusal.status = 404
                raise refusal
            return Response(form(registry[key]))

    return Many.as_view(), One.as_view()


METHOD_VIEWS = declared("method", METHODS, MethodShape, _method)
EXPOSURE_VIEWS = declared("exposure", EXPOSURES, ExposureShape, _exposure)
STEP_KIND_VIEWS = declared("step_kind", KINDS, StepKindShape, _step_kind)
CRITERION_KIND_VIEWS = declared("criterion_kind", CRITERION_KINDS, CriterionKindShape)
QUANTITY_VIEWS = declared("quantity", QUANTITIES, QuantityShape)
