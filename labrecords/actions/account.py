"""One's own sign-in: password, second factor, API tokens, sessions. What weakens it asks for the password again."""

from datetime import timedelta

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils import timezone
from django_otp import verify_token
from django_otp.plugins.otp_totp.models import TOTPDevice
from knox.models import AuthToken

from labrecords import trail
from labrecords.actions.rows import check_fields
from labrecords.errors import CodeRefused, NotFromThisState, PasswordWrong, UnknownCode, ValueRefused
from labrecords.models import ApiToken, Person
from labrecords.models.sign_in import READ
from labrecords.trail import verb

SIGN_IN_HOURS = 10  # of the token that a sign-in at the API gives
SIGN_IN = "sign-in at the API"
USED_EVERY = timedelta(minutes=1)  # a token's last use is as exact as this


@verb
def change_password(*, by, why="chosen by the person", password, new_password):
    """Ends all other sessions and every token."""
    person = proven(by, password)
    if new_password == password:
        raise ValueRefused(field="new_password", label="New password", value="…", rule="is the old one")
    set_password(person, new_password, field="new_password")
    person.has_start_secret = False
    person.save()
    end_tokens(person)
    return person


@verb
def end_other_sessions(*, by, why="ended by the person"):
    """Sessions and tokens; the face keeps the session that asked."""
    return end_everything(held(by))


@verb
def start_second_factor(*, by, why="second factor begun", password):
    """A new secret, in use once `confirm_second_factor` has seen a code of it."""
    person = proven(by, password)
    if person.has_second_factor:
        raise NotFromThisState(noun="Second factor of", code=person.username, state="on", target="begun")
    TOTPDevice.objects.filter(user=person).delete()
    return TOTPDevice.objects.create(user=person, name="second factor", confirmed=False)


@verb
def confirm_second_factor(*, by, why="second factor turned on", code):
    person = held(by)
    device = TOTPDevice.objects.filter(user=person, confirmed=False).first()
    if device is None or not verify_token(person, device.persistent_id, code):
        raise CodeRefused()
    TOTPDevice.objects.filter(pk=device.pk).update(confirmed=True)
    person.has_second_factor = True
    person.save()
    return person


@verb
def end_second_factor(*, by, why, password):
    return remove_second_factor(proven(by, password))


@verb
def issue_token(*, by, why="token for a program", password, name, scope=READ, days=30):
    """(what is known of the token, the token itself), which is shown this once."""
    if not 1 <= days <= settings.TOKEN_DAYS:
        rule = f"is not between 1 and {settings.TOKEN_DAYS}"
        raise ValueRefused(field="days", label="Days", value=days, rule=rule)
    return _token(proven(by, password), name.strip(), scope, timedelta(days=days))


@verb
def sign_in_token(*, by, why="sign-in at the API", scope):
    """The short token of a person whose password was looked at just now (labrecords/sign_in.py)."""
    return _token(by, SIGN_IN, scope, timedelta(hours=SIGN_IN_HOURS))


@verb
def revoke_token(*, by, why="token revoked", token):
    """Works no more from now on; what it was stays listed."""
    token = ApiToken.objects.select_for_update(no_key=True).filter(pk=token.pk, person=by).first()
    if token is None:
        raise UnknownCode(field="token", noun="token of yours", value="")
    return _end([token])[0]


def valid_token(digest):
    """What is known of a token that knox holds, or None."""
    return ApiToken.objects.filter(digest=digest, revoked_at=None, expires_at__gt=timezone.now()).first()


def note_use(token):
    """When the token was last used; written at most once a minute."""
    now = timezone.now()
    if token.last_used_at is None or now - token.last_used_at > USED_EVERY:
        ApiToken.objects.filter(pk=token.pk).update(last_used_at=now)


# What labrecords/actions/people.py does to others in the same way ------------------------------------------------


def proven(by, password) -> Person:
    """The person's row, held until the transaction ends, after the password was asked for again."""
    person = held(by)
    if not person.check_password(password):
        raise PasswordWrong()
    return person


def set_password(person, password, *, field="password"):
    """Checked and hashed, not yet stored."""
    try:
        validate_password(password, person)
    except ValidationError as problem:
        rule = ": " + " ".join(problem.messages)
        raise ValueRefused(field=field, label="Password", value="…", rule=rule) from None
    person.set_password(password)
    person.secret_set_at = timezone.now()


def end_everything(person):
    """No session and no token of the person works from now on."""
    person.sessions_ended += 1
    person.save()
    end_tokens(person)
    return person


def end_tokens(person):
    AuthToken.objects.filter(user=person).delete()
    _end(ApiToken.objects.filter(person=person, revoked_at=None, expires_at__gt=timezone.now()))


def end_restored_tokens() -> int:
    """After a restore no token works: marked in the list too, with a trace. How many were ended."""
    with trail.recorded("restore", "restored from an archive"):
        AuthToken.objects.all().delete()
        return len(_end(ApiToken.objects.filter(revoked_at=None, expires_at__gt=timezone.now())))


def remove_second_factor(person):
    TOTPDevice.objects.filter(user=person).delete()
    person.has_second_factor = False
    person.save()
    return person


def held(person) -> Person:
    """The person as stored, locked until the transaction ends."""
    person.refresh_from_db(from_queryset=Person.objects.select_for_update(no_key=True))
    return person


def _token(person, name, scope, lasts):
    stored, token = AuthToken.objects.create(user=person, expiry=lasts)
    row = ApiToken(person=person, name=name, scope=scope, digest=stored.digest, expires_at=stored.expiry)
    check_fields(row)
    row.save()
    return row, token


def _end(tokens):
    tokens = list(tokens)
    for token in tokens:
        AuthToken.objects.filter(digest=token.digest).delete()
        token.revoked_at = timezone.now()
        token.save()
    return tokens
