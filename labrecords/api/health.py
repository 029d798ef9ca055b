"""How the installation is, for a program that watches."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from labrecords.actions import health
from labrecords.api.refusals import RefusalShape
from labrecords.api.shapes import shape


class HealthShape(serializers.Serializer):
    needs_attention = serializers.BooleanField()
    items = shape(health.Item)(many=True)


class HealthView(APIView):
    @extend_schema(operation_id="health_retrieve", responses={200: HealthShape, 403: RefusalShape})
    def get(self, request):
        """What an operator looks at: versions, migrations, disk, last back-up, record chain, clock."""
        items = health.look(by=request.user)
        return Response(HealthShape({"needs_attention": bool(health.needs_attention(items)), "items": items}).data)
