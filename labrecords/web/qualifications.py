"""Qualifications: the outcome of a batch, from which its report is prepared; issued reports, and their files."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.text import slugify

from analysis import as_data
from labrecords import access
from labrecords.actions import assessments, qualifications, signing
from labrecords.errors import Refusal, ValueRefused
from labrecords.models import Assessment, CriterionRevision, Qualification
from labrecords.models.assessment import OPEN
from labrecords.models.qualification import AMENDMENTS
from labrecords.reports.qualification import package
from labrecords.visibility import visible
from labrecords.web import batches, results

PAGE = 50
SEALED_BY = "evidence__report__certificate"  # facts of the certificate; None for a report of before the seal


def qualify(request, code):
    """Choose a specification, look at the outcome of every criterion, then prepare the report (or an amendment)."""
    batch, refusal, preview = batches.loaded(request, code), None, None
    said = request.POST or request.GET
    revision = _revision(request.user, said.get("specification", ""))
    amended = found(request, said["amends"], "file", "evidence") if said.get("amends") else None
    try:
        if request.method == "POST":
            made = _prepare(request, batch, revision, amended)
            messages.success(request, "Prepared. Nobody has signed it yet.")
            return redirect("assessment", made.pk)
        if revision:
            preview = as_data(qualifications.outcome(batch, revision))
    except Refusal as problem:
        refusal = problem
    context = {
        "batch": batch,
        "refusal": refusal,
        "revision": revision,
        "revisions": _newest_first(request.user),
        "amended": amended,
        "amendments": AMENDMENTS,
        "said": request.POST,
        "there": revision and batch.assessments.filter(criterion_revision=revision, state__in=OPEN).first(),
        "preview": preview,
        "verdict": preview and _verdict(preview["verdict"]),
        "outcomes": [results.outcome(row) for row in preview["outcomes"]] if preview else [],
    }
    return render(request, "labrecords/qualifications/qualify.html", context, status=refusal.status if refusal else 200)


qualify.noun = "batches"  # who may read reports may not therefore look at how they come out


def _prepare(request, batch, revision, amended):
    if revision is None:
        raise ValueRefused(
            field="specification", label="Specification", value="none", rule="is chosen: choose one first"
        )
    told = {name: request.POST.get(name, "") for name in ("amendment", "amendment_reason")} if amended else {}
    return assessments.prepare(by=request.user, batch=batch, criterion_revision=revision, amends=amended, **told)


def _revision(by, key):
    rows = _newest_first(by)
    return rows.filter(pk=key).first() if key.isdecimal() and len(key) < 19 else None


def _newest_first(by):
    rows = CriterionRevision.objects.select_related("criterion_set")
    return visible(rows, by).order_by("criterion_set__code", "-number")


def _verdict(key):
    return {"key": key, "tone": results.TONES[key], "words": results.WORDS[key]}


def listing(request):
    rows = Qualification.objects.listed().select_related("batch", "criterion_revision__criterion_set", "issued_by")
    page = Paginator(visible(rows, request.user), PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "on_their_way": _on_their_way(request.user) if page.number == 1 else []}
    return render(request, "labrecords/qualifications/list.html", context)


def _on_their_way(by):
    if not access.may(by, "assessments.look"):
        return []
    rows = Assessment.objects.filter(state__in=OPEN).select_related("batch", "criterion_revision__criterion_set")
    return visible(rows, by).order_by("-id")[:PAGE]


def found(request, number, *skipped):
    rows = Qualification.objects.defer(*skipped).select_related(
        "batch", "criterion_revision__criterion_set", "issued_by", "assessment"
    )
    row = visible(rows.filter(report_number=number), request.user).first()
    if row is None:
        raise Http404(f"There is no report {number}.")
    return row


def one(request, number):
    issued = found(request, number, "file")
    way = issued.assessment
    context = {
        "issued": issued,
        "verdict": _verdict(issued.verdict),
        "outcomes": [results.outcome(row) for row in issued.outcomes],
        "others": issued.batch.qualifications.exclude(pk=issued.pk).listed(),
        "amends": issued.evidence["report"]["amends"]["number"] if issued.amends_id else "",
        "successor": Qualification.objects.listed().filter(amends=issued).select_related("assessment").first(),
        # Of versions that were prepared anew, the assessment's page tells.
        "signatures": [row for row in signing.verify(way) if row.counts] if way else [],
        "changed": assessments.changed_since(issued) if access.may(request.user, "assessments.look") else [],
        "findings": signing.findings(way) if way else [],
        "certificate": Qualification.objects.filter(pk=issued.pk).values_list(SEALED_BY, flat=True).get(),
        "attached": package.ABOUT.items(),
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
