"""Specifications: criterion sets with their frozen revisions; each row's fields follow from the declared kinds."""

from django import forms
from django.contrib import messages
from django.db.models import Count, Max
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone

import analysis
from analysis import CRITERION_KINDS
from labrecords.actions import criteria
from labrecords.actions.evidence.stored import record_for
from labrecords.actions.rows import find
from labrecords.errors import Refusal
from labrecords.models import ChallengeLiquid, Criterion, CriterionRevision, CriterionSet
from labrecords.models.run import DOSE_KINDS
from labrecords.visibility import visible
from labrecords.web.forms import NumberField, fields_of, form_of, offered

NOUN = "criteria"

SPARE_ROWS = 2
MOST_ROWS = 60
FIELDS = (
    "label",
    "kind",
    "quantity",
    "side",
    "limit",
    "liquid",
    "drop_volume_ul",
    "role",
    "dose",
    "dose_kind",
    "wording",
)
NEEDED = ("label", "kind", "quantity", "limit")


def parameters():
    """Every parameter that any kind declares, once: (kinds that use it, Parameter)."""
    found = {}
    for kind in CRITERION_KINDS.values():
        for parameter in kind.parameters:
            found.setdefault(parameter.key, ([], parameter))[0].append(kind)
    return found


def _parameter_field(kinds, parameter):
    label = f"{parameter.label} [{parameter.unit}]" if parameter.unit else parameter.label
    about = f"of: {', '.join(kind.title.lower() for kind in kinds)}"
    if parameter.choices:
        choices = [("", "–"), *parameter.choices]
        return forms.ChoiceField(label=label, choices=choices, required=False, help_text=about)
    return NumberField(label=label, required=False, help_text=f"{about}; {parameter.low:g} to {parameter.high:g}")


class CriterionForm(forms.Form):
    """One criterion; a row in which nothing was filled is left out."""

    def __init__(self, *args, liquids=(), **options):
        super().__init__(*args, **options)
        for name, field in fields_of(Criterion, *FIELDS).items():
            field.required = False
            field.is_needed = name in NEEDED
            self.fields[name] = field
        self.fields["dose_kind"].choices = list(DOSE_KINDS.items())
        self.fields["liquid"].choices = [("", "any"), *liquids]  # read once for all rows
        self.fields["quantity"].choices = [("", "–"), *analysis_quantities()]
        counted = [kind.title for kind in CRITERION_KINDS.values() if kind.unit == ""]
        self.fields["limit"].help_text = f"In the unit of the quantity; for “{'”, “'.join(counted)}” a number of drops."
        for key, (kinds, parameter) in parameters().items():
            self.fields[f"p_{key}"] = field = _parameter_field(kinds, parameter)
            field.widget.attrs["data-kinds"] = " ".join(kind.key for kind in kinds)

    @property
    def is_blank(self):
        return not any(self[name].value() for name in ("kind", "quantity", "limit", "wording"))

    def clean(self):
        data = super().clean()
        for name in NEEDED:
            if not self.is_blank and name not in self.errors and data.get(name) in (None, ""):
                self.add_error(name, f"{self.fields[name].label} is missing.")
        return data

    def criterion(self):
        """The dict that the action takes."""
        data = {name: self.cleaned_data[name] for name in FIELDS}
        data["dose"] = data["dose"] or 0.0
        data["side"] = data["side"] or Criterion._meta.get_field("side").default
        data["role"] = data["role"] or Criterion._meta.get_field("role").default
        given = {key: self.cleaned_data[f"p_{key}"] for key in parameters()}
        data["parameters"] = {key: value for key, value in given.items() if value not in (None, "")}
        return data


def analysis_quantities():
    return [(key, quantity.label) for key, quantity in analysis.QUANTITIES.items()]


REVISION = fields_of(CriterionRevision, "fixed_on", "when_inconclusive")
RevisionForm = form_of(CriterionRevision, **REVISION)
SetForm = form_of(CriterionSet, "code", "title", "project", **REVISION)


def listing(request):
    rows = visible(CriterionSet.objects.select_related("project"), request.user).annotate(
        n_revisions=Count("revisions", distinct=True), n_issued=Count("revisions__qualifications", distinct=True),
        newest=Max("revisions__number"),
    )  # fmt: skip
    return render(request, "labrecords/specifications/list.html", {"rows": rows})


def one(request, code):
    found = find(CriterionSet, code, by=request.user)
    revisions = found.revisions.select_related("created_by").prefetch_related("criteria__liquid").order_by("-number")
    shown = [
        {"revision": revision, "criteria": [_in_words(row) for row in revision.criteria.all()]}
        for revision in revisions
    ]
    return render(request, "labrecords/specifications/page.html", {"set": found, "revisions": shown})


def _in_words(row):
    """The criterion in the words that a report prints, with the rule's own numbers."""
    kind = CRITERION_KINDS[row.kind]
    try:
        requirement = analysis.judge([record_for(row)], []).outcomes[0].requirement
    except ValueError as problem:
        requirement = str(problem)
    numbers = [(item.label, row.parameters.get(item.key, item.default), item.unit) for item in kind.parameters]
    return {"row": row, "requirement": requirement, "kind": kind, "numbers": numbers}


def new(request):
    head = offered(SetForm(request.POST or None, initial={"fixed_on": timezone.localdate()}), request.user)
    return _write(request, head, criteria.create, title="New specification", rows=[], back=None)


def revise(request, code):
    found = find(CriterionSet, code, by=request.user)
    last = found.revisions.prefetch_related("criteria").order_by("-number").first()
    head = RevisionForm(
        request.POST or None, initial={"fixed_on": timezone.localdate(), "when_inconclusive": last.when_inconclusive}
    )
    head.fields["why"] = forms.CharField(
        label="What changed and why", max_length=300, widget=forms.Textarea(attrs={"rows": 2})
    )
    return _write(
        request,
        head,
        criteria.revise,
        title=f"Revise {found}",
        rows=last.criteria.all(),
        back=found,
        criterion_set=found,
    )


def _write(request, head, action, *, title, rows, back, **details):
    forms_ = _row_forms(request, rows)
    if request.method == "POST" and "more" not in request.POST:
        made = _stored(request.user, head, forms_, action, details)
        if made:
            messages.success(request, f"{made} is fixed.")
            return redirect("specification", made.criterion_set.code)
    context = {"head": head, "rows": forms_, "title": title, "back": back, "kinds": CRITERION_KINDS.values()}
    is_refused = request.method == "POST" and "more" not in request.POST
    return render(request, "labrecords/specifications/write.html", context, status=400 if is_refused else 200)


def _row_forms(request, rows):
    liquids = [(row.pk, str(row)) for row in ChallengeLiquid.objects.all()]
    if request.method == "POST":
        sent = request.POST.get("rows", "0")
        count = min(int(sent) if sent.isdecimal() else 0, MOST_ROWS) + (SPARE_ROWS if "more" in request.POST else 0)
        return [CriterionForm(request.POST, prefix=f"c{index}", liquids=liquids) for index in range(count)]
    first = [_initial(row) for row in rows]
    spare = [{"label": f"C{number}"} for number in range(len(first) + 1, len(first) + 1 + SPARE_ROWS)]
    return [
        CriterionForm(initial=values, prefix=f"c{index}", liquids=liquids)
        for index, values in enumerate([*first, *spare])
    ]


def _initial(row):
    values = {name: getattr(row, name) for name in FIELDS} | {
        f"p_{key}": value for key, value in row.parameters.items()
    }
    values["liquid"] = row.liquid_id
    return {key: f"{value:.10g}" if isinstance(value, float) else value for key, value in values.items()}


def _stored(by, head, rows, action, details):
    filled = [row for row in rows if not row.is_blank]
    # Every form says what is wrong with it, not only the first.
    if False in [head.is_valid(), *[row.is_valid() for row in filled]]:
        return None
    try:
        return action(by=by, **head.cleaned_data, **details, criteria=[row.criterion() for row in filled])
    except Refusal as refusal:
        head.add_error(refusal.field if refusal.field in head.fields else None, str(refusal))
        return None


urlpatterns = [
    path("specifications/", listing, name="specifications"),
    path("specifications/new/", new, name="specification-new"),
    path("specifications/<str:code>/", one, name="specification"),
    path("specifications/<str:code>/revise/", revise, name="specification-revise"),
]
