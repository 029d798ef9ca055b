"""Only includes: pages at the root, the REST API under /api/."""

from django.urls import include, path

urlpatterns = [
    path("api/", include("labrecords.api.urls")),
    path("", include("labrecords.web.urls")),
]
