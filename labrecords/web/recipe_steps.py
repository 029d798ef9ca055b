"""The steps of a recipe in a form: kinds by family, each kind's own values with tolerance, order changed freely."""

from django import forms

from labrecords.errors import ValueRefused
from labrecords.models import RecipeStep
from labrecords.processes import FAMILIES, KINDS
from labrecords.web.forms import NumberField, fields_of

MOST_STEPS = 60


def kinds_by_family():
    families = [
        (family, [(kind.key, kind.title) for kind in KINDS.values() if kind.family == family])
        for family in FAMILIES.values()
    ]
    return [("", "choose a kind"), *families]


class StepForm(forms.Form):
    """One step. The fields of its kind are added once the kind is known; none has a value of its own."""

    kind = forms.ChoiceField(
        label="Kind of step",
        choices=kinds_by_family,
        # Choosing a kind shows its own fields; without scripts the button “Show its fields” does.
        widget=forms.Select(
            attrs={"hx-post": "", "hx-vals": '{"do": "show"}', "hx-target": "#steps", "hx-swap": "outerHTML"}
        ),
        error_messages={"required": "Choose the kind of this step, or remove the step."},
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.declaration = KINDS.get(self["kind"].value())
        self.fields |= fields_of(RecipeStep, "title", "instruction")
        self.fields["title"].help_text = "Empty: the name of the kind."
        for item in self.items:
            self.fields |= _value_fields(item)

    @property
    def items(self):
        return self.declaration.fields if self.declaration else ()

    @property
    def key(self):
        return self.prefix.rpartition("-")[2]

    @property
    def rows(self):
        """(declared field, value, tolerance) as they stand in the form; words have no tolerance."""
        return [
            (item, self[f"value_{item.key}"], None if item.kind == "text" else self[f"tolerance_{item.key}"])
            for item in self.items
        ]

    def clean(self):
        typed = super().clean()
        typed["planned"] = {}
        for item in self.items:
            typed["planned"] |= self._plan(
                item, typed.pop(f"value_{item.key}", None), typed.pop(f"tolerance_{item.key}", None)
            )
        return typed

    def _plan(self, item, value, tolerance):
        """The planned entry of one value, checked by the kind's declaration in its own words."""
        if value in (None, "") and tolerance is None:
            return {}
        entry = {"text": value} if item.kind == "text" else {"value": value, "tolerance": tolerance}
        if value is None:
            self.add_error(f"value_{item.key}", f"{item.title}: a tolerance stands without its planned value.")
            return {}
        try:
            return self.declaration.checked_plan({item.key: entry})
        except ValueRefused as refusal:
            at = "tolerance" if refusal.details["label"].startswith("Tolerance") else "value"
            self.add_error(f"{at}_{item.key}", str(refusal))
            return {}


def _value_fields(item):
    if item.kind == "text":
        return {f"value_{item.key}": forms.CharField(label=item.title, required=False, max_length=200)}
    return {
        f"value_{item.key}": NumberField(label=item.title, required=False),
        f"tolerance_{item.key}": NumberField(label="Tolerance ±", required=False),
    }


def stored_steps(revision):
    """Forms filled with the steps of a revision."""
    forms_ = []
    for number, step in enumerate(revision.steps.all(), start=1):
        initial = {"kind": step.kind, "title": step.title, "instruction": step.instruction}
        for key, entry in step.planned.items():
            initial[f"value_{key}"] = entry.get("text", entry.get("value"))
            initial[f"tolerance_{key}"] = entry.get("tolerance")
        forms_.append(StepForm(initial=initial, prefix=f"step-{number}"))
    return forms_


def empty_step(key=1):
    return StepForm(prefix=f"step-{key}")


def typed_steps(data):
    """The posted steps, to be checked and stored."""
    return [StepForm(data, prefix=f"step-{key}") for key in _keys(data)]


def rearranged_steps(data, do):
    """The posted steps after a button that stores nothing: add, or remove, up, down with a step's key."""
    keys = _keys(data)
    verb, _, key = do.partition("-")
    if verb == "add" and len(keys) < MOST_STEPS:
        keys.append(str(max(map(int, keys), default=0) + 1))
    elif key in keys:
        keys = _moved(keys, verb, key)
    return [StepForm(initial=_typed(data, key), prefix=f"step-{key}") for key in keys]


def _keys(data):
    keys = [key for key in data.getlist("step") if key.isascii() and key.isdigit() and len(key) < 5]
    return list(dict.fromkeys(keys))[:MOST_STEPS]


def _moved(keys, verb, key):
    at = keys.index(key)
    rest = [other for other in keys if other != key]
    if verb == "remove":
        return rest
    to = {"up": at - 1, "down": at + 1}.get(verb, at)
    rest.insert(max(to, 0), key)
    return rest


def _typed(data, key):
    prefix = f"step-{key}-"
    return {name.removeprefix(prefix): value for name, value in data.items() if name.startswith(prefix)}
