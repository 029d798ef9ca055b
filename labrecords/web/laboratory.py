"""The lab itself: name and address as on reports, coupon codes, projects."""

from django.shortcuts import render
from django.urls import path, reverse

from labrecords.actions import laboratory, projects
from labrecords.models import Laboratory, Project
from labrecords.visibility import visible
from labrecords.web.forms import form_of, form_page, reason_field

LaboratoryForm = form_of(Laboratory, "name", "address", "site", "coupon_scheme")
ProjectForm = form_of(Project, "code", "title", "customer", "customer_contact", "members_only")


def page(request):
    context = {"lab": Laboratory.objects.first(), "projects": visible(Project.objects.all(), request.user)}
    return render(request, "labrecords/laboratory/page.html", context)


def _form(request, form, action, title, button, done, **details):
    return form_page(
        request, form, action, title=title, button=button, done=done, back=reverse("laboratory"), trail="Lab", **details
    )


def set_up(request):
    lab = Laboratory.objects.first()
    start = {name: getattr(lab or Laboratory(), name) for name in LaboratoryForm.base_fields}
    form = LaboratoryForm(request.POST or None, initial=start)
    if lab:
        form.fields["why"] = reason_field("Reason of the change")
    return _form(request, form, _set_up, "The lab's data", "Store", "Stored: {}.")


def _set_up(*, why="", **said):
    return laboratory.set_up(**said, **({"why": why} if why.strip() else {}))


def start_project(request):
    return _form(request, ProjectForm(request.POST or None), projects.start, "Start a project", "Start", "Started: {}.")


urlpatterns = [
    path("lab/", page, name="laboratory"),
    path("lab/set-up/", set_up, name="laboratory-set-up"),
    path("lab/projects/start/", start_project, name="project-start"),
]
