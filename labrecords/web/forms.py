"""What all forms share: fields derived from the models, strict numbers and dates, refusals at their field."""

from django import forms
from django.contrib import messages
from django.db import models
from django.shortcuts import redirect, render
from django.urls import reverse

from labrecords import entry
from labrecords.actions.rows import last_change
from labrecords.errors import Refusal, TooManyAttempts, ValueRefused
from labrecords.processes import HAZARDS
from labrecords.visibility import visible
from labrecords.web.picking import CouponsField

MISSING = "{label} is missing."


class _Strict(forms.CharField):
    """Text that an entry function reads; its refusal becomes the field's."""

    read = None

    def to_python(self, value):
        text = super().to_python(value)
        if not text:
            return None
        try:
            return type(self).read(text, field="", label=self.label or "")
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal)) from None


def as_typed(value):
    """A stored number as people would type it, to at most nine decimals; everything else as it is."""
    return f"{value:.9f}".rstrip("0").rstrip(".") if isinstance(value, float) else value


class NumberField(_Strict):
    """A number with decimal comma or point; nothing typed is None."""

    read = staticmethod(entry.number)
    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def prepare_value(self, value):
        return as_typed(value)


class WholeField(_Strict):
    read = staticmethod(entry.whole)
    widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})


class DayField(_Strict):
    read = staticmethod(entry.day)
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class MomentField(_Strict):
    read = staticmethod(entry.moment)
    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")


STRICT = {
    models.FloatField: NumberField,
    models.PositiveIntegerField: WholeField,
    models.DateField: DayField,
    models.DateTimeField: MomentField,
}


def strictly(field, **options):
    """The form field of a model field, with numbers and dates read as everywhere in the lab."""
    label = str(field.verbose_name)
    options.setdefault("label", label if label[1:2].isupper() else label[:1].upper() + label[1:])  # pH stays pH
    strict = STRICT.get(type(field))
    if strict:
        options |= {"required": not field.blank, "help_text": field.help_text}
    made = strict(**options) if strict else field.formfield(**options)
    if isinstance(made, forms.CharField) and isinstance(made.widget, forms.Textarea):
        made.widget.attrs["rows"] = 3
    if isinstance(made, forms.ModelChoiceField):
        made.empty_label = "choose" if made.required else "none"
    elif isinstance(made, forms.TypedChoiceField):
        made.choices = [(key, text if key else "choose") for key, text in made.choices]
    if made is not None:
        made.error_messages["required"] = MISSING.format(label=made.label)
    return made


def fields_of(model, *names):
    """Form fields of a model, by name: labels, lengths, choices and hints are the model's own."""
    return forms.fields_for_model(model, fields=names, formfield_callback=strictly)


def form_of(model, *names, base=forms.Form, **more):
    """A form class over a model's fields and further ones; it only reads, the action writes."""
    return type(f"{model.__name__}Form", (base,), fields_of(model, *names) | more)


def reason_field(label="Reason"):
    """The reason of a change, under the name that every action gives it; the action refuses an empty one."""
    field = forms.CharField(label=label, required=False, max_length=300, widget=forms.TextInput())
    field.is_needed = True  # shown as such; the refusal is the action's
    return field


def hazards_field(help_text, hazards=None):
    return forms.MultipleChoiceField(
        label="Hazards",
        required=False,
        choices=[(hazard.tag, hazard.title) for hazard in hazards or HAZARDS.values()],
        widget=forms.CheckboxSelectMultiple,
        help_text=help_text,
    )


def offered(form, person):
    """The form, with the rows that its fields offer for choice narrowed to those the person may see."""
    for field in form.fields.values():
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = visible(field.queryset, person)
        if isinstance(field, CouponsField):
            field.by = person
    return form


def changes_of(row, typed) -> dict:
    """What of the typed values differs from what the form showed of the stored ones; nothing at all is refused."""
    changes = {name: value for name, value in typed.items() if as_typed(value) != as_typed(getattr(row, name))}
    if not changes:
        raise ValueRefused(field="why", label="Amendment", value="nothing", rule="differs from what is stored")
    return changes


def accepted(form, action, **details):
    """The action's result, or None when it or the form refused; the refusal then stands at its field."""
    if not form.is_valid():
        return None
    try:
        return action(**form.cleaned_data, **details)
    except TooManyAttempts:
        raise  # a page of its own, with its status
    except Refusal as refusal:
        show(form, refusal)
        return None


def show(form, refusal):
    """Put a refusal at its field, or above the form when it has none there."""
    form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))


def form_page(request, form, action, *, title, button, back, done, trail="", intro="", **details):
    """A page that is one form: stored and left for `back`, or shown again with refusal and what was typed."""
    if request.method == "POST":
        row = accepted(form, action, by=request.user, **details)
        if row:
            messages.success(request, done.format(row))
            return redirect(back)
    context = {"form": form, "title": title, "button": button, "back": back, "trail": trail, "intro": intro}
    return render(request, "labrecords/form.html", context)


def amend_page(request, row, action, names):
    """The page that amends these fields of a row: only what was retyped, and over no amendment that was not seen."""
    noun = row._meta.model_name
    seen = forms.CharField(required=False, widget=forms.HiddenInput)
    form = form_of(type(row), *names, why=reason_field(), seen=seen)
    stored = {name: getattr(row, name) for name in names} | {"seen": last_change(row).pgh_id}

    def amend(*, by, why, seen, **typed):
        return action(by=by, why=why, seen=seen, **{noun: row}, **changes_of(row, typed))

    return form_page(
        request,
        offered(form(request.POST or None, initial=stored), request.user),
        amend,
        title=f"Amend {row.code}",
        button="Amend",
        back=reverse(noun, args=[row.code]),
        trail=f"{noun.capitalize()} {row}",
        intro=f"What is stored stays in the {noun}’s history, with your name and reason.",
        done="{0.code} was amended; what was stored before stays in its history.",
    )
