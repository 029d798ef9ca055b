"""The lab itself and the projects it works for."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from labrecords.actions import laboratory, projects
from labrecords.api.bodies import Body, Row, RowBody, stored_fields, typed_fields
from labrecords.api.fields import Code
from labrecords.api.refusals import RefusalShape
from labrecords.api.repeats import KEY, Repeatable
from labrecords.api.rows import Rows, body_of, posts, read
from labrecords.errors import UnknownCode
from labrecords.models import Laboratory, Person, Project, ProjectMember


class ProjectRow(Row):
    class Meta:
        model = Project
        fields = stored_fields(Project)


class ProjectMemberRow(Row):
    role = serializers.CharField(source="person.role", read_only=True)

    class Meta:
        model = ProjectMember
        fields = ("person", "created_at", "created_by")


class ProjectPage(ProjectRow):
    """A project with its members as they are now."""

    members = serializers.SerializerMethodField()

    def get_members(self, project) -> list[dict]:
        return ProjectMemberRow([row for row in project.members.all() if row.is_current], many=True).data

    get_members._spectacular_annotation = {"field": ProjectMemberRow(many=True)}


class ProjectBody(RowBody):
    class Meta:
        model = Project
        fields = typed_fields(Project)


class NamedPerson(Body):
    person = Code(Person)


class ProjectViews(Rows):
    noun = "projects"
    queryset = Project.objects.select_related("created_by")
    page_prefetch = ("members__person", "members__created_by")
    serializer_class = ProjectRow
    one_class = ProjectPage
    filters = {"customer": "customer__icontains"}

    create = posts(projects.start, ProjectBody, ProjectPage)
    admit = posts(projects.admit, NamedPerson, ProjectPage, row="project", owner="project")
    dismiss = posts(projects.dismiss, NamedPerson, ProjectPage, row="project", owner="project", status=200)
    restrict = posts(projects.restrict, answer=ProjectPage, row="project", status=200)
    open_up = posts(projects.open_up, answer=ProjectPage, row="project", status=200, path="open")


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
