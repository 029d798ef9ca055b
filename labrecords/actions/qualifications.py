"""A batch held against a criterion revision: judged, written down, issued once and kept byte for byte."""

from __future__ import annotations

import hashlib
import re

from django.utils import timezone

import analysis
from analysis import TREATED
from labrecords.actions.evidence import Stored, gather
from labrecords.actions.evidence.stored import moment, record_for
from labrecords.actions.rows import hold, write
from labrecords.errors import NothingToJudge, ValueRefused
from labrecords.models import Laboratory, Qualification
from labrecords.trail import verb


def assemble(batch, criterion_revision) -> dict:
    """What the report prints, but for number, date and name of its issue; refuses what cannot be judged."""
    stored = Stored(batch, criterion_revision)
    return gather(stored, _judged(stored))


def outcome(batch, criterion_revision) -> analysis.Judgement:
    """What an issue would find, without the rest of the report; refuses what cannot be judged."""
    return _judged(Stored(batch, criterion_revision))


def _judged(stored):
    _check(stored)
    try:
        return analysis.judge([record_for(row) for row in stored.criteria], stored.records)
    except ValueError as problem:
        raise ValueRefused(
            field="criterion_revision",
            label="Specification",
            value=str(stored.revision),
            rule=f": {problem}",
        ) from None


@verb
def issue(*, by, why="qualification issued", batch, criterion_revision, render, issued_at=None):
    """Judge, render and keep the report. `render` makes the file of the evidence: evidence dict -> bytes."""
    # Nothing of the batch changes while the report is written.
    hold(batch.members.values("coupon"))
    # One issue at a time, so that numbers follow each other and none is given twice.
    Laboratory.objects.select_for_update(no_key=True).first()
    issued_at = issued_at or timezone.now()
    evidence = assemble(batch, criterion_revision)
    evidence["report"] = _report(by, why, batch, issued_at)
    file = render(evidence)
    return write(
        Qualification(
            report_number=evidence["report"]["number"],
            batch=batch,
            criterion_revision=criterion_revision,
            verdict=evidence["judgement"]["verdict"],
            outcomes=evidence["judgement"]["outcomes"],
            evidence=evidence,
            issued_at=issued_at,
            issued_by=by,
            file=file,
            sha256=hashlib.sha256(file).hexdigest(),
        ),
        by,
    )


def _check(stored):
    """Refuse, with the name of what is missing."""
    batch, why = stored.batch.code, ""
    drafts = [run.code for run in stored.all_runs if run.state == "draft"]
    if TREATED not in stored.roles.values():
        why = "it has no treated coupons."
    elif drafts:
        why = f"these runs of its coupons are still in draft: {', '.join(drafts)}. Complete them first."
    elif not any(stored.roles[run.coupon_id] == TREATED for run in stored.runs):
        why = "none of its treated coupons has a completed run."
    elif not Laboratory.objects.exists():
        why = "the laboratory's name and address, which every report carries, are not set up."
    if why:
        raise NothingToJudge(batch=batch, why=why)


def _report(by, why, batch, issued_at):
    return {
        "number": _next_number(issued_at),
        "issued_at": moment(issued_at),
        "issued_epoch": int(issued_at.timestamp()),
        "issued_by": by.full_name,
        "issued_as": by.get_role_display(),
        "why": why,
        "earlier": [
            {"number": row.report_number, "issued_at": moment(row.issued_at), "verdict": row.verdict}
            for row in Qualification.objects.filter(batch=batch).defer("file", "evidence").order_by("issued_at")
        ],
    }


def _next_number(issued_at):
    start = f"QR-{timezone.localtime(issued_at):%y}-"
    given = Qualification.objects.filter(report_number__startswith=start).values_list("report_number", flat=True)
    last = max((int(match[1]) for match in (re.search(r"(\d+)$", number) for number in given) if match), default=0)
    return f"{start}{last + 1:04d}"
