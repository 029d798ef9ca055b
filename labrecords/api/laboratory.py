"""The lab itself and the projects it works for."""

from drf_spectacular.utils import extend_schema
from rest_framework.response import Response
from rest_framework.views import APIView

from labrecords.actions import laboratory, projects
from labrecords.api.bodies import Row, RowBody, stored_fields, typed_fields
from labrecords.api.refusals import RefusalShape
from labrecords.api.repeats import KEY, Repeatable
from labrecords.api.rows import Rows, body_of, posts, read
from labrecords.errors import UnknownCode
from labrecords.models import Laboratory, Project


class ProjectRow(Row):
    class Meta:
        model = Project
        fields = stored_fields(Project)


class ProjectBody(RowBody):
    class Meta:
        model = Project
        fields = typed_fields(Project)


class ProjectViews(Rows):
    queryset = Project.objects.select_related("created_by")
    serializer_class = ProjectRow
    filters = {"customer": "customer__icontains"}

    create = posts(projects.start, ProjectBody, ProjectRow)


class LaboratoryRow(Row):
    class Meta:
        model = Laboratory
        fields = stored_fields(Laboratory, "id")


class LaboratoryBody(RowBody):
    class Meta:
        model = Laboratory
        fields = typed_fields(Laboratory)


class LaboratoryView(Repeatable, APIView):
    @extend_schema(operation_id="laboratory_retrieve", responses={200: LaboratoryRow, 404: RefusalShape})
    def get(self, request):
        lab = Laboratory.objects.select_related("created_by").first()
        if lab is None:
            refusal = UnknownCode(noun="laboratory set up yet; no", value="site code")
            refusal.status = 404
            raise refusal
        return Response(LaboratoryRow(lab).data)

    @extend_schema(
        request=body_of(laboratory.set_up, LaboratoryBody),
        responses={200: LaboratoryRow, 403: RefusalShape},
        parameters=[KEY],
    )
    def post(self, request):
        said = read(body_of(laboratory.set_up, LaboratoryBody), request)
        return Response(LaboratoryRow(laboratory.set_up(by=request.user, **said)).data)
