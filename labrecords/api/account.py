"""One's own sign-in: facts, password, sessions, second factor."""

from base64 import b32encode

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from labrecords import sign_in
from labrecords.actions import account
from labrecords.api.bodies import Body, Row
from labrecords.api.refusals import RefusalShape
from labrecords.api.rows import body_of, read
from labrecords.models import Person


class AccountRow(Row):
    class Meta:
        model = Person
        fields = ("username", "full_name", "role", "secret_set_at", "has_second_factor")


def _secret(**facts):
    return serializers.CharField(trim_whitespace=False, write_only=True, **facts)


class PasswordBody(Body):
    password = _secret(help_text="Yours, once more.")


class CodeBody(Body):
    code = serializers.CharField(help_text="Six digits of the app.")


class NewPasswordBody(PasswordBody):
    new_password = _secret()


class SecondFactorShape(serializers.Serializer):
    key = serializers.CharField(help_text="Base32, for an app of time-based one-time codes (RFC 6238).")
    address = serializers.CharField(help_text="The same as an otpauth address.")


class AccountView(APIView):
    @extend_schema(operation_id="account_retrieve", responses={200: AccountRow})
    def get(self, request):
        return Response(AccountRow(request.user).data)


def asks(verb, body=Body, answer=AccountRow, made=lambda done: done):
    """A view of one verb about oneself."""
    body = body_of(verb, body)

    class View(APIView):
        @extend_schema(
            operation_id=verb.verb.replace(".", "_"), request=body, responses={200: answer, 403: RefusalShape}
        )
        def post(self, request):
            done = sign_in.guarded(request._request, verb)(by=request.user, **read(body, request))
            return Response(answer(made(done)).data)

    View.__doc__ = verb.__doc__
    return View.as_view()


def _shown(device):
    return {"key": b32encode(device.bin_key).decode().rstrip("="), "address": device.config_url}


change_password = asks(account.change_password, NewPasswordBody)
end_other_sessions = asks(account.end_other_sessions)
start_second_factor = asks(account.start_second_factor, PasswordBody, SecondFactorShape, _shown)
confirm_second_factor = asks(account.confirm_second_factor, CodeBody)
end_second_factor = asks(account.end_second_factor, PasswordBody)
