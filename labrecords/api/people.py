"""People; sign-in and sign-out by token."""

from django.contrib.auth.signals import user_logged_in, user_logged_out
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.permissions import AllowAny, IsAuthenticated
from rest_framework.response import Response
from rest_framework.views import APIView

from labrecords import sign_in
from labrecords.access import ROLES
from labrecords.actions import account, people
from labrecords.api.authentication import ScopedToken
from labrecords.api.bodies import Body, Row, RowBody, stored_fields
from labrecords.api.refusals import RefusalShape
from labrecords.api.rows import Rows, body_of, posts, read
from labrecords.errors import StartPasswordOnly
from labrecords.models import Person
from labrecords.models.sign_in import SCOPES, WRITE


class SignInBody(Body):
    username = serializers.CharField()
    password = serializers.CharField(trim_whitespace=False, style={"input_type": "password"})
    code = serializers.CharField(required=False, help_text="Of the second factor, where it is on.")
    new_password = serializers.CharField(
        trim_whitespace=False, required=False, help_text="Your own, in place of a start password."
    )
    scope = serializers.ChoiceField(list(SCOPES), default=WRITE, help_text="`read` for a token that only looks.")


class TokenShape(serializers.Serializer):
    token = serializers.CharField(help_text="Shown this once; only its digest is stored.")
    expiry = serializers.DateTimeField(source="expires_at")


class SignIn(APIView):
    """A token for the header `Authorization: Token …`."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @extend_schema(
        request=SignInBody,
        responses={200: TokenShape, 401: RefusalShape, 403: RefusalShape, 429: RefusalShape},
        auth=[],
    )
    def post(self, request):
        said = read(SignInBody, request)
        scope, own = said.pop("scope"), said.pop("new_password", None)
        # An unknown name, a wrong password and a disabled person get the same answer.
        person = sign_in.person_of(request._request, **said)
        if own:
            person = account.change_password(by=person, password=said["password"], new_password=own)
        if person.has_start_secret:
            raise StartPasswordOnly(who=person.full_name)
        row, row.token = account.sign_in_token(by=person, scope=scope)
        user_logged_in.send(sender=Person, request=request._request, user=person)
        return Response(TokenShape(row).data)


class SignOut(APIView):
    """Makes the token that the request carries invalid."""

    authentication_classes = (ScopedToken,)
    is_open_to_readers = True
    permission_classes = (IsAuthenticated,)

    @extend_schema(request=None, responses={204: None, 401: RefusalShape})
    def post(self, request):
        account.revoke_token(by=request.user, why="signed out", token=request.auth)
        user_logged_out.send(sender=Person, request=request._request, user=request.user)
        return Response(status=204)


class PersonRow(Row):
    class Meta:
        model = Person
        fields = stored_fields(Person, "id", "password")


class AddPerson(RowBody):
    password = serializers.CharField(trim_whitespace=False, write_only=True)

    class Meta:
        model = Person
        fields = ("username", "full_name", "role")


class RoleBody(Body):
    role = serializers.ChoiceField(list(ROLES.items()))


class StartPassword(serializers.Serializer):
    username = serializers.CharField()
    start_password = serializers.CharField(help_text="Shown this once; it opens only its own change.")


class PersonViews(Rows):
    queryset = Person.objects.all()
    serializer_class = PersonRow
    lookup_field = "username"
    filters = {"role": "role", "is_active": "is_active"}

    create = posts(people.add, AddPerson, PersonRow)
    disable = posts(people.disable, answer=PersonRow, row="person", status=200)
    change_role = posts(people.change_role, RoleBody, PersonRow, row="person", status=200, path="change-role")
    end_sessions = posts(people.end_sessions, answer=PersonRow, row="person", status=200, path="end-sessions")
    lift_block = posts(people.lift_block, answer=PersonRow, row="person", status=200, path="lift-block")
    reset_second_factor = posts(
        people.reset_second_factor, answer=PersonRow, row="person", status=200, path="reset-second-factor"
    )

    @extend_schema(
        request=body_of(people.set_start_password), responses={200: StartPassword, 403: RefusalShape}, filters=False
    )
    @action(detail=True, methods=["post"], url_path="start-password", keeps_answers=False)
    def start_password(self, request, **address):
        """A password to hand over. The answer is the only place where it is ever shown."""
        said = read(body_of(people.set_start_password), request)
        person, password = people.set_start_password(by=request.user, person=self.get_object(), **said)
        return Response({"username": person.username, "start_password": password})
