"""Joins the pages, one module a noun; each module holds its views, forms and `urlpatterns`."""

from django.urls import include, path

NOUNS = [
    "session",
    "today",
    "coupons",
    "readings",
    "runs",
]

urlpatterns = [path("", include(f"labrecords.web.{noun}")) for noun in NOUNS]
