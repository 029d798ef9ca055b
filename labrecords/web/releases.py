"""Releases of this program that the lab put to use."""

from django.core.paginator import Paginator
from django.shortcuts import render
from django.urls import path, reverse

from labrecords.actions import releases
from labrecords.models import Release
from labrecords.web.forms import form_of, form_page

ReleaseForm = form_of(Release, "authorised_because", "checked", "place")


def listed(request):
    rows = Release.objects.select_related("created_by")
    page = Paginator(rows, 25).get_page(request.GET.get("page"))
    context = {"page": page, "running": releases.running(), "current": releases.current()}
    return render(request, "labrecords/releases/list.html", context)


def add(request):
    running = releases.running()
    return form_page(
        request,
        ReleaseForm(request.POST or None),
        releases.put_to_use,
        title=f"Put release {running['program']} to use",
        button="Store",
        back=reverse("releases"),
        trail="Releases",
        done="Stored: {}.",
        intro=f"Program {running['program']}, analysis {running['analysis']}, on {running['surroundings']}. "
        "Check first, then record what was checked; the record is not changed afterwards.",
    )


urlpatterns = [
    path("releases/", listed, name="releases"),
    path("releases/add/", add, name="release-add"),
]
