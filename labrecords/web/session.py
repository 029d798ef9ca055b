"""Signing in and out; choosing one's own password."""

from django import forms
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.password_validation import password_validators_help_texts
from django.contrib.auth.views import LoginView, LogoutView
from django.shortcuts import redirect, render
from django.urls import path

from labrecords import sign_in
from labrecords.actions import account
from labrecords.errors import Refusal, SignInRefused, TooManyAttempts
from labrecords.web import forms as strict

NOUN = None  # signing in and out is nobody's privilege


def code_field(**options):
    return forms.CharField(
        label="Code",
        max_length=20,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "one-time-code"}),
        **options,
    )


def password_field(label="Password", autocomplete="current-password", **options):
    """Any length, any character, pasted or typed; nothing of it is cut off."""
    widget = forms.PasswordInput(attrs={"autocomplete": autocomplete})
    missing = {"required": strict.MISSING.format(label=label)}
    return forms.CharField(label=label, strip=False, widget=widget, error_messages=missing, **options)


def new_password_field(label="New password"):
    return password_field(label, "new-password", help_text=" ".join(password_validators_help_texts()))


class SignIn(AuthenticationForm):
    code = code_field(required=False, help_text="Six digits, only if you have turned on a second factor.")
    error_messages = {"invalid_login": "Sign-in name and password do not fit together."}
    refusal = None

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["username"].widget.attrs["autocapitalize"] = "none"

    def clean(self):
        said = self.cleaned_data
        if "username" in said and said.get("password"):
            try:
                self.user_cache = sign_in.person_of(
                    self.request, username=said["username"], password=said["password"], code=said.get("code", "")
                )
            except Refusal as refusal:
                self.refusal = refusal
                words = self.error_messages["invalid_login"] if isinstance(refusal, SignInRefused) else str(refusal)
                raise forms.ValidationError(words) from None
        return said


class SignInPage(LoginView):
    template_name = "labrecords/session/sign_in.html"
    authentication_form = SignIn
    redirect_authenticated_user = True

    def form_invalid(self, form):
        answer = super().form_invalid(form)
        if isinstance(form.refusal, TooManyAttempts):
            answer.status_code = form.refusal.status
            answer.headers["Retry-After"] = form.refusal.headers["Retry-After"]
        return answer


class PasswordForm(forms.Form):
    password = password_field("Present password")
    new_password = new_password_field()
    again = password_field("New password again", "new-password")

    def clean(self):
        said = super().clean()
        if "again" in said and said.pop("again") != said.get("new_password"):
            self.add_error("again", "That is not the same new password.")
        return said


def password(request):
    """All other sessions and every token of the person end with the change; this session goes on."""
    form = PasswordForm(request.POST or None)
    if request.method == "POST":
        done = strict.accepted(form, sign_in.guarded(request, account.change_password), by=request.user)
        if done:
            update_session_auth_hash(request, done)
            messages.success(request, "Your password was changed. Your other sessions and your API tokens have ended.")
            return redirect("account")
    context = {"form": form, "is_first": request.user.has_start_secret}
    return render(request, "labrecords/session/password.html", context)


urlpatterns = [
    path("sign-in/", SignInPage.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("account/password/", password, name="password"),
]
