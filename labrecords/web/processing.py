"""A batch processed step by step: started, finished with actual values beside the planned ones, or entered later."""

from datetime import timedelta

from django import forms
from django.contrib import messages
from django.db.models import Q
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone

from analysis import TREATED
from labrecords.actions import processing
from labrecords.actions.rows import find
from labrecords.errors import Refusal
from labrecords.models import Batch, BathLot, Coupon, LubricantLot, ProcessedCoupon
from labrecords.models.coupon import CLOSED
from labrecords.web.actual_values import ActualForm
from labrecords.web.forms import MomentField, fields_of

# Lots that expired longer ago than this are not offered: a step entered later than that is an exception.
LATE_ENTRY = timedelta(days=30)


class Lots(forms.ModelMultipleChoiceField):
    """Lots to tick, each with the day on which it ends."""

    widget = forms.CheckboxSelectMultiple

    def label_from_instance(self, lot):
        if lot.expires_on is None:
            return str(lot)
        return f"{lot}, {'expired' if lot.expires_on < timezone.localdate() else 'until'} {lot.expires_on}"


class StartForm(forms.Form):
    started_at = MomentField(label="Started at", required=False, help_text="Empty: now.")
    bath_lots = Lots(BathLot.objects.none(), label="Baths used", required=False)
    lubricant_lots = Lots(LubricantLot.objects.none(), label="Lubricant lots used", required=False)

    def __init__(self, *args, step, **kwargs):
        super().__init__(*args, **kwargs)
        offered = Q(expires_on__isnull=True) | Q(expires_on__gte=timezone.localdate() - LATE_ENTRY)
        self.fields["bath_lots"].queryset = BathLot.objects.filter(offered).order_by("-prepared_on")
        lots = LubricantLot.objects.filter(offered).select_related("lubricant").order_by("-prepared_on")
        self.fields["lubricant_lots"].queryset = lots
        for name in ("bath_lots", "lubricant_lots"):
            if not self.fields[name].queryset.exists() or (name == "lubricant_lots" and not step.declaration.infuses):
                del self.fields[name]


class CouponRow(forms.Form):
    """One coupon in a step: ticked or not, place in the rack, masses."""

    is_in = forms.BooleanField(label="In this step", required=False, initial=True)

    def __init__(self, *args, coupon, **kwargs):
        super().__init__(*args, prefix=f"coupon-{coupon.pk}", **kwargs)
        self.coupon = coupon
        self.fields |= fields_of(ProcessedCoupon, "rack_position", "mass_before_mg", "mass_after_mg")

    @property
    def masses(self):
        return self.cleaned_data["mass_before_mg"], self.cleaned_data["mass_after_mg"]


def step(request, code, order):
    batch, step = _found(request, code, order)
    later, do = "later" in request.GET, request.POST.get("do", "")
    start = Start(request.POST if do == "start" else None, batch, step, later)
    running = [
        Running(request.POST if do == f"finish-{row.pk}" else None, row) for row in _processes(batch, step, True)
    ]
    for part in (start, *running):
        if part.is_posted and part.store(request.user):
            messages.success(request, part.said)
            return redirect("batch-step", batch.code, step.order)
    context = {"batch": batch, "step": step, "later": later, "start": start, "running": running}
    context |= {"done": _processes(batch, step, False), "steps": batch.recipe_revision.steps.all()}
    return render(request, "labrecords/processing/step.html", context)


class Start:
    """The part of the page that starts a step, or enters one that is over already."""

    def __init__(self, data, batch, step, later):
        self.batch, self.step, self.later, self.is_posted = batch, step, later, data is not None
        self.said = f"Step {step.order} was {'entered' if later else 'started'}."
        self.form = StartForm(data, step=step)
        self.actual = ActualForm(data, step=step) if later else None
        waiting = Coupon.objects.filter(memberships__batch=batch, memberships__role=TREATED)
        waiting = waiting.exclude(processed__process__in=batch.process_records.filter(step=step))
        self.rows = [CouponRow(data, coupon=coupon) for coupon in waiting.exclude(state__in=CLOSED)]

    def store(self, by):
        if False in [form.is_valid() for form in (self.form, *self.rows, *filter(None, [self.actual]))]:
            return None
        rows = [row for row in self.rows if row.cleaned_data["is_in"]]
        lots = {key: list(value) for key, value in self.form.cleaned_data.items() if key.endswith("_lots")}
        try:
            return processing.record(
                by=by,
                batch=self.batch,
                step=self.step,
                coupons=[row.coupon for row in rows],
                started_at=self.form.cleaned_data["started_at"] or timezone.now(),
                masses={row.coupon.code: row.masses for row in rows},
                rack={row.coupon.code: row.cleaned_data["rack_position"] for row in rows},
                **lots,
                **self._ended(),
            )
        except Refusal as refusal:
            self._show(refusal)
            return None

    def _ended(self):
        if not self.later:
            return {}
        ended = self.actual.cleaned_data["finished_at"] or timezone.now()
        return {"finished_at": ended, "actual": self.actual.actual, "reasons": self.actual.reasons,
                "remark": self.actual.cleaned_data["remark"]}  # fmt: skip

    def _show(self, refusal):
        if self.actual and refusal.field not in self.form.fields:
            self.actual.show(refusal)
        else:
            self.form.add_error(refusal.field if refusal.field in self.form.fields else None, str(refusal))


class Running:
    """The part of the page that finishes a step that is running."""

    def __init__(self, data, process):
        self.process, self.is_posted = process, data is not None
        self.said = f"Step {process.step.order} was finished."
        self.actual = ActualForm(data, step=process.step, prefix=f"end-{process.pk}")
        self.actual.fields["why"] = forms.CharField(
            label="Why is a stored mass changed?", required=False, max_length=300, help_text="Only when one is changed."
        )
        self.rows = [CouponRow(data, coupon=row.coupon, initial=_weighed(row)) for row in process.processed.all()]

    @property
    def minutes(self):
        return int((timezone.now() - self.process.started_at).total_seconds() // 60)

    def store(self, by):
        if False in [form.is_valid() for form in (self.actual, *self.rows)]:
            return None
        why = self.actual.cleaned_data["why"].strip()
        try:
            return processing.finish(
                by=by,
                **({"why": why} if why else {}),
                process=self.process,
                finished_at=self.actual.cleaned_data["finished_at"] or timezone.now(),
                actual=self.actual.actual,
                reasons=self.actual.reasons,
                masses={row.coupon.code: row.masses for row in self.rows},
                remark=self.actual.cleaned_data["remark"],
            )
        except Refusal as refusal:
            self.actual.show(refusal)
            return None


def mark(request, code, order, key):
    """Whether a value that is being typed lies within its tolerance; when it does not, the field of the reason."""
    _, step = _found(request, code, order)
    item = next((item for item in step.declaration.fields if item.key == key), None)
    if item is None:
        raise Http404
    form = ActualForm(request.GET, step=step, prefix=request.GET.get("prefix") or None)
    return render(request, "labrecords/processing/_mark.html", {"row": form.row(item)})


def _found(request, code, order):
    batch = find(Batch, code, by=request.user)
    return batch, get_object_or_404(batch.recipe_revision.steps.select_related("revision__recipe"), order=order)


def _processes(batch, step, is_running):
    rows = batch.process_records.filter(step=step, finished_at__isnull=is_running)
    return rows.select_related("batch", "step__revision__recipe", "operator").prefetch_related(
        "processed__coupon", "lots__bath_lot", "lots__lubricant_lot__lubricant", "deviations"
    )


def _weighed(row):
    return {
        "rack_position": row.rack_position,
        "mass_before_mg": row.mass_before_mg,
        "mass_after_mg": row.mass_after_mg,
    }


urlpatterns = [
    path("batches/<path:code>/step/<int:order>/", step, name="batch-step"),
    path("batches/<path:code>/step/<int:order>/mark/<str:key>/", mark, name="batch-step-mark"),
]
