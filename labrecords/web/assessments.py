"""Assessments: what is to be signed, by whom, and each step as one button that asks for the password again."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_POST

from labrecords.actions import assessments, signing
from labrecords.entry import whole
from labrecords.errors import Refusal
from labrecords.models import Assessment, Person
from labrecords.reports import qualification
from labrecords.visibility import visible
from labrecords.web import results
from labrecords.web.history import history

# What each step says of itself: its button, what pressing it means, and what stands there when it is done.
WORDS = {
    "complete": {
        "button": "Sign as author",
        "meaning": "I have prepared this content. It is complete, and it is what the records of the batch say.",
        "done": "Signed as author. Another person reviews it now.",
        "who": "author",
    },
    "review": {
        "button": "Sign as reviewer",
        "meaning": "I am not its author. I have checked this content against the records of the batch and agree.",
        "done": "Signed as reviewer. It can be approved now.",
        "who": "reviewer, not the author",
    },
    "approve": {
        "button": "Sign as approver",
        "meaning": "I am not its author. I approve that this content is issued as a report of the laboratory.",
        "done": "Signed as approver. The report can be issued now.",
        "who": "approver, not the author",
    },
    "issue": {
        "button": "Issue the report",
        "meaning": "The approved content gets its number and is kept byte for byte; it is never changed.",
        "done": "",
        "who": "whoever issues it",
    },
}
SIGNING = {name: meaning for meaning, name in assessments.MAKE.items()}
ORDER = list(WORDS)


def found(request, number):
    rows = Assessment.objects.select_related("batch", "criterion_revision__criterion_set", "amends", "created_by")
    rows = rows.prefetch_related("signatures")
    row = visible(rows.defer("amends__file", "amends__evidence").filter(pk=number), request.user).first()
    if row is None:
        raise Http404(f"There is no assessment {number}.")
    return row


def one(request, number):
    return page(request, found(request, number))


def page(request, assessment, refusal=None, said=None):
    kept, checked = assessment.content, signing.verify(assessment)
    judgement, step = kept.evidence["judgement"], assessments.NEXT.get(assessment.state)
    context = {
        "assessment": assessment,
        "kept": kept,
        "verdict": {"key": kept.verdict, "tone": results.TONES[kept.verdict], "words": results.WORDS[kept.verdict]},
        "outcomes": [results.outcome(row) for row in judgement["outcomes"]],
        "deviations": kept.evidence["deviations"],
        "counts": kept.evidence["counts"],
        "signatures": [row for row in checked if row.counts],
        "earlier": [row for row in checked if not row.counts],
        "way": _way(assessment),
        "step": step,
        "words": WORDS.get(step),
        "is_signing": step in SIGNING,
        "bar": assessments.bar(request.user, assessment) if step else "",
        "able": _able(assessment) if step else [],
        "report": getattr(assessment, "report", None),
        "history": history(request.user, assessment),
        "refusal": refusal,
        "said": said or {},
    }
    return render(request, "labrecords/assessments/page.html", context, status=refusal.status if refusal else 200)


def _way(assessment):
    """(words, whether done) of each step, in order."""
    states = [*assessments.NEXT, "issued"]
    reached = states.index(assessment.state) if assessment.state in states else 0
    words = ["prepared", "signed by the author", "reviewed", "approved", "issued"]
    return [(word, place <= reached) for place, word in enumerate(words)]


def _able(assessment):
    """Names of the people in service who may take the next step."""
    people = Person.objects.filter(is_active=True).order_by("full_name")
    return [person.full_name for person in people if not assessments.bar(person, assessment)]


@require_POST
@sensitive_post_parameters("password")
@sensitive_variables("details")
def take(request, number, step):
    """One step; a refusal shows the page again with what was typed, but for the password."""
    assessment = found(request, number)
    try:
        details = {"version": whole(request.POST.get("version", ""), field="version", label="Version", low=1)}
        if step in SIGNING:
            details |= {"password": request.POST.get("password", ""), "request": request}
        done = STEPS[step](by=request.user, assessment=assessment, **details, **_reason(request))
    except Refusal as refusal:
        return page(request, found(request, number), refusal, request.POST)
    if step == "issue":
        messages.success(request, f"Report {done.report_number} issued: {results.WORDS[done.verdict]}.")
        return redirect("qualification", done.report_number)
    messages.success(request, DONE[step])
    return redirect("assessment", number)


def _reason(request):
    why = request.POST.get("why", "").strip()
    return {"why": why} if why else {}


STEPS = {
    "complete": assessments.complete,
    "review": assessments.review,
    "approve": assessments.approve,
    "issue": qualification.issue,
    "prepare-again": assessments.prepare_again,
    "withdraw": assessments.withdraw,
}
DONE = {name: words["done"] for name, words in WORDS.items()} | {
    "prepare-again": "Prepared again from the records as they are now. Nobody has signed this version yet.",
    "withdraw": "Withdrawn. Content and signatures stay on record.",
}


def draft(request, number):
    """What would be issued, as PDF, marked as a draft on every page."""
    assessment = found(request, number)
    name = f"draft-assessment-{assessment.pk}-version-{assessment.version}.pdf"
    return HttpResponse(
        qualification.draft(assessment),
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "private, no-store",
        },
    )


urlpatterns = [
    path("assessments/<int:number>/", one, name="assessment"),
    path("assessments/<int:number>/draft/", draft, name="assessment-draft"),
    *[path(f"assessments/<int:number>/{step}/", take, {"step": step}, name=f"assessment-{step}") for step in STEPS],
]
