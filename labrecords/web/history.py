"""Who changed what of a record, when and why: beside each other on one page, and the record as it was at a moment."""

from django import forms
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.text import slugify

from analysis import QUANTITIES
from labrecords import entry
from labrecords import history as trail
from labrecords.errors import Refusal
from labrecords.exchange.record_copy import copy_of
from labrecords.models import Batch, Coupon, CriterionSet, Qualification, Reading, Recipe, TestRun
from labrecords.visibility import sight_of
from labrecords.web import grid

PAGE = 50
# Who entered a part stands in its own history; which record it belongs to is said above the table.
APART = ("id", "created_at", "created_by", "is_current")

# Records that have a page of their own.
PAGES = {
    Batch: "batch",
    Coupon: "coupon",
    CriterionSet: "specification",
    Qualification: "qualification",
    Recipe: "recipe",
    TestRun: "run",
}


def history(by, row):
    """One entry an event, oldest first: when, who, why, and what changed as (label, before, after)."""
    names, sight = trail.people(), sight_of(by)
    return [shown(change, names, sight, label=_plain_label, with_entry=False) for change in trail.changes(row)]


def shown(change, names, sight, *, label=trail.label_of, with_entry=True):
    """A change in words; `with_entry`: also what the first entry filled."""
    fields = {item.name: item for item in trail.tracked_fields(change.event.pgh_tracked_model)}
    told = change.values if with_entry or not change.is_entry else {}
    return {
        **said(change.event, names),
        "event": change.event,
        "when": change.at,
        "on": change.at.isoformat(),
        "what": "entered" if change.is_entry else "changed",
        "changes": [
            (label(item), trail.in_words(item, change.earlier, sight), trail.in_words(item, change.event, sight))
            for item in (fields[name] for name in told)
        ],
    }


def _plain_label(item):
    return item.verbose_name


def said(event, names):
    """When, who and why of an event, in words."""
    context = event.pgh_context.metadata
    who = names.get(context["who"], context["who"])
    return {"moment": trail.moment(event.pgh_created_at), "who": who, "why": context["why"]}


def own_page(row):
    """Address of the record's own page; nothing where it has none."""
    return reverse(PAGES[type(row)], args=[trail.name_of(row)]) if type(row) in PAGES else ""


class AsOf(forms.Form):
    on = forms.CharField(
        label="The record as it was on",
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local", "step": "1"}, format="%Y-%m-%dT%H:%M:%S"),
    )


def page(request, noun, name):
    row = trail.found(request.user, noun, name)
    names, sight = trail.people(), sight_of(request.user)
    told = Paginator(trail.changes(row)[::-1], PAGE).get_page(request.GET.get("page"))
    context = {
        "row": row,
        "noun": str(row._meta.verbose_name),
        "back": own_page(row),
        "page": told,
        "entries": [shown(change, names, sight) for change in told],
        "not_kept": trail.untracked_labels(type(row)),
        "parts": _parts(request.user, row),
        "readings": readings_beside(row, names) if isinstance(row, TestRun) else [],
        "form": AsOf(initial={"on": timezone.localtime()}),
    }
    status = 200
    if "on" in request.GET:
        context["form"] = AsOf(request.GET)
        try:
            on = entry.moment(request.GET["on"], field="on", label="As it was on")
            trail.check_moment(on)
            context |= {
                "then": then(request.user, row, on, names),
                "form": AsOf(initial={"on": timezone.localtime(on)}),
            }
        except Refusal as refusal:
            context["form"].add_error("on", str(refusal))
            status = refusal.status
    return render(request, "labrecords/history/page.html", context, status=status)


def then(by, row, on, names):
    """The record at a moment in words; without fields where it did not exist yet."""
    event, sight = trail.as_of(row, on), sight_of(by)
    told = {"on": trail.moment(on), "event": event, "fields": [], "parts": []}
    if event is not None:
        told["since"] = said(event, names)
        told["fields"] = [
            (trail.label_of(item), trail.in_words(item, event, sight))
            for item in trail.tracked_fields(type(row))
            if not item.primary_key
        ]
        told["parts"] = [
            _table(row, model, events, sight) for model, events in trail.parts_as_of(by, row, on).items() if events
        ]
    return told


def _table(row, model, events, sight):
    """Parts as they stood, one a line; a column that all of them leave empty is left out."""
    fields = [
        item
        for item in trail.tracked_fields(model)
        if item.name not in APART
        and item.related_model is not type(row)
        and any(getattr(event, item.attname) not in (None, "", {}) for event in events)
    ]
    return {
        "title": _plural(model),
        "labels": [trail.label_of(item) for item in fields],
        "lines": [[trail.in_words(item, event, sight) for item in fields] for event in events],
    }


def _parts(by, row):
    """Rows that belong to this one and have a history of their own, by kind."""
    # Readings have a table of their own.
    found = {model: list(rows[:PAGE]) for model, rows in trail.parts(by, row) if model is not Reading}
    return [{"title": _plural(model), "rows": rows} for model, rows in found.items() if rows]


def _plural(model):
    return str(model._meta.verbose_name_plural).capitalize()


# ---- readings of a run -------------------------------------------------------------------------------


def readings_beside(run, names):
    """Each reading that was ever taken: the original, every correction beside it, and whether it counts."""
    rows = list(run.readings.select_related("created_by", "excluded_by"))
    told = _told_of(rows, names)
    later = {row.replaces_id: row for row in rows if row.replaces_id}
    lines = []
    for first in sorted((row for row in rows if row.replaces_id is None), key=_place):
        chain = [first]
        while chain[-1].pk in later:
            chain.append(later[chain[-1].pk])
        lines.append(
            {
                "reading": first,
                "quantity": QUANTITIES[first.quantity],
                "original": told[first.pk][0],
                "amended": [told[row.pk][0] for row in chain[1:]],
                "marks": [mark for row in chain for mark in told[row.pk][1:]],
                "now": chain[-1],
            }
        )
    return lines


def _place(row):
    return (*grid.natural((row.position, str(row.drop), row.direction)), row.quantity)


def _told_of(rows, names):
    """Reading -> its entry and then every time it was left out or taken back in, each with who, when and why."""
    events = Reading.pgh_event_models["insert"].objects.filter(pgh_obj__in=[row.pk for row in rows])
    told, out = {}, {}
    for event in events.select_related("pgh_context").order_by("pgh_id"):
        is_out, number, line = event.excluded_by_id is not None, event.pgh_obj_id, said(event, names)
        if number not in told:
            told[number] = [line | {"text": trail.reading_in_words(event), "typed": event.typed}]
        elif is_out != out[number]:
            told[number].append(line | {"text": "left out" if is_out else "taken back in"})
        out[number] = is_out
    return told


def copy(request, noun, name):
    """The whole record to take away, in open formats."""
    row = trail.found(request.user, noun, name)
    headers = {
        "Content-Disposition": f'attachment; filename="{slugify(f"{noun}-{trail.name_of(row)}")}.zip"',
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "private, no-store",
    }
    return HttpResponse(copy_of(request.user, row), content_type="application/zip", headers=headers)


urlpatterns = [
    path("history/<str:noun>/<path:name>/", page, name="history"),
    path("copies/<str:noun>/<path:name>/", copy, name="record-copy"),
]
