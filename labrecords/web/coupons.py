"""Coupons: found, logged, split, moved, amended, and one coupon's whole life."""

import re

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.shortcuts import redirect, render
from django.urls import path

from labrecords.actions import coupons
from labrecords.errors import Refusal
from labrecords.models import Analysis, Coupon, ProcessRecord
from labrecords.models.coupon import MOVES, STATES
from labrecords.visibility import visible
from labrecords.web.forms import (
    WholeField,
    accepted,
    amend_page,
    fields_of,
    form_of,
    offered,
    reason_field,
)
from labrecords.web.history import history

SIZES = ("length_mm", "width_mm", "exposed_area_mm2")


def listed(request):
    words, state = request.GET.get("q", ""), request.GET.get("state", "")
    found = visible(Coupon.objects.found_by(words), request.user).select_related("lot").order_by("-number")
    if state in STATES:
        found = found.filter(state=state)
    page = Paginator(found, 50).get_page(request.GET.get("page"))
    explained = "" if page.object_list else _explained(request.user, words)
    context = {"page": page, "words": words, "state": state, "states": STATES, "explained": explained}
    return render(request, "labrecords/coupons/list.html", context)


def _explained(by, words):
    """Why a code that was typed found nothing."""
    if not re.fullmatch(r"\s*(?=\S*\d)\S{4,60}\s*", words):
        return ""
    try:
        coupons.find(words, by=by)
    except Refusal as refusal:
        return str(refusal)
    return "A coupon with this code is there, but not in this state."


class Words(forms.CharField):
    """Several short texts, one a line or parted by commas."""

    widget = forms.Textarea(attrs={"rows": 3})

    def to_python(self, value):
        text = super().to_python(value)
        self.run_validators(text)  # of the text: a NUL cannot be stored
        return [word.strip() for word in re.split(r"[\n,;]", text) if word.strip()]


class LogForm(forms.Form):
    count = WholeField(label="Number of coupons", initial=1)
    marks = Words(label="Marks on the coupons", required=False, help_text="One a coupon, in order; by line or comma.")
    positions = Words(label="Positions in the sheet", required=False, help_text="One a coupon, in order.")

    field_order = ["lot", "count", "marks", "positions"]

    def clean(self):
        count = self.cleaned_data.get("count")
        for name in ("marks", "positions"):
            given = len(self.cleaned_data.get(name) or [])
            if count is not None and given > count:
                self.add_error(name, f"{self.fields[name].label}: {given} are more than {count} coupons.")


_logged = ("lot", "project", *SIZES, "orientation", "marked_face", "place", "remark")
CouponLog = form_of(Coupon, *_logged, base=LogForm)


def log(request):
    form = offered(CouponLog(request.POST or None, initial={"lot": request.GET.get("lot")}), request.user)
    made = accepted(form, coupons.log, by=request.user) if request.method == "POST" else None
    if not made:
        return render(request, "labrecords/coupons/log.html", {"form": form})
    codes = made[0].code if len(made) == 1 else f"{len(made)} coupons, {made[0].code} to {made[-1].code}"
    messages.success(request, f"Logged: {codes}.")
    return redirect("coupon", made[0].code) if len(made) == 1 else redirect("coupons")


def life(request, code):
    coupon = coupons.find(code, by=request.user)
    analysed = Prefetch("analyses", Analysis.objects.filter(is_current=True), to_attr="current")
    done = visible(ProcessRecord.objects.filter(processed__coupon=coupon), request.user)
    done = done.select_related("batch", "step__revision__recipe", "operator").prefetch_related(
        "lots__bath_lot", "lots__lubricant_lot__lubricant", "deviations"
    )
    context = {
        "coupon": coupon,
        "children": visible(coupon.children.all(), request.user),
        "memberships": visible(coupon.memberships.select_related("batch__recipe_revision__recipe"), request.user),
        "processes": done,
        "hazards": list(dict.fromkeys(tag for row in done for tag in row.step.declaration.hazards)),
        "masses": {row.process_id: row for row in coupon.processed.all()},
        "runs": coupon.runs.with_names().prefetch_related(analysed),
        "history": history(request.user, coupon)[::-1],
        "moves": MOVES[coupon.state],
    }
    return render(request, "labrecords/coupons/life.html", context)


PIECE = fields_of(Coupon, "position", "mark", *SIZES)
for _field in PIECE.values():
    _field.required = False
PieceForm = type("PieceForm", (forms.Form,), PIECE)
SharedSize = form_of(Coupon, *SIZES, consume=forms.BooleanField(
    label="The parent is used up", required=False, initial=True))  # fmt: skip


def split(request, code):
    coupon = coupons.find(code, by=request.user)
    typed = request.POST or None
    shared, count = (
        SharedSize(typed, prefix="all"),
        CountForm(typed or {"pieces": request.GET.get("pieces", "2")}),
    )
    number = count.cleaned_data["pieces"] if count.is_valid() else 2
    pieces = [PieceForm(typed, prefix=f"piece-{index}") for index in range(1, number + 1)]
    context = {"coupon": coupon, "shared": shared, "count": count, "pieces": pieces}
    if request.method == "POST" and request.POST.get("do") == "split" and _all_valid(count, shared, *pieces):
        children = _split(request, coupon, shared, pieces, count)
        if children:
            messages.success(request, f"{coupon.code} was split into {len(children)} pieces.")
            return redirect("coupon", coupon.code)
    return render(request, "labrecords/coupons/split.html", context)


class CountForm(forms.Form):
    pieces = WholeField(label="Number of pieces")

    def clean_pieces(self):
        pieces = self.cleaned_data["pieces"]
        if not 1 <= pieces <= 100:
            raise forms.ValidationError(f"Number of pieces: {pieces} is not between 1 and 100.")
        return pieces


def _all_valid(*all_forms):
    return False not in [form.is_valid() for form in all_forms]  # each form shows its own refusals


def _split(request, coupon, shared, pieces, count):
    """Children of the pieces; a size that a piece leaves empty is the one for all."""
    sizes = {name: shared.cleaned_data[name] for name in SIZES}
    rows = [
        sizes | {key: value for key, value in piece.cleaned_data.items() if value not in (None, "")} for piece in pieces
    ]
    try:
        return coupons.split(by=request.user, coupon=coupon, pieces=rows, consume=shared.cleaned_data["consume"])
    except Refusal as refusal:
        count.add_error(None, str(refusal))
        return None


def move(request, code):
    coupon = coupons.find(code, by=request.user)
    moves = [(state, label) for state, label in STATES.items() if state in MOVES[coupon.state]]
    state = forms.ChoiceField(label="New state", choices=moves, initial=request.GET.get("state"))
    form = type("MoveForm", (forms.Form,), {"state": state, "why": reason_field()})(request.POST or None)
    if request.method == "POST" and accepted(form, coupons.move, by=request.user, coupon=coupon):
        messages.success(request, f"{coupon.code} is now {STATES[form.cleaned_data['state']]}.")
        return redirect("coupon", coupon.code)
    return render(request, "labrecords/coupons/move.html", {"coupon": coupon, "form": form, "offered": moves})


def amend(request, code):
    return amend_page(request, coupons.find(code, by=request.user), coupons.amend, coupons.AMENDABLE)


urlpatterns = [
    path("coupons/", listed, name="coupons"),
    path("coupons/log/", log, name="coupon-log"),
    path("coupons/<str:code>/", life, name="coupon"),
    path("coupons/<str:code>/split/", split, name="coupon-split"),
    path("coupons/<str:code>/move/", move, name="coupon-move"),
    path("coupons/<str:code>/amend/", amend, name="coupon-amend"),
]
