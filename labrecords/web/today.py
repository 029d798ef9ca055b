"""What needs attention today."""

from datetime import timedelta
from functools import partial

from django.db.models import Count, Exists, F, OuterRef, Q, Subquery
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone

from analysis import TREATED
from labrecords import access
from labrecords.actions import assessments
from labrecords.models import (
    Batch,
    BathLot,
    Calibration,
    Coupon,
    CriterionRevision,
    Instrument,
    Laboratory,
    LiquidLot,
    LubricantLot,
    MethodVersion,
    ProcessRecord,
    Qualification,
    RecipeRevision,
    SubstrateLot,
    TestRun,
)
from labrecords.models.assessment import OPEN
from labrecords.models.run import DRAFT
from labrecords.visibility import visible
from labrecords.web.assessments import WORDS
from labrecords.web.due import SOON_DAYS

MOST = 20  # rows a list; the page is for what is near
OVER_DAYS = 60  # lots that ended longer ago are no news


NOUN = None  # everybody comes in here, and is led on to what is open to the role
STARTS = {"today.look": "today", "qualifications.look": "qualifications", "laboratory.look": "laboratory"}


def today(request):
    start = next((name for verb, name in STARTS.items() if access.may(request.user, verb)), "sign-in")
    return _page(request) if start == "today" else redirect(start)


def _page(request):
    now, seen = timezone.now(), partial(visible, person=request.user)
    drafts = seen(TestRun.objects.with_names().filter(state=DRAFT))
    issued = seen(Qualification.objects.listed().select_related("batch", "criterion_revision__criterion_set"))
    context = {
        "running": _running(now, seen(ProcessRecord.objects.filter(finished_at=None))),
        "drafts": drafts.order_by("-observed_at")[:MOST],
        "lots": _lots(timezone.localdate()),
        "instruments": _calibrations(timezone.localdate()),
        "batches": _batches_to_qualify(seen(Batch.objects.all())),
        "qualifications": issued.order_by("-issued_at")[:8],
        "waiting": _waiting(request.user),
    }
    if not context["qualifications"]:
        context["first_day"] = _first_day()
    return render(request, "labrecords/today/today.html", context)


def _waiting(person):
    """(assessment, words of the step that this person may take)"""
    return [(row, WORDS[assessments.NEXT[row.state]]["button"]) for row in assessments.waiting_for(person)[:MOST]]


# What a lab makes before its first report, in this order; a line goes when there is one of it.
FIRST_DAY = [
    (Laboratory, "laboratory", "the lab's name, address and site code"),
    (SubstrateLot, "materials", "a substrate lot"),
    (LiquidLot, "liquids", "a challenge liquid with its properties, and a lot of it"),
    (Instrument, "instruments", "an instrument with its calibration"),
    (MethodVersion, "methods", "your version of each method's settings"),
    (RecipeRevision, "recipes", "a recipe"),
    (CriterionRevision, "specifications", "a specification, before the tests"),
    (Coupon, "coupons", "coupons"),
    (Batch, "batches", "a batch of coupons, processed step by step"),
    (TestRun, "runs", "runs with their readings"),
]


def _first_day():
    return [(name, words) for model, name, words in FIRST_DAY if not model.objects.exists()]


def _running(now, rows):
    """(process, whole minutes since it was started), longest first."""
    rows = rows.select_related("batch", "step", "operator")
    rows = rows.annotate(coupon_count=Count("processed")).order_by("started_at")[:MOST]
    return [(row, int((now - row.started_at).total_seconds() // 60)) for row in rows]


def _lots(day):
    """Lots and baths that ended lately or end soon, the earliest end first."""
    near = Q(expires_on__gte=day - timedelta(days=OVER_DAYS), expires_on__lte=day + timedelta(days=SOON_DAYS))
    shelves = {
        "liquid-lots": LiquidLot.objects.select_related("liquid"),
        "lubricant-lots": LubricantLot.objects.select_related("lubricant"),
        "baths": BathLot.objects,
    }
    rows = [(shelf, lot) for shelf, lots in shelves.items() for lot in lots.filter(near).order_by("-expires_on")[:MOST]]
    return sorted(rows, key=lambda row: row[1].expires_on)


def _calibrations(day):
    """Instruments in service whose latest calibration is over or ends soon, or that never had one."""
    done = Calibration.objects.filter(instrument=OuterRef("pk"), done_on__lte=day)
    latest = done.order_by("-done_on").values("due_on")[:1]
    rows = Instrument.objects.filter(is_in_service=True).annotate(due_on=Subquery(latest))
    near = Q(due_on__isnull=True) | Q(due_on__lte=day + timedelta(days=SOON_DAYS))
    return rows.filter(near).order_by(F("due_on").asc(nulls_first=True), "code")[:MOST]


def _batches_to_qualify(rows):
    """Batches with completed runs newer than their last report, none of their runs in draft, none on its way."""
    runs = TestRun.objects.filter(coupon__memberships__batch=OuterRef("pk"))
    done = TestRun.objects.filter(
        coupon__memberships__batch=OuterRef("pk"), coupon__memberships__role=TREATED, completed_at__isnull=False
    )
    issued = Qualification.objects.filter(batch=OuterRef("pk")).order_by("-issued_at").values("issued_at")[:1]
    rows = rows.annotate(last_issue=Subquery(issued)).filter(~Exists(runs.filter(state=DRAFT)))
    rows = rows.exclude(assessments__state__in=OPEN)
    # Since the last qualification, or ever.
    since = Exists(done.filter(completed_at__gt=OuterRef("last_issue"))) | Q(Exists(done), last_issue=None)
    return rows.filter(since).order_by("-id")[:MOST]


urlpatterns = [path("", today, name="today")]
