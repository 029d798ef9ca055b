"""Methods: every declared one with the lab's numbered versions, and the form that fixes the next version."""

from django import forms
from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import path

from analysis import EXPOSURES, METHODS, QUANTITIES, citation
from labrecords.actions import methods
from labrecords.errors import Refusal
from labrecords.models import MethodVersion, TestRun
from labrecords.web.forms import NumberField, fields_of, show

# The conditions that a method names, in the words of the run's own fields.
_ALSO = {"liquid": "challenge liquid lot", "instrument": "instrument"}


def listing(request):
    versions = {}
    for row in MethodVersion.objects.select_related("liquid", "created_by").order_by("method", "-number"):
        versions.setdefault(row.method, []).append(row)
    shown = [_shown(method, versions.get(key, [])) for key, method in METHODS.items()]
    return render(request, "labrecords/methods/list.html", {"methods": shown, "exposures": EXPOSURES.values()})


def _shown(method, versions):
    return {
        "method": method,
        "versions": versions,
        "quantities": [QUANTITIES[kind.quantity].label for kind in method.readings],
        "conditions": [condition_words(name) for name in method.conditions],
        "standards": [citation(key) for key in method.standards],
    }


def condition_words(name):
    return _ALSO.get(name) or str(TestRun._meta.get_field(name).verbose_name)


class VersionForm(forms.Form):
    """One field a declared setting; bounds are what the declaration calls possible. What the trade often takes stands
    there to begin with where the declaration knows it, from memory, for the lab to change."""

    def __init__(self, method, *args, **options):
        super().__init__(*args, **options)
        for setting in method.settings:
            self.fields[setting.key] = setting_field(setting)
            if setting.usual is not None:
                self.initial.setdefault(setting.key, setting.usual)
        for name, field in fields_of(MethodVersion, "liquid", "drop_volume_ul", "note").items():
            self.fields[name] = field

    def settings(self, method):
        return {item.key: self.cleaned_data[item.key] for item in method.settings}


def setting_field(setting):
    """The form field of a declared setting, of a method or of an exposure."""
    label = f"{setting.label} [{setting.unit}]" if setting.unit else setting.label
    if setting.kind == "choice":
        return forms.ChoiceField(label=label, required=setting.is_required, choices=[("", "choose"), *setting.choices])
    if setting.kind == "text":
        return forms.CharField(label=label, required=setting.is_required, max_length=300)
    possible = (
        f"possible: {setting.low:g} to {setting.high:g}" if setting.low is not None and setting.high is not None else ""
    )
    limits = f"; limits {QUANTITIES[setting.limits_quantity].title.lower()}" if setting.limits_quantity else ""
    return NumberField(label=label, required=setting.is_required, help_text=possible + limits)


def new_version(request, key):
    method = METHODS.get(key)
    if method is None:
        raise Http404(f"No method “{key}” is declared.")
    form = VersionForm(method, request.POST or None)
    if request.method == "POST" and form.is_valid():
        made = _fix(request.user, method, form)
        if made:
            messages.success(request, f"{made} is fixed.")
            return redirect("methods")
    context = {"form": form, "method": method}
    return render(request, "labrecords/methods/new_version.html", context, status=400 if form.errors else 200)


def _fix(by, method, form):
    data = form.cleaned_data
    more = {name: data[name] for name in ("liquid", "drop_volume_ul", "note")}
    try:
        return methods.fix_version(by=by, method=method.key, settings=form.settings(method), **more)
    except Refusal as refusal:
        show(form, refusal)
        return None


urlpatterns = [
    path("methods/", listing, name="methods"),
    path("methods/<str:key>/new-version/", new_version, name="method-version-new"),
]
