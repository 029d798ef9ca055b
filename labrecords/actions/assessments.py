"""The way to a report: prepared, signed by its author, reviewed, approved, issued once and kept byte for byte."""

from __future__ import annotations

import hashlib
import json
import re

from django.db import connection
from django.utils import timezone

from labrecords import access, content
from labrecords.actions import chain, qualifications, signing
from labrecords.actions.evidence.stored import moment
from labrecords.actions.rows import hold, now, write
from labrecords.actions.signing import signed
from labrecords.errors import NotFromThisState, OnItsWay, PreparedAnew, RecordsChanged, Refusal, ValueRefused
from labrecords.models import Assessment, AssessmentVersion, Laboratory, Qualification, Signature
from labrecords.models.assessment import (
    APPROVAL,
    APPROVED,
    AUTHOR,
    DRAFT,
    ISSUED,
    OPEN,
    REVIEW,
    STATES,
    STEP_OF,
    WITHDRAWN,
)
from labrecords.models.qualification import AMENDMENTS
from labrecords.trail import verb
from labrecords.visibility import visible

MAKE = {AUTHOR: "complete", REVIEW: "review", APPROVAL: "approve"}
# The one step that leads on from each state, by the name of its action.
NEXT = {STEP_OF[meaning][0]: name for meaning, name in MAKE.items()} | {APPROVED: "issue"}
PLAIN_ISSUE = "qualification issued"  # why, in the trail, where nobody gave a reason


@verb
def prepare(
    *, by, why="assessment prepared", batch, criterion_revision, amends=None, amendment="", amendment_reason=""
):
    """Hold a batch against a specification and keep what the report will say, to be signed.

    With `amends`, an issued report of the batch, the new one amends it (a further document) or replaces it, and says
    why.
    """
    hold(batch.members.values("coupon"))
    _refuse_second(batch, criterion_revision)
    assessment = Assessment(
        batch=batch,
        criterion_revision=criterion_revision,
        amends=amends,
        amendment=amendment,
        amendment_reason=amendment_reason.strip(),
    )
    _check_amended(assessment)
    write(assessment, by)
    _keep(by, assessment)
    return assessment


@verb
def prepare_again(*, by, why, assessment, version=None):
    """The content as the records are now, as a new version; signatures of earlier versions stay but no longer count."""
    assessment = _held(assessment, version)
    _refuse_closed(assessment, target=DRAFT)
    assessment.state, assessment.version = DRAFT, assessment.version + 1
    write(assessment)
    _keep(by, assessment)
    return assessment


@signed(AUTHOR)
def complete(*, by, why="signed as author", assessment, version):
    """Sign as author: the content is complete. `version`: the one that was looked at."""
    return _sign(by, assessment, version, AUTHOR)


@signed(REVIEW)
def review(*, by, why="signed as reviewer", assessment, version):
    """Sign as reviewer: another person than the author has checked the content."""
    return _sign(by, assessment, version, REVIEW)


@signed(APPROVAL)
def approve(*, by, why="signed as approved", assessment, version):
    """Sign as approver: the content may be issued."""
    return _sign(by, assessment, version, APPROVAL)


@verb
def issue(*, by, why=PLAIN_ISSUE, assessment, render, version=None, issued_at=None):
    """Give the approved content its number and keep the report. `render` makes the file: evidence dict -> bytes."""
    assessment = _held(assessment, version)
    # One issue at a time, so that numbers follow each other and none is given twice.
    Laboratory.objects.select_for_update(no_key=True).first()
    if assessment.state != APPROVED:
        raise _not_from(assessment, ISSUED)
    kept = _to_be_signed(assessment)
    _check_amended(assessment)
    issued_at = issued_at or now()
    evidence = kept.evidence | {"report": kept.evidence["report"] | _report(by, why, assessment, issued_at)}
    file = render(evidence)
    report = write(
        Qualification(
            report_number=evidence["report"]["number"],
            batch=assessment.batch,
            criterion_revision=assessment.criterion_revision,
            assessment=assessment,
            amends=assessment.amends,
            verdict=kept.verdict,
            outcomes=evidence["judgement"]["outcomes"],
            evidence=evidence,
            issued_at=issued_at,
            issued_by=by,
            file=file,
            sha256=hashlib.sha256(file).hexdigest(),
        ),
        by,
    )
    assessment.state = ISSUED
    write(assessment)
    return report


@verb
def withdraw(*, by, why, assessment, version=None):
    """Leave the way to the report, with the reason. Content and signatures stay on record."""
    assessment = _held(assessment, version)
    _refuse_closed(assessment, target=WITHDRAWN)
    assessment.state = WITHDRAWN
    return write(assessment)


def draft(assessment) -> dict:
    """The evidence of an assessment with what its report will say of itself, as far as it is known."""
    kept = assessment.content
    return kept.evidence | {"report": kept.evidence["report"] | _unissued(assessment, kept)}


def bar(person, assessment) -> str:
    """Why this person may not take the next step, or nothing when they may."""
    step = NEXT.get(assessment.state)
    if step is None or not access.may(person, f"assessments.{step}"):
        return "this step is not open to your role"
    if step in (MAKE[REVIEW], MAKE[APPROVAL]) and _author(assessment) == person.pk:
        return "you signed it as author: another person takes this step"
    return ""


def waiting_for(person) -> list:
    """Open assessments whose next step this person may take, oldest first; drafts only of their own."""
    rows = Assessment.objects.filter(state__in=OPEN).select_related("batch", "criterion_revision__criterion_set")
    rows = rows.prefetch_related("signatures").order_by("id")
    mine = [row for row in visible(rows, person) if row.state != DRAFT or row.created_by_id == person.pk]
    return [row for row in mine if not bar(person, row)]


def _held(assessment, version=None):
    """The assessment, locked for this transaction with the coupons of its batch; refuses a version not looked at."""
    hold(assessment.batch.members.values("coupon"))
    fresh = Assessment.objects.select_for_update(no_key=True, of=("self",)).get(pk=assessment.pk)
    if version is not None and int(version) != fresh.version:
        raise PreparedAnew(assessment=fresh.pk, version=fresh.version, seen=version)
    return fresh


def _sign(by, assessment, version, meaning):
    assessment = _held(assessment, version or 0)  # nobody signs without having seen a version
    before, after = STEP_OF[meaning]
    if assessment.state != before:
        raise _not_from(assessment, after)
    if meaning != AUTHOR and _author(assessment) == by.pk:
        rule = "signed this content as author; another person takes this step"
        raise ValueRefused(field="assessment", label="Signing person", value=by.full_name, rule=rule)
    _to_be_signed(assessment)
    write(Signature(assessment=assessment, person=by, meaning=meaning), by)
    assessment.state = after
    return write(assessment)


def _author(assessment):
    given = assessment.signatures.all()  # at most a few, and lists have read them already
    return next((row.person_id for row in given if row.version == assessment.version and row.meaning == AUTHOR), None)


def _to_be_signed(assessment):
    """The content that counts; refuses one that is no longer what the records say, or whose signatures do not fit."""
    signing.refuse_broken(assessment)
    kept = assessment.content
    if what := _differing(_evidence(assessment), kept.evidence):
        raise RecordsChanged(batch=assessment.batch.code, assessment=assessment.pk, what=", ".join(what))
    return kept


def changed_since(report) -> list[str]:
    """Which parts of an issued report the records would fill otherwise today, in words; a refusal is one sentence."""
    if report.assessment is None:
        return []
    try:
        return _differing(_evidence(report.assessment), report.evidence, besides=("report",))
    except Refusal as refusal:
        return [str(refusal)]


def _differing(now, then, besides=()):
    now, then = _as_of_any_moment(now), _as_of_any_moment(then)
    names = sorted((now.keys() | then.keys()) - {*besides})
    return [name.replace("_", " ") for name in names if now.get(name) != then.get(name)]


def _as_of_any_moment(evidence):
    """Without what may change while nothing on record does: where in the lab a coupon's life has come to."""
    coupons = [{name: value for name, value in row.items() if name != "state"} for row in evidence["coupons"]]
    return evidence | {"coupons": coupons}


def _keep(by, assessment):
    evidence = _evidence(assessment)
    write(
        AssessmentVersion(
            assessment=assessment,
            number=assessment.version,
            evidence=evidence,
            content_sha256=content.content_sha256(evidence),
            verdict=evidence["judgement"]["verdict"],
        ),
        by,
    )


def _evidence(assessment):
    """What the records say now, as the database stores it: its numbers have no −0 and no exponents."""
    found = qualifications.assemble(assessment.batch, assessment.criterion_revision)
    found["report"] = {"amends": _amended(assessment)}
    with connection.cursor() as cursor:
        cursor.execute("SELECT %s::jsonb::text", [json.dumps(found)])
        return json.loads(cursor.fetchone()[0])


def _amended(assessment):
    earlier = assessment.amends
    return earlier and {
        "number": earlier.report_number,
        "issued_at": moment(earlier.issued_at),
        "verdict": earlier.verdict,
        "sha256": earlier.sha256,
        "kind": assessment.amendment,
        "reason": assessment.amendment_reason,
    }


def _refuse_second(batch, criterion_revision):
    """Two on the way at once would be two reports of the same."""
    rows = Assessment.objects.filter(batch=batch, criterion_revision=criterion_revision, state__in=OPEN)
    there = rows.first()
    if there:
        raise OnItsWay(batch=batch.code, specification=criterion_revision, assessment=there.pk, state=there.state)


def _check_amended(assessment):
    """What is amended is an issued report of the same batch, and the newest of its line; kind and reason are said."""
    batch, report, rule = assessment.batch, assessment.amends, ""
    field, label, value = "amends", "Report", report
    if report is None:
        if assessment.amendment or assessment.amendment_reason:
            value, rule = "none", "is named: say which report is amended or replaced"
    elif report.batch_id != batch.pk:
        rule = f"is not of batch {batch.code}"
    elif report.successor:
        rule = f"was amended by {report.successor} already; amend that one"
    elif assessment.amendment not in AMENDMENTS:
        field, label, value = "amendment", "What the new report is to it", assessment.amendment
        rule = f"is none of: {', '.join(AMENDMENTS)}"
    elif not assessment.amendment_reason:
        field, label, value = "amendment_reason", "What changes and why", ""
        rule = "is missing; the new report prints it"
    if rule:
        raise ValueRefused(field=field, label=label, value=value, rule=rule)


def _report(by, why, assessment, issued_at):
    """What the report says of itself beside the signed content."""
    return _said_of_any(assessment) | {
        "number": _next_number(issued_at),
        "issued_at": moment(issued_at),
        "issued_epoch": int(issued_at.timestamp()),
        "issued_by": by.full_name,
        "issued_as": by.get_role_display(),
        # What stands in the trail when nobody gave a reason tells a reader nothing.
        "why": "" if why == PLAIN_ISSUE else why,
        "chain": chain.head(),
    }


def _unissued(assessment, kept):
    return _said_of_any(assessment) | {
        "number": "DRAFT",
        "issued_at": "not issued",
        "issued_epoch": int(kept.created_at.timestamp()),
        "issued_by": "",
        "issued_as": "",
        "why": "",
        "chain": None,
    }


def _said_of_any(assessment):
    signatures = assessment.signatures.filter(version=assessment.version).order_by("id")
    return {
        "assessment": assessment.pk,
        "version": assessment.version,
        "content_sha256": assessment.content.content_sha256,
        "signatures": [signing.printed(row) | {"at": moment(row.signed_at)} for row in signatures],
        "earlier": [
            {"number": row.report_number, "issued_at": moment(row.issued_at), "verdict": row.verdict}
            for row in assessment.batch.qualifications.defer("file", "evidence").order_by("issued_at")
        ],
    }


def _next_number(issued_at):
    start = f"QR-{timezone.localtime(issued_at):%y}-"
    given = Qualification.objects.filter(report_number__startswith=start).values_list("report_number", flat=True)
    last = max((int(match[1]) for match in (re.search(r"(\d+)$", number) for number in given) if match), default=0)
    return f"{start}{last + 1:04d}"


def _refuse_closed(assessment, target):
    if not assessment.is_open:
        raise _not_from(assessment, target)


def _not_from(assessment, target):
    return NotFromThisState(
        field="assessment", noun="Assessment", code=assessment.pk, state=STATES[assessment.state], target=STATES[target]
    )
