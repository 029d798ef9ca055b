"""A batch held against a criterion revision: judged, and everything gathered that its report prints."""

from __future__ import annotations

import analysis
from analysis import TREATED
from labrecords.actions.evidence import Stored, gather, required
from labrecords.actions.evidence.stored import record_for
from labrecords.errors import NothingToJudge, ReportIncomplete, UnknownCode, ValueRefused
from labrecords.models import Laboratory, Qualification
from labrecords.visibility import visible


def assemble(batch, criterion_revision) -> dict:
    """What the report prints, but for number, date and name of its issue; refuses what cannot be judged."""
    stored = Stored(batch, criterion_revision)
    evidence = gather(stored, _judged(stored))
    if lacking := required.missing(evidence):
        raise ReportIncomplete(
            batch=batch.code, items="; ".join(f"{item.name} (item {item.letter}; {item.where})" for item in lacking)
        )
    return evidence


def outcome(batch, criterion_revision) -> analysis.Judgement:
    """What an issue would find, without the rest of the report; refuses what cannot be judged."""
    return _judged(Stored(batch, criterion_revision))


def find(number, *, by=None, field="report_number") -> Qualification:
    """The issued report with this number, without its file and evidence."""
    text = str(number or "").strip()
    rows = visible(Qualification.objects.defer("file", "evidence").filter(report_number__iexact=text), by)
    row = rows.first() if text else None
    if row is None:
        raise UnknownCode(field=field, noun="report", value=text)
    return row


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
