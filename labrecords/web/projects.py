"""A project: what it is, who belongs to it, and whether others of the lab see its records."""

from django import forms
from django.shortcuts import get_object_or_404, render
from django.urls import path, reverse

from labrecords.access import EVERY, SEES
from labrecords.actions import projects
from labrecords.actions.rows import find
from labrecords.models import Person, Project
from labrecords.web.forms import form_page, reason_field


class AdmitForm(forms.Form):
    person = forms.ModelChoiceField(Person.objects.none(), empty_label="choose")

    def __init__(self, *args, project, **options):
        super().__init__(*args, **options)
        self.fields["person"].queryset = outsiders(project)
        self.fields["person"].error_messages["required"] = "Person is missing."


class ReasonForm(forms.Form):
    why = reason_field()


def outsiders(project):
    """Who could be admitted: in service, no member yet, and with a role that looks at records."""
    looking = [role for role, sees in SEES.items() if sees != EVERY]
    people = Person.objects.filter(is_active=True, role__in=looking)
    return people.exclude(memberships__in=project.members.filter(is_current=True))


def found(request, code):
    return find(Project, code, by=request.user)


def page(request, code):
    project = found(request, code)
    members = project.members.select_related("person", "created_by")
    context = {
        "project": project,
        "members": [row for row in members if row.is_current],
        "earlier": [row for row in members if not row.is_current],
    }
    return render(request, "labrecords/projects/page.html", context)


def admit(request, code):
    project = found(request, code)
    form = AdmitForm(request.POST or None, project=project)
    words = {"title": f"Admit a person to {project.code}", "button": "Admit", "done": "Admitted: {}."}
    return _form(request, form, projects.admit, project, **words)


def dismiss(request, code, pk):
    project = found(request, code)
    person = get_object_or_404(Person, pk=pk, memberships__in=project.members.filter(is_current=True))
    words = {
        "title": f"Dismiss {person.full_name} from {project.code}",
        "button": "Dismiss",
        "done": "Dismissed: {}.",
        "intro": "What the person did for the project keeps the name.",
    }
    return _form(request, ReasonForm(request.POST or None), projects.dismiss, project, person=person, **words)


def restrict(request, code):
    project = found(request, code)
    words = {
        "title": f"{project.code} for members only",
        "button": "For members only",
        "done": "For members only from now on: {}.",
        "intro": "For everybody who is no member, its records are then not there. You become a member if you are none.",
    }
    return _form(request, ReasonForm(request.POST or None), projects.restrict, project, **words)


def open_up(request, code):
    project = found(request, code)
    words = {
        "title": f"Open {project.code} to the lab",
        "button": "Open to the lab",
        "done": "Open from now on: {}.",
        "intro": "Everybody who works in the lab then sees its records; customers see issued reports only, as members.",
    }
    return _form(request, ReasonForm(request.POST or None), projects.open_up, project, **words)


def _form(request, form, action, project, **details):
    back = reverse("project", args=[project.code])
    return form_page(request, form, action, back=back, trail=project.code, project=project, **details)


urlpatterns = [
    path("projects/<path:code>/admit/", admit, name="project-admit"),
    path("projects/<path:code>/dismiss/<int:pk>/", dismiss, name="project-dismiss"),
    path("projects/<path:code>/members-only/", restrict, name="project-restrict"),
    path("projects/<path:code>/open/", open_up, name="project-open-up"),
    path("projects/<path:code>/", page, name="project"),
]
