"""Holds a batch against a specification and writes the report."""

import os
from pathlib import Path

from labrecords import entry
from labrecords.actions.rows import find
from labrecords.errors import UnknownCode, ValueRefused
from labrecords.management.acting import ActingCommand
from labrecords.models import Batch, CriterionSet
from labrecords.reports import qualification


class Command(ActingCommand):
    help = "Issues the qualification of a batch and writes its PDF. Whatever the verdict, the exit code is 0."
    verb = "qualifications.issue"

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("batch", metavar="CODE")
        parser.add_argument("--criteria", required=True, metavar="CODE[:REVISION]", help="default: the newest revision")
        parser.add_argument("--out", required=True, type=Path, metavar="FILE.pdf")

    def handle(self, *, batch, criteria, out, by, why, **options):
        by = self.person(by)
        batch, revision = find(Batch, batch, by=by), _revision(by, criteria)
        _refuse_unwritable(out)
        issued = qualification.issue(by=by, batch=batch, criterion_revision=revision, **({"why": why} if why else {}))
        out.write_bytes(bytes(issued.file))
        self.stdout.write(
            f"{out}\nverdict: {issued.verdict}\nreport number: {issued.report_number}\nSHA-256: {issued.sha256}"
        )


def _revision(by, text):
    code, _, number = text.partition(":")
    revisions = find(CriterionSet, code, by=by, field="criteria", noun="specification").revisions.order_by("number")
    if not number:
        return revisions.last()
    revision = revisions.filter(number=entry.whole(number, field="criteria", label="Revision")).first()
    if revision is None:
        raise UnknownCode(field="criteria", noun=f"revision of {code}", value=number)
    return revision


def _refuse_unwritable(out):
    """Before the report gets its number: an issued report is never taken back."""
    folder = out.absolute().parent
    if out.is_dir() or not folder.is_dir() or not os.access(out if out.exists() else folder, os.W_OK):
        raise ValueRefused(
            field="out", label="File", value=out, rule="cannot be written: no such folder, or no right to write there"
        )
