"""Joins the pages, one module a noun; each module holds its views, forms and `urlpatterns`."""

from django.urls import include, path

NOUNS = [
    "session",
    "account",
    "people",
    "today",
    "coupons",
    "materials",
    "liquids",
    "instruments",
    "data_sheets",
    "laboratory",
    "projects",
    "recipes",
    "processing",
    "readings",
    "runs",
    "batches",
    "specifications",
    "methods",
    "qualifications",
    "assessments",
    "explanations",
    "health",
    "releases",
    "history",
    "journal",
    "attachments",
]

urlpatterns = [path("", include(f"labrecords.web.{noun}")) for noun in NOUNS]
