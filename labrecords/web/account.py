"""One's own sign-in: sessions, second factor, API tokens."""

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST
from django_otp.plugins.otp_totp.models import TOTPDevice

from labrecords import sign_in
from labrecords.actions import account
from labrecords.models import ApiToken
from labrecords.reports.qr import qr_svg
from labrecords.visibility import visible
from labrecords.web.forms import WholeField, accepted, form_of, reason_field
from labrecords.web.session import code_field, password_field

TokenForm = form_of(
    ApiToken,
    "name",
    "scope",
    days=WholeField(label="Days that it is valid", initial=30, help_text=f"At most {settings.TOKEN_DAYS}."),
    password=password_field("Your password"),
)


class StartForm(forms.Form):
    password = password_field("Your password")


class CodeForm(forms.Form):
    code = code_field(help_text="The six digits that your app shows now.")


class EndForm(forms.Form):
    password = password_field("Your password")
    why = reason_field()


def page(request):
    tokens = visible(ApiToken.objects.all(), request.user)[:50]
    return render(request, "labrecords/account/page.html", {"tokens": tokens, "now": timezone.now()})


@require_POST
def end_other_sessions(request):
    account.end_other_sessions(by=request.user)
    update_session_auth_hash(request, request.user)
    messages.success(request, "Your other sessions and your API tokens have ended.")
    return redirect("account")


@never_cache
def issue_token(request):
    """The answer to the form shows the token; no later page does."""
    form = TokenForm(request.POST or None)
    made = request.method == "POST" and accepted(form, sign_in.guarded(request, account.issue_token), by=request.user)
    if made:
        row, token = made
        return render(request, "labrecords/account/token.html", {"row": row, "token": token})
    return _form(request, form, "Issue an API token", "Issue")


@require_POST
def revoke_token(request, pk):
    token = get_object_or_404(visible(ApiToken.objects.all(), request.user), pk=pk)
    account.revoke_token(by=request.user, token=token)
    messages.success(request, f"Token {token.name} works no more.")
    return redirect("account")


def start_second_factor(request):
    form = StartForm(request.POST or None)
    if request.method == "POST" and accepted(
        form, sign_in.guarded(request, account.start_second_factor), by=request.user
    ):
        return redirect("second-factor-confirm")
    return _form(request, form, "Turn on a second factor", "Continue")


@never_cache
def confirm_second_factor(request):
    device = get_object_or_404(TOTPDevice, user=request.user, confirmed=False)
    form = CodeForm(request.POST or None)
    if request.method == "POST" and accepted(form, account.confirm_second_factor, by=request.user):
        messages.success(request, "From now on, signing in asks for a code as well.")
        return redirect("account")
    context = {"form": form, "qr": qr_svg(device.config_url, "Code to scan with your app"), "key": _grouped(device)}
    return render(request, "labrecords/account/second_factor.html", context)


def end_second_factor(request):
    form = EndForm(request.POST or None)
    if request.method == "POST" and accepted(
        form, sign_in.guarded(request, account.end_second_factor), by=request.user
    ):
        messages.success(request, "Signing in asks for no code any more.")
        return redirect("account")
    return _form(request, form, "Turn off the second factor", "Turn off")


def _form(request, form, title, button):
    context = {"form": form, "title": title, "button": button, "back": "/account/", "trail": "Your sign-in"}
    return render(request, "labrecords/form.html", context)


def _grouped(device):
    """The key as one types it where nothing can be scanned."""
    from base64 import b32encode

    text = b32encode(device.bin_key).decode().rstrip("=")
    return " ".join(text[start : start + 4] for start in range(0, len(text), 4))


urlpatterns = [
    path("account/", page, name="account"),
    path("account/end-other-sessions/", end_other_sessions, name="end-other-sessions"),
    path("account/tokens/issue/", issue_token, name="token-issue"),
    path("account/tokens/<int:pk>/revoke/", revoke_token, name="token-revoke"),
    path("account/second-factor/start/", start_second_factor, name="second-factor-start"),
    path("account/second-factor/confirm/", confirm_second_factor, name="second-factor-confirm"),
    path("account/second-factor/end/", end_second_factor, name="second-factor-end"),
]
