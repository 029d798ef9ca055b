"""Readings of a run: saved from the grid, left out of the numbers, taken back in."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.urls import path, reverse
from django.views.decorators.http import require_POST

from labrecords import entry
from labrecords.actions import runs
from labrecords.errors import Refusal, SavedByOther
from labrecords.models import Reading
from labrecords.visibility import visible
from labrecords.web import grid
from labrecords.web.runs import loaded, page

NOUN = "runs"


@require_POST
def save(request, code):
    """Store what was typed; a refusal brings the same grid back, with what somebody else saved beside it."""
    run, sheet = loaded(request, code), None
    sheet = grid.of_post(run, request.POST)
    if "more" in request.POST:
        return _more_rows(request, run, sheet)
    before = request.POST.get("version", "")
    reason = {"why": request.POST["why"]} if request.POST.get("why", "").strip() else {}
    try:
        version = entry.whole(before, field="version", label="Version")
        runs.record(by=request.user, run=run, readings=sheet.typed(), version=version, **reason)
    except Refusal as refusal:
        return _refused(request, code, sheet, refusal)
    return _saved(request, code, before)


def _refused(request, code, sheet, refusal):
    run = loaded(request, code)
    if isinstance(refusal, SavedByOther):
        sheet.lay_beside(run.readings.current(), refusal.details["who"])
    return page(request, run, sheet, refusal, status=refusal.status)


def _saved(request, code, before):
    if request.POST.get("then") == "complete":
        try:
            runs.complete(by=request.user, run=loaded(request, code))
        except Refusal as refusal:
            return page(request, loaded(request, code), said=refusal, saved=before, status=refusal.status)
    messages.success(request, "Run complete." if request.POST.get("then") == "complete" else "Readings saved.")
    if request.htmx:
        return page(request, loaded(request, code), saved=before)
    return redirect(f"{reverse('run', args=[code])}?saved={before}")


def _more_rows(request, run, sheet):
    """Without JavaScript: the same grid with further rows; nothing is stored."""
    try:
        count = entry.whole(
            request.POST.get("more-positions"), field="more", label="Further positions", low=1, high=100
        )
        drops = entry.whole(request.POST.get("more-drops"), field="more", label="Drops each", low=1, high=20)
    except Refusal as refusal:
        return page(request, run, sheet, refusal, status=refusal.status)
    sheet.add_empty(count or 1, drops or 1, request.POST.get("more-direction", "").strip())
    return page(request, run, sheet)


def _switch(action, done):
    """A view that leaves a reading out of the numbers, or takes it back in."""

    @require_POST
    def view(request, pk):
        reading = get_object_or_404(visible(Reading.objects.select_related("run"), request.user), pk=pk)
        try:
            action(by=request.user, reading=reading, why=request.POST.get("why", ""))
        except Refusal as refusal:
            return page(request, loaded(request, reading.run.code), said=refusal, status=refusal.status)
        messages.success(request, done)
        return redirect(f"{reverse('run', args=[reading.run.code])}#readings")

    return view


urlpatterns = [
    path("runs/<str:code>/save/", save, name="run-save"),
    path(
        "readings/<int:pk>/exclude/",
        _switch(runs.exclude, "Reading left out of the numbers."),
        name="reading-exclude",
    ),
    path("readings/<int:pk>/include/", _switch(runs.include, "Reading taken back in."), name="reading-include"),
]
