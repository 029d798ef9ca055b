"""The lab itself: name and address as on reports, coupon codes, projects, people."""

from django import forms
from django.contrib.auth.password_validation import password_validators_help_texts
from django.shortcuts import get_object_or_404, render
from django.urls import path, reverse

from labrecords.actions import laboratory, people, projects
from labrecords.models import Laboratory, Person, Project
from labrecords.visibility import visible
from labrecords.web.forms import form_of, form_page, reason_field

LaboratoryForm = form_of(Laboratory, "name", "address", "site", "coupon_scheme")
ProjectForm = form_of(Project, "code", "title", "customer", "customer_contact", "members_only")
PersonForm = form_of(
    Person,
    "username",
    "full_name",
    "role",
    password=forms.CharField(
        label="Password",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        help_text=" ".join(password_validators_help_texts()),
        error_messages={"required": "Password is missing."},
    ),
)


class DisableForm(forms.Form):
    why = reason_field()


def page(request):
    context = {
        "lab": Laboratory.objects.first(),
        "projects": visible(Project.objects.all(), request.user),
        "people": Person.objects.all(),
    }
    return render(request, "labrecords/laboratory/page.html", context)


def _form(request, form, action, title, button, done, **details):
    return form_page(
        request, form, action, title=title, button=button, done=done, back=reverse("laboratory"), trail="Lab", **details
    )


def set_up(request):
    lab = Laboratory.objects.first()
    start = {name: getattr(lab or Laboratory(), name) for name in LaboratoryForm.base_fields}
    form = LaboratoryForm(request.POST or None, initial=start)
    return _form(request, form, laboratory.set_up, "The lab's data", "Store", "Stored: {}.")


def start_project(request):
    return _form(request, ProjectForm(request.POST or None), projects.start, "Start a project", "Start", "Started: {}.")


def add_person(request):
    return _form(request, PersonForm(request.POST or None), people.add, "Add a person", "Add", "Added: {}.")


def disable_person(request, pk):
    person = get_object_or_404(Person, pk=pk)
    form = DisableForm(request.POST or None)
    title = f"Disable {person.full_name}"
    return _form(request, form, people.disable, title, "Disable", "{} can no longer sign in.", person=person)


urlpatterns = [
    path("lab/", page, name="laboratory"),
    path("lab/set-up/", set_up, name="laboratory-set-up"),
    path("lab/projects/start/", start_project, name="project-start"),
    path("lab/people/add/", add_person, name="person-add"),
    path("lab/people/<int:pk>/disable/", disable_person, name="person-disable"),
]
