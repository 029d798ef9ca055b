"""The batch qualification report: everything it prints comes out of the evidence, nothing is looked up."""

from __future__ import annotations

from datetime import UTC, datetime

from django.utils import timezone
from reportlab.platypus import CondPageBreak, KeepTogether

from labrecords.actions import assessments
from labrecords.reports import certificate, pages, seal
from labrecords.reports.qualification import annex, closing, cover, explanations, items, methods, package, results
from labrecords.reports.text import paragraph

TITLE = "Test report: batch qualification"
SECTIONS = (
    ("Statement of conformity", cover.conformity),
    ("Items tested", items.samples),
    ("Treatment as planned and as done", items.treatment),
    ("Deviations, additions and exclusions", closing.deviations),
    ("Methods, instruments, liquids and climate", methods.methods),
    ("Results", results.results),
    ("Stability checks", results.checks),
    ("Uncertainty", results.uncertainty),
    ("Limitations", closing.limitations),
    ("Cautions", closing.cautions),
    ("Authorisation", closing.authorisation),
    ("Annex: how each result was obtained", explanations.results),
    ("Annex: runs and every reading", annex.readings),
)


def render(evidence: dict, mark: str = "") -> bytes:
    """The report as PDF; the same evidence gives the same bytes. `mark`: across every page of what is no report."""
    report = evidence["report"]
    story = cover.head(evidence, TITLE)
    for place, (title, section) in enumerate(SECTIONS, start=1):
        story += _headed(paragraph(f"{place}  {title}", "heading"), section(evidence))
    story.append(paragraph(f"End of report {report['number']}", "end"))
    lab = evidence["laboratory"]["name"]
    issued = mark.lower() or f"issued {report['issued_at'][:10]}"
    return pages.build(
        story,
        number=report["number"],
        title=TITLE,
        footer=f"{lab} · batch {evidence['batch']['code']} · {issued}",
        author=lab,
        epoch=report["issued_epoch"],
        mark=mark,
    )


def _headed(heading, flowables):
    """The heading with room for what follows, so that it never stands alone at the foot of a page."""
    whole = next((place for place, item in enumerate(flowables[:3]) if isinstance(item, KeepTogether)), None)
    if whole is None:
        return [closing.room(120), heading, *flowables]
    first = [item for item in flowables[:whole] if not isinstance(item, CondPageBreak)]
    return [KeepTogether([heading, *first, *flowables[whole]._content]), *flowables[whole + 1 :]]


def draft(assessment) -> bytes:
    """What would be issued, to be looked at before it is signed: marked on every page, without number and date."""
    return render(assessments.draft(assessment), mark="DRAFT, NOT ISSUED")


def final(evidence: dict) -> bytes:
    """The file that is issued and kept: its evidence attached, under the lab's signature.

    The evidence then names the certificate.
    """
    report, lab = evidence["report"], evidence["laboratory"]["name"]
    signer = certificate.of_laboratory(lab, timezone.now())
    report["certificate"] = signer.facts()
    return seal.sealed(
        render(evidence),
        package.files(evidence),
        package.ABOUT,
        by=signer,
        at=datetime.fromtimestamp(report["issued_epoch"], UTC),
        reason=f"Test report {report['number']} as issued",
    )


def issue(*, by, assessment, **details):
    """Issue an approved assessment with this report as its file: what pages, API and commands call."""
    return assessments.issue(by=by, assessment=assessment, render=final, **details)
