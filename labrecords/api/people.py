"""People; sign-in and sign-out by token."""

from django.contrib.auth import authenticate
from drf_spectacular.utils import extend_schema
from knox.views import LoginView, LogoutView
from rest_framework import serializers
from rest_framework.permissions import AllowAny, IsAuthenticated

from labrecords.actions import people
from labrecords.api.bodies import Body, Row, RowBody, stored_fields
from labrecords.api.refusals import RefusalShape
from labrecords.api.rows import Rows, posts, read
from labrecords.errors import SignInRefused
from labrecords.models import Person


class SignInBody(Body):
    username = serializers.CharField()
    password = serializers.CharField(trim_whitespace=False, style={"input_type": "password"})


class TokenShape(serializers.Serializer):
    token = serializers.CharField(help_text="Shown this once; only its digest is stored.")
    expiry = serializers.DateTimeField()


class SignIn(LoginView):
    """A token for the header `Authorization: Token …`."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @extend_schema(request=SignInBody, responses={200: TokenShape, 401: RefusalShape}, auth=[])
    def post(self, request):
        said = read(SignInBody, request)
        # An unknown name, a wrong password and a disabled person get the same answer.
        person = authenticate(request, username=said["username"].lower(), password=said["password"])
        if person is None:
            raise SignInRefused()
        request.user = person
        return super().post(request)


class SignOut(LogoutView):
    """Makes the token that the request carries invalid."""

    permission_classes = (IsAuthenticated,)

    @extend_schema(request=None, responses={204: None, 401: RefusalShape})
    def post(self, request):
        return super().post(request)


class PersonRow(Row):
    class Meta:
        model = Person
        fields = stored_fields(Person, "id", "password")


class AddPerson(RowBody):
    password = serializers.CharField(trim_whitespace=False, write_only=True)

    class Meta:
        model = Person
        fields = ("username", "full_name", "role")


class PersonViews(Rows):
    queryset = Person.objects.all()
    serializer_class = PersonRow
    lookup_field = "username"
    filters = {"role": "role", "is_active": "is_active"}

    create = posts(people.add, AddPerson, PersonRow)
    disable = posts(people.disable, answer=PersonRow, row="person", status=200)
