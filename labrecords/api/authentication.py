"""How a request to the API shows its token."""

from knox.auth import TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed

from labrecords import security, sign_in
from labrecords.actions import account
from labrecords.errors import TokenReadsOnly
from labrecords.models.sign_in import READ

LOOKING = ("GET", "HEAD", "OPTIONS")


class ScopedToken(TokenAuthentication):
    """knox's token with what we know of it: a token without a row, or revoked, is none. Failures are counted."""

    def authenticate(self, request):
        try:
            found = super().authenticate(request)
        except AuthenticationFailed:
            sign_in.refuse_blocked(request._request, sign_in.TOKENS)
            sign_in.failed(request._request, sign_in.TOKENS)
            raise
        if found is not None:
            _refuse_beyond_scope(request, found[1])
        return found

    def authenticate_credentials(self, token):
        if not token.isascii():
            raise AuthenticationFailed("Invalid token.")
        person, stored = super().authenticate_credentials(token)
        known = account.valid_token(stored.digest)
        # knox's row may be moved to somebody else without a trace, ours may not.
        if known is None or known.person_id != person.pk or person.has_start_secret:
            raise AuthenticationFailed("Invalid token.")
        account.note_use(known)
        return person, known


def _refuse_beyond_scope(request, token):
    """Here, and in no view: what reads only may look and sign out."""
    is_open = getattr(request.parser_context.get("view"), "is_open_to_readers", False)
    if token.scope == READ and request.method not in LOOKING and not is_open:
        security.warn("denied", who=token.person.username, token=token.name)
        raise TokenReadsOnly(name=token.name)
