"""The people of the lab, and what an administrator does about their sign-in."""

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.urls import path, reverse
from django.views.decorators.cache import never_cache

from labrecords import access
from labrecords.actions import people
from labrecords.models import Person, SecurityEvent
from labrecords.web.forms import accepted, fields_of, form_of, form_page, reason_field
from labrecords.web.history import history
from labrecords.web.session import new_password_field

PersonForm = form_of(
    Person, "username", "full_name", "role", password=new_password_field("Start password, to be changed at once")
)


class WhyForm(forms.Form):
    why = reason_field()


RoleForm = type("RoleForm", (WhyForm,), fields_of(Person, "role"))

# verb of the address: (action, form, title, button, what is said when it is done)
VERBS = {
    "role": (people.change_role, RoleForm, "Another role for {}", "Change the role", "{} has another role."),
    "disable": (people.disable, WhyForm, "Disable {}", "Disable", "{} can no longer sign in."),
    "end-sessions": (people.end_sessions, WhyForm, "End the sessions of {}", "End them",
                     "Sessions and tokens of {} have ended."),
    "lift-block": (people.lift_block, WhyForm, "Lift the block of {}", "Lift it", "{} may try again."),
    "reset-second-factor": (people.reset_second_factor, WhyForm, "Take the second factor off {}", "Take it off",
                            "{} signs in with the password alone."),
}  # fmt: skip


def listed(request):
    page = Paginator(Person.objects.all(), 50).get_page(request.GET.get("page"))
    return render(request, "labrecords/people/list.html", {"page": page})


def one(request, pk):
    person = get_object_or_404(Person, pk=pk)
    context = {"person": person, "verbs": _open_verbs(request.user), "history": history(request.user, person)}
    return render(request, "labrecords/people/page.html", context)


def add(request):
    form = PersonForm(request.POST or None)
    page = {"title": "Add a person", "button": "Add", "back": reverse("people"), "trail": "People"}
    return form_page(request, form, people.add, done="Added: {}.", **page)


def change(request, pk, verb):
    if verb not in VERBS:
        raise Http404
    person, (action, form, title, button, done) = get_object_or_404(Person, pk=pk), VERBS[verb]
    page = {"title": title.format(person.full_name), "button": button, "done": done, "trail": person.full_name}
    form = form(request.POST or None, initial={"role": person.role})
    return form_page(request, form, action, person=person, back=reverse("person", args=[pk]), **page)


def disable(request, pk):
    return change(request, pk, "disable")


@never_cache
def start_password(request, pk):
    """The answer to the form shows the start password; no later page does."""
    person, form = get_object_or_404(Person, pk=pk), WhyForm(request.POST or None)
    done = request.method == "POST" and accepted(form, people.set_start_password, by=request.user, person=person)
    if done:
        messages.success(request, "The old password no longer works, and all sessions have ended.")
        return render(request, "labrecords/people/start_password.html", {"person": person, "password": done[1]})
    context = {"form": form, "title": f"Start password for {person.full_name}", "button": "Make one",
               "back": reverse("person", args=[pk]), "trail": person.full_name}  # fmt: skip
    return render(request, "labrecords/form.html", context)


def security_log(request):
    access.check(request.user, "people.read_log")
    page = Paginator(SecurityEvent.objects.all(), 100).get_page(request.GET.get("page"))
    return render(request, "labrecords/people/log.html", {"page": page})


def _open_verbs(user):
    """(address, words) of what this user may do about a person."""
    return [(name, button) for name, (action, _, _, button, _) in VERBS.items() if access.may(user, action.verb)]


urlpatterns = [
    path("people/", listed, name="people"),
    path("people/add/", add, name="person-add"),
    path("people/log/", security_log, name="security-log"),
    path("people/<int:pk>/", one, name="person"),
    path("people/<int:pk>/disable/", disable, name="person-disable"),
    path("people/<int:pk>/start-password/", start_password, name="person-start-password"),
    path("people/<int:pk>/<slug:verb>/", change, name="person-change"),
]
