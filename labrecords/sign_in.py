"""Who somebody is: password, second factor, and the limits on guessing them.

django-axes counts the failures. Blocked are a sign-in name at an address, an address, and a sign-in name, each at its
own measure, so that a guesser elsewhere does not keep the owner out before the last of the three is reached.
"""

from __future__ import annotations

import math
from contextlib import contextmanager
from datetime import timedelta
from ipaddress import ip_address, ip_network

from axes.backends import AxesStandaloneBackend
from axes.handlers.database import AxesDatabaseHandler
from axes.handlers.proxy import AxesProxyHandler
from axes.models import AccessAttempt
from axes.signals import user_locked_out
from django.conf import settings
from django.contrib.auth import authenticate
from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.db.models import Max, Q, Sum
from django.db.models.signals import pre_save
from django.dispatch import receiver
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django_otp import verify_token
from django_otp.plugins.otp_totp.models import TOTPDevice

from labrecords import security
from labrecords.errors import CodeRefused, PasswordWrong, SignInRefused, StartPasswordOver, TooManyAttempts
from labrecords.models import Person

# Failures within the time that a block lasts (settings.AXES_COOLOFF_TIME).
AT_ADDRESS = 5  # one sign-in name from one address
OF_ADDRESS = 50  # one address, whatever the names
OF_ACCOUNT = 100  # one sign-in name, from whatever addresses
OF_TOKENS = 50  # API tokens that are none, from one address; they count for nothing else
TOKENS = "(token)"  # stands in the place of a sign-in name
START_PASSWORD_DAYS = 7


def person_of(request, *, username, password, code="") -> Person:
    """The person who gave these, or a refusal. Every sign-in and every signature goes through here."""
    person = authenticate(request, username=folded(username), password=password)
    if person is None:
        raise SignInRefused()
    if person.has_second_factor and not _is_right_code(person, code):
        if code:
            failed(request, person.username)
        raise CodeRefused()
    if person.has_start_secret and timezone.now() - person.secret_set_at > timedelta(days=START_PASSWORD_DAYS):
        raise StartPasswordOver(days=START_PASSWORD_DAYS)
    return person


@contextmanager
def counted(request, person):
    """Around an action that asks for the password again: a wrong one counts like a failed sign-in."""
    refuse_blocked(request, person.username)
    try:
        yield
    except PasswordWrong:
        failed(request, person.username)
        raise


def guarded(request, action):
    """The action, with the password that it asks for counted."""

    def call(**details):
        with counted(request, request.user):
            return action(**details)

    return call


def failed(request, username):
    """Count a failure that no backend has seen."""
    user_login_failed.send("labrecords", credentials={"username": username}, request=request)


def refuse_blocked(request, username):
    """TooManyAttempts, with the minutes until the failures that count have gone by, for whoever is blocked."""
    if AxesProxyHandler.is_allowed(request, {"username": username}):
        return
    user_locked_out.send("labrecords", request=request, username=username, ip_address=address_of(request))
    is_theirs = Q(ip_address=address_of(request)) | Q(username=counted_as(username))
    latest = AccessAttempt.objects.filter(is_theirs).aggregate(at=Max("attempt_time"))["at"] or timezone.now()
    left = latest + settings.AXES_COOLOFF_TIME - timezone.now()
    raise TooManyAttempts(minutes=max(1, math.ceil(left.total_seconds() / 60)))


def folded(username) -> str:
    """A sign-in name as it is stored."""
    return str(username or "").replace("\0", "").strip().lower()[:60]


def counted_as(username) -> str:
    """What failures of a name are counted by: no text, for it may be a password in the wrong field."""
    name = folded(username)
    return name if name == TOKENS else salted_hmac("labrecords.failures", name, algorithm="sha256").hexdigest()


def address_of(request):
    """Where a request comes from. An IPv6 household has 2⁶⁴ addresses and counts as one."""
    text = request.META.get("REMOTE_ADDR", "")
    try:
        address = ip_address(text.partition("%")[0])
    except ValueError:
        return None
    if address.version == 4:
        return text
    if address.ipv4_mapped:  # IPv4 at a socket that takes both: ::ffff:192.0.2.1
        return str(address.ipv4_mapped)
    return str(ip_network((address, 64), strict=False).network_address)


def username_of(request, credentials):
    """The name that axes counts by."""
    return counted_as((credentials or {}).get("username"))


class Throttle(AxesStandaloneBackend):
    """Refuses the blocked before any password is looked at. Without a request there is nobody to block."""

    def authenticate(self, request, username=None, password=None, **more):
        if request is not None:
            refuse_blocked(request, username)


class Attempts(AxesDatabaseHandler):
    """axes counts a name at an address; here the address and the name count as well, at their own measure."""

    def get_failures(self, request, credentials=None):
        """Failures of the name at the address; the wider counts are scaled to the same limit."""
        name, since = username_of(request, credentials), timezone.now() - settings.AXES_COOLOFF_TIME
        recent = AccessAttempt.objects.filter(attempt_time__gte=since)
        here = recent.filter(ip_address=request.axes_ip_address)
        if name == TOKENS:
            return _count(here.filter(username=TOKENS)) * AT_ADDRESS // OF_TOKENS
        return max(
            _count(here.filter(username=name)),
            _count(here.exclude(username=TOKENS)) * AT_ADDRESS // OF_ADDRESS,
            _count(recent.filter(username=name)) * AT_ADDRESS // OF_ACCOUNT,
        )

    def user_login_failed(self, sender, credentials, request=None, **more):
        if request is not None:
            super().user_login_failed(sender, credentials, request, **more)


def as_answered(request, answer, credentials=None):
    """For axes' middleware, which would answer the last failure that is let through: our own answer stands."""
    return answer


def _is_right_code(person, code):
    device = TOTPDevice.objects.filter(user=person, confirmed=True).first()
    text = "".join(str(code or "").split())
    is_code = text.isascii() and text.isdecimal() and len(text) == 6
    return bool(device and is_code and verify_token(person, device.persistent_id, text))


def _count(attempts):
    return attempts.aggregate(n=Sum("failures_since_start"))["n"] or 0


def _known(username):
    """Who failed; a text that is nobody's name is not written down, for the same reason."""
    name = folded(username)
    return name if name == TOKENS or Person.objects.filter(username=name).exists() else "(nobody of this name)"


@receiver(pre_save, sender=AccessAttempt)
def _keep_no_form(instance, **signal):
    """What else was in the form, a new password for instance, is nothing to keep."""
    instance.get_data = instance.post_data = ""


@receiver(user_login_failed)
def _note_failure(sender, credentials, request=None, **signal):
    security.warn("sign-in failed", who=_known(credentials.get("username")))


@receiver(user_locked_out, sender="labrecords")
def _note_block(sender, request, username, **signal):
    security.warn("too many attempts", who=_known(username))


@receiver(user_logged_in)
def _note_sign_in(sender, request, user, **signal):
    security.note("signed in", who=user.username)


@receiver(user_logged_out)
def _note_sign_out(sender, request, user, **signal):
    if user is not None:
        security.note("signed out", who=user.username)
