"""Signing in and out."""

from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.urls import path

NOUN = None  # signing in and out is nobody's privilege


class SignIn(AuthenticationForm):
    error_messages = {
        "invalid_login": "Sign-in name and password do not fit together.",
        "inactive": "This sign-in has been disabled; ask the administrator.",
    }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["username"].widget.attrs["autocapitalize"] = "none"

    def clean_username(self):
        return self.cleaned_data["username"].strip().lower()  # as people.add stores it


sign_in = LoginView.as_view(
    template_name="labrecords/session/sign_in.html",
    authentication_form=SignIn,
    redirect_authenticated_user=True,
)

urlpatterns = [
    path("sign-in/", sign_in, name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
]
