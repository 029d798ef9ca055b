"""Batches: list, new, and the page of one: members, treatment, deviations, results."""

import json
from functools import cached_property, lru_cache
from types import SimpleNamespace
from urllib.parse import urlencode

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Max, Q
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_POST

import analysis
from analysis import CONTROL, HOLDS, REFERENCE, ROLES, TREATED, quantity_of
from labrecords.actions import batches, processing
from labrecords.actions.evidence import Stored
from labrecords.actions.evidence.findings import facts
from labrecords.actions.rows import find
from labrecords.errors import Refusal
from labrecords.models import Analysis, Batch, Coupon, Deviation, RecipeRevision, TestRun
from labrecords.models.assessment import OPEN
from labrecords.reports import figures, svg
from labrecords.trail import recorded
from labrecords.visibility import visible
from labrecords.web import results
from labrecords.web.forms import accepted, amend_page, form_of, offered
from labrecords.web.picking import CouponsField

PAGE = 50
LISTED = 200  # coupons offered for ticking; any other is named by code or mark
NOTHING_JUDGED = analysis.Judgement("", ())


def listing(request):
    words = request.GET.get("q", "")
    found = visible(Batch.objects.select_related("recipe_revision__recipe", "lot", "project"), request.user)
    found = found.order_by("-id")
    for word in words.split():
        found = found.filter(
            Q(code__icontains=word) | Q(title__icontains=word) | Q(recipe_revision__recipe__code__icontains=word)
            | Q(lot__code__icontains=word) | Q(project__code__icontains=word)
        )  # fmt: skip
    found = found.annotate(
        n_treated=Count("members", filter=Q(members__role=TREATED), distinct=True),
        last_report=Max("qualifications__report_number"),
    )
    page = Paginator(found, PAGE).get_page(request.GET.get("page"))
    return render(request, "labrecords/batches/list.html", {"page": page, "words": words})


class NewBatch(
    form_of(
        Batch, "code", "title", "recipe_revision", "lot", "treatment", "project", "sampling", "remark",
        treated=CouponsField(label="Treated coupons", required=False),
        control=CouponsField(label="Untreated control coupons", required=False),
        reference=CouponsField(label="Reference coupons", required=False),
    )
):  # fmt: skip
    """A batch with its coupons: named in the fields, ticked in the list, or both."""

    def __init__(self, *args, **options):
        super().__init__(*args, **options)
        revisions = RecipeRevision.objects.select_related("recipe").order_by("recipe__code", "-number")
        self.fields["recipe_revision"].queryset = revisions
        self.fields["treated"].is_needed = True
        self.fields["sampling"].help_text = "How the coupons were chosen; a report to a customer states it."

    @property
    def seen(self):
        return visible(Coupon.objects.all(), self.fields["treated"].by)

    def ticked(self, role):
        return self.data.getlist(f"pick-{role}") if self.is_bound else []

    def clean(self):
        data = super().clean()
        for role in ROLES:
            named = {row.pk: row for row in data.get(role, [])}
            numbers = [key for key in self.ticked(role) if key.isdecimal()]
            data[role] = list((named | self.seen.in_bulk(numbers)).values())
        if not data["treated"] and "treated" not in self.errors:
            self.add_error("treated", "Treated coupons are missing.")
        return data


def new(request):
    form = offered(NewBatch(request.POST or None, initial=request.GET.dict()), request.user)
    made = accepted(form, batches.form, by=request.user) if request.method == "POST" else None
    if made:
        messages.success(request, f"Batch {made} formed.")
        return redirect("batch", made.code)
    ticked = {role: set(form.ticked(role)) for role in ROLES}
    free = form.seen.open().filter(memberships=None).select_related("lot").order_by("-number")[:LISTED]
    rows = [(row, [(role, label, str(row.pk) in ticked[role]) for role, label in ROLES.items()]) for row in free]
    context = {"form": form, "offered": rows, "roles": ROLES, "is_ticked": any(ticked.values())}
    return render(request, "labrecords/batches/new.html", context, status=400 if form.errors else 200)


# ---- one batch -------------------------------------------------------------------------------------------------


class DeviationForm(form_of(Deviation, "what", "reason", "impact")):
    """What was not as planned."""


class JoinForm(forms.Form):
    coupon = CouponsField(label="Further coupons")
    role = forms.ChoiceField(choices=list(ROLES.items()))
    why = forms.CharField(label="Why do they join?", max_length=200)


def loaded(request, code):
    return find(Batch, code, by=request.user)


class Shown(Stored):
    """The batch as the report takes it, but each run's analysis as it is stored and shown on the run's own page."""

    @cached_property
    def all_runs(self):
        return list(TestRun.objects.filter(coupon__in=self.coupons).only("code", "state", "coupon"))

    @cached_property
    def results(self):
        rows = Analysis.objects.filter(run__coupon__in=self.coupons, is_current=True).exclude(run__state="draft")
        parts = rows.order_by("run_id").values_list(
            "content__run", "content__coupon", "content__pairs", "content__checks"
        )
        return {
            run: SimpleNamespace(coupon=coupon, pairs=pairs, checks=[SimpleNamespace(**check) for check in checks])
            for run, coupon, pairs, checks in parts
        }


def page(request, batch, status=200, **open_forms):
    stored = Shown(batch, None)
    found = facts(stored, NOTHING_JUDGED)
    context = {
        "batch": batch,
        "members": stored.members,
        "roles": _by_role(stored),
        "steps": _steps(stored),
        "deviations": batch.deviations.select_related("created_by", "process__step"),
        "groups": [_group(group, batch) for group in found["groups"]],
        "checks": [_told(row) for row in found["checks"] if row["told"]],
        "n_checks": sum(row["holds"] for row in found["checks"]),
        "courses": [_drawn("dose_course", json.dumps(item)) for item in found["courses"]],
        "drafts": [run for run in stored.all_runs if run.state == "draft"],
        "qualifications": batch.qualifications.listed().select_related("criterion_revision__criterion_set"),
        "assessments": batch.assessments.filter(state__in=OPEN).select_related("criterion_revision__criterion_set"),
        "deviation_form": DeviationForm(),
        "join_form": JoinForm(),
    }
    return render(request, "labrecords/batches/page.html", context | open_forms, status=status)


def batch_page(request, code):
    return page(request, loaded(request, code))


def _by_role(stored):
    """Members of each role, with what was done to each and how many runs it has."""
    runs = {}
    for run in stored.all_runs:
        runs.setdefault(run.coupon_id, []).append(run)
    done = {}
    for process in stored.processes:
        for row in process.processed.all():
            done.setdefault(row.coupon_id, []).append(process)
    return [
        (label, [
            {"coupon": member.coupon, "runs": runs.get(member.coupon_id, []),
             "last": (done.get(member.coupon_id) or [None])[-1], "n_done": len(done.get(member.coupon_id, []))}
            for member in stored.members if member.role == role
        ])
        for role, label in ((TREATED, ROLES[TREATED]), (CONTROL, ROLES[CONTROL]), (REFERENCE, ROLES[REFERENCE]))
    ]  # fmt: skip


def _steps(stored):
    """Each step of the recipe with the records of what was done."""
    return [
        {"step": step, "records": [process for process in stored.processes if process.step_id == step.pk]}
        for step in stored.steps
    ]


@lru_cache(maxsize=500)
def _drawn(figure, data):
    """A figure as SVG; the same data are drawn once, for drawing is a third of a batch page's time."""
    item = json.loads(data)
    return svg.to_svg(getattr(figures, figure)(**item), item["title"])


def _group(group, batch):
    """A group's statistics, coupon values and counts as text."""
    # One address for the whole group: to look up each of a hundred would be a tenth of the page's time.
    before, after = reverse("batch-why", args=[batch.code, "-"])[:-2], f"/?{urlencode({'group': group['key']})}"
    rows = [
        row | {
            "text": results.amount(row["value"], row["decimals"], row["unit"], quantity_of(row["key"]).limit),
            "interval": results.interval(row),
            "between_text": results.amount(row["between"], row["decimals"], row["unit"]),
            "within_text": results.amount(row["within"], row["decimals"], row["unit"]),
            "why": before + row["key"] + after,
        }
        for row in group["rows"]
    ]  # fmt: skip
    decimals = [column["decimals"] for column in group["columns"]]
    coupons = [
        row | {"texts": [results.amount(value, places) for value, places in zip(row["values"], decimals, strict=True)]}
        for row in group["coupons"]
    ]
    drawn = [_drawn("readings_by_coupon", json.dumps(item)) for item in group["figures"]]
    further = [results.statistic(row) | {"why": before + row["key"] + after} for row in group["further"]]
    return group | {"rows": rows, "coupons": coupons, "further": further, "figures": drawn}


def _told(row):
    told = [item | {"tone": results.TONES[item["outcome"]]} for item in row["told"] if item["outcome"] != HOLDS]
    return row | {"told": told}


@require_POST
def add_deviation(request, code):
    batch, form = loaded(request, code), DeviationForm(request.POST)
    if accepted(form, processing.note_deviation, by=request.user, batch=batch):
        messages.success(request, "Deviation noted; the report prints it.")
        return redirect("batch", code)
    return page(request, batch, status=400, deviation_form=form)


@require_POST
def join(request, code):
    batch, form = loaded(request, code), offered(JoinForm(request.POST), request.user)
    if form.is_valid():
        try:
            _join_all(request.user, batch, **form.cleaned_data)
        except Refusal as refusal:
            form.add_error("coupon", str(refusal))
        else:
            messages.success(request, "The coupons belong to the batch now.")
            return redirect("batch", code)
    return page(request, batch, status=400, join_form=form)


def _join_all(by, batch, coupon, role, why):
    """All coupons or none."""
    with recorded(by.username, why):
        for row in coupon:
            batches.join(by=by, why=why, batch=batch, coupon=row, role=role)


def amend(request, code):
    return amend_page(request, find(Batch, code, by=request.user), batches.amend, batches.AMENDABLE)


urlpatterns = [
    path("batches/", listing, name="batches"),
    path("batches/new/", new, name="batch-new"),
    path("batches/<str:code>/", batch_page, name="batch"),
    path("batches/<str:code>/amend/", amend, name="batch-amend"),
    path("batches/<str:code>/deviation/", add_deviation, name="batch-deviation"),
    path("batches/<str:code>/join/", join, name="batch-join"),
]
