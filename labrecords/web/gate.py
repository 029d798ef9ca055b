"""Around every page: where a request comes from, when a session ends, what a start password opens."""

from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import SESSION_KEY, logout
from django.contrib.auth.models import AnonymousUser
from django.contrib.auth.signals import user_logged_in
from django.dispatch import receiver
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import Resolver404, resolve, reverse
from django.utils import timezone

from labrecords import security, sign_in

SINCE, SEEN = "signed_in_at", "seen_at"  # of a session, in seconds
SEEN_EVERY = 60  # seconds; the last use is written down no more often
UNATTENDED = "X-Unattended"  # sent by what a page asks by itself: it does not keep a session alive
PERMISSIONS = "camera=(), display-capture=(), geolocation=(), microphone=(), payment=(), usb=()"


def _route(request):
    """The page that is asked for, without the codes in its address: who reads the log may not see those records."""
    try:
        return f"/{resolve(request.path_info).route}"
    except Resolver404:
        return "(no such page)"


class Visit:
    """Tells the security log who asks from where, and the browser what no page of ours needs."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        facts = {"address": sign_in.address_of(request) or "", "method": request.method, "path": _route(request)}
        token = security.visit.set(facts)
        try:
            answer = self.get_response(request)
        finally:
            security.visit.reset(token)
        answer.headers.setdefault("Permissions-Policy", PERMISSIONS)
        return answer


class Gate:
    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        if SINCE in request.session and _is_over(request):
            security.note("session ended by its limit", who=request.user.get_username())
            logout(request)
            messages.info(request, "You were signed out: nobody had used this session, or it had lasted its time.")
        return self._kept_out(request) or self.get_response(request)

    def _kept_out(self, request):
        """An answer for whoever may not pass, else None."""
        if request.user.is_authenticated and request.user.has_start_secret:
            if request.path.startswith("/api/"):
                request.user = AnonymousUser()
            elif request.path not in (reverse("password"), reverse("sign-out")):
                return redirect("password")
        if not request.user.is_authenticated and request.headers.get("HX-Request") == "true":
            # A redirect would be followed inside the page and put the sign-in form into a corner of it.
            return HttpResponse(status=401, headers={"HX-Redirect": f"{reverse('sign-in')}?{_back(request)}"})
        return None


@receiver(user_logged_in)
def start(sender, request, user, **signal):
    """The limits of a session count from the sign-in that began it."""
    if _is_begun(request, user):
        request.session[SINCE] = request.session[SEEN] = int(timezone.now().timestamp())


def _is_begun(request, user):
    """Whether a session of this very person begins. A sign-in at the API says the same signal and begins none: the
    session whose cookie came along keeps its key, and its clock.
    """
    session = getattr(request, "session", None)
    if session is None or session.get(SESSION_KEY) != str(user.pk):
        return False
    return session.session_key is None or session.session_key != request.COOKIES.get(settings.SESSION_COOKIE_NAME)


def _is_over(request):
    now, session = int(timezone.now().timestamp()), request.session
    if now - session[SINCE] >= settings.SESSION_LONGEST.total_seconds():
        return True
    if now - session[SEEN] >= settings.SESSION_IDLE.total_seconds():
        return True
    if now - session[SEEN] >= SEEN_EVERY and UNATTENDED not in request.headers:
        session[SEEN] = now
    return False


def _back(request):
    """The page to return to after signing in: the one that asked, when it is ours."""
    asked = getattr(request, "htmx", None) and request.htmx.current_url_abs_path
    return urlencode({"next": asked}) if asked else ""
