"""Actual values of a recipe step beside the planned ones, and the reasons for what lies outside its tolerance."""

from django import forms

from labrecords import entry
from labrecords.errors import DeviationNeedsReason, Refusal
from labrecords.models import ProcessRecord
from labrecords.web.forms import MomentField, NumberField, fields_of


class ActualForm(forms.Form):
    """One actual value and one reason for each value that the step's kind declares; nothing is filled in."""

    finished_at = MomentField(label="Finished at", required=False, help_text="Empty: now.")

    def __init__(self, *args, step, **kwargs):
        super().__init__(*args, **kwargs)
        self.step = step
        self.fields |= fields_of(ProcessRecord, "remark")
        for item in step.declaration.fields:
            value = forms.CharField if item.kind == "text" else NumberField
            self.fields[f"actual_{item.key}"] = value(label=f"Actual: {item.title}", required=False)
            self.fields[f"reason_{item.key}"] = forms.CharField(
                label=f"Reason: {item.label} outside tolerance", required=False, max_length=300
            )

    @property
    def rows(self):
        """Planned beside actual, marked, as it stands in the form."""
        return [self.row(item) for item in self.step.declaration.fields]

    def row(self, item):
        typed, reason = self[f"actual_{item.key}"], self[f"reason_{item.key}"]
        planned = self.step.planned.get(item.key)
        return {
            "item": item,
            "planned": self.step.declaration.planned_row(item.key, planned)["text"] if planned else "",
            "actual": typed,
            "reason": reason,
            "within": within(self.step, item, typed.value()),
        }

    @property
    def actual(self):
        typed = {item.key: self.cleaned_data[f"actual_{item.key}"] for item in self.step.declaration.fields}
        return {key: value for key, value in typed.items() if value not in (None, "")}

    @property
    def reasons(self):
        return {item.key: self.cleaned_data[f"reason_{item.key}"] for item in self.step.declaration.fields}

    def show(self, refusal):
        """A missing reason stands at its reason, a refused value at its value, the rest above."""
        part = "reason" if isinstance(refusal, DeviationNeedsReason) else "actual"
        at = [name for name in (f"{part}_{refusal.field}", refusal.field) if name in self.fields]
        self.add_error(at[0] if at else None, str(refusal))


def within(step, item, typed):
    """Whether what was typed lies within the tolerance; None where there is none or it is no number."""
    try:
        actual = item.checked(entry.number(typed, field=item.key) if item.kind == "number" else typed)
    except Refusal:
        return None
    rows = step.declaration.compare(step.planned, {item.key: actual})
    return next((row["within"] for row in rows if row["key"] == item.key), None)
