"""One's own API tokens."""

from drf_spectacular.contrib.knox_auth_token import KnoxTokenScheme
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response

from labrecords import sign_in
from labrecords.actions import account
from labrecords.api.bodies import Row, RowBody, stored_fields
from labrecords.api.fields import Whole
from labrecords.api.refusals import RefusalShape
from labrecords.api.rows import Rows, body_of, posts, read
from labrecords.models import ApiToken


class ScopedTokenScheme(KnoxTokenScheme):
    target_class = "labrecords.api.authentication.ScopedToken"


class TokenRow(Row):
    class Meta:
        model = ApiToken
        fields = stored_fields(ApiToken, "digest", "person")


class TokenBody(RowBody):
    password = serializers.CharField(trim_whitespace=False, write_only=True, help_text="Yours, once more.")
    days = Whole(low=1, required=False, help_text="How long it is valid; without it 30.")

    class Meta:
        model = ApiToken
        fields = ("name", "scope")


class IssuedToken(TokenRow):
    token = serializers.CharField(read_only=True, help_text="Shown this once; only its digest is stored.")


class TokenViews(Rows):
    """Nobody sees another person's tokens: `OWNER` of the model says so."""

    noun = "account"

    queryset = ApiToken.objects.all()
    serializer_class = TokenRow
    lookup_field = "pk"
    keeps_answers = False  # one of them is a secret

    revoke_token = posts(account.revoke_token, answer=TokenRow, row="token", status=200, path="revoke")

    @extend_schema(
        request=body_of(account.issue_token, TokenBody), responses={201: IssuedToken, 403: RefusalShape}, filters=False
    )
    def create(self, request):
        """A token for a program. The answer is the only place where it is ever shown."""
        said = read(body_of(account.issue_token, TokenBody), request)
        row, token = sign_in.guarded(request._request, account.issue_token)(by=request.user, **said)
        row.token = token
        return Response(IssuedToken(row).data, status=201)
