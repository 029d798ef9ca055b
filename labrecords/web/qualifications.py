"""Qualifications: the outcome before issuing, issue, list, one, and its file."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.text import slugify

from analysis import as_data
from labrecords.actions import qualifications
from labrecords.errors import Refusal, ValueRefused
from labrecords.models import CriterionRevision, Qualification
from labrecords.reports.qualification import issue
from labrecords.visibility import visible
from labrecords.web import batches, results

PAGE = 50


def qualify(request, code):
    """Choose a specification, look at the outcome of every criterion, then issue."""
    batch, refusal, preview = batches.loaded(request, code), None, None
    revision = _revision(request.user, request.POST.get("specification") or request.GET.get("specification", ""))
    try:
        if request.method == "POST":
            made = _issue(request, batch, revision)
            messages.success(request, f"Qualification {made.report_number} issued: {results.WORDS[made.verdict]}.")
            return redirect("qualification", made.report_number)
        if revision:
            preview = as_data(qualifications.outcome(batch, revision))
    except Refusal as problem:
        refusal = problem
    context = {
        "batch": batch,
        "refusal": refusal,
        "revision": revision,
        "revisions": _newest_first(request.user),
        "why": request.POST.get("why", ""),
        "preview": preview,
        "verdict": preview and _verdict(preview["verdict"]),
        "outcomes": [results.outcome(row) for row in preview["outcomes"]] if preview else [],
    }
    return render(request, "labrecords/qualifications/qualify.html", context, status=refusal.status if refusal else 200)


qualify.noun = "batches"  # who may read reports may not therefore look at how they come out


def _issue(request, batch, revision):
    if revision is None:
        raise ValueRefused(
            field="specification", label="Specification", value="none", rule="is chosen: choose one first"
        )
    reason = request.POST.get("why", "").strip()
    return issue(by=request.user, batch=batch, criterion_revision=revision, **({"why": reason} if reason else {}))


def _revision(by, key):
    rows = _newest_first(by)
    return rows.filter(pk=key).first() if key.isdecimal() and len(key) < 19 else None


def _newest_first(by):
    rows = CriterionRevision.objects.select_related("criterion_set")
    return visible(rows, by).order_by("criterion_set__code", "-number")


def _verdict(key):
    return {"key": key, "tone": results.TONES[key], "words": results.WORDS[key]}


def listing(request):
    rows = Qualification.objects.defer("file", "evidence", "outcomes")
    rows = rows.select_related("batch", "criterion_revision__criterion_set", "issued_by")
    page = Paginator(visible(rows, request.user), PAGE).get_page(request.GET.get("page"))
    return render(request, "labrecords/qualifications/list.html", {"page": page})


def found(request, number, *skipped):
    rows = Qualification.objects.defer(*skipped).select_related(
        "batch", "criterion_revision__criterion_set", "issued_by"
    )
    row = visible(rows.filter(report_number=number), request.user).first()
    if row is None:
        raise Http404(f"There is no report {number}.")
    return row


def one(request, number):
    issued = found(request, number, "file", "evidence")
    context = {
        "issued": issued,
        "verdict": _verdict(issued.verdict),
        "outcomes": [results.outcome(row) for row in issued.outcomes],
        "others": issued.batch.qualifications.exclude(pk=issued.pk).defer("file", "evidence"),
    }
    return render(request, "labrecords/qualifications/page.html", context)


def file(request, number):
    """Byte for byte what was issued."""
    issued = found(request, number, "evidence")
    name = slugify(issued.report_number) or "report"
    return HttpResponse(
        bytes(issued.file),
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'attachment; filename="{name}.pdf"',
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "private, no-store",
        },
    )


urlpatterns = [
    path("batches/<str:code>/qualify/", qualify, name="qualify"),
    path("qualifications/", listing, name="qualifications"),
    path("qualifications/<str:number>/", one, name="qualification"),
    path("qualifications/<str:number>/file/", file, name="qualification-file"),
]
