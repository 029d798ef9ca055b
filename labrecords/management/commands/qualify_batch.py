"""Holds a batch against a specification and prepares its report."""

from pathlib import Path

from labrecords import entry
from labrecords.actions import assessments, qualifications
from labrecords.actions.rows import find
from labrecords.errors import UnknownCode
from labrecords.management.acting import ActingCommand, reason, refuse_unwritable
from labrecords.models import Batch, CriterionSet
from labrecords.models.qualification import AMENDMENTS
from labrecords.reports import qualification


class Command(ActingCommand):
    help = (
        "Prepares the report of a batch: its outcome, and the number of the assessment that is to be signed "
        "(see the command `assessment`). Whatever the verdict, the exit code is 0."
    )
    verb = "assessments.prepare"

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("batch", metavar="CODE")
        parser.add_argument("--criteria", required=True, metavar="CODE[:REVISION]", help="default: the newest revision")
        parser.add_argument("--amends", metavar="NUMBER", help="an issued report of the batch that the new one amends")
        parser.add_argument("--amendment", choices=list(AMENDMENTS), default="", help="needed with --amends")
        parser.add_argument("--amendment-reason", default="", metavar="TEXT", help="what changes and why; printed")
        parser.add_argument("--draft", type=Path, metavar="FILE.pdf", help="write what would be issued, marked DRAFT")

    def handle(self, *, batch, criteria, amends, amendment, amendment_reason, draft, by, why, **options):
        by = self.person(by)
        batch, revision = find(Batch, batch, by=by), _revision(by, criteria)
        if draft:
            refuse_unwritable(draft, field="draft")
        assessment = assessments.prepare(
            by=by,
            batch=batch,
            criterion_revision=revision,
            amends=qualifications.find(amends, by=by, field="amends") if amends else None,
            amendment=amendment,
            amendment_reason=amendment_reason,
            **reason(why),
        )
        if draft:
            draft.write_bytes(qualification.draft(assessment))
        kept = assessment.content
        self.stdout.write(
            f"verdict: {kept.verdict}\nassessment: {assessment.pk}\nSHA-256 of content: {kept.content_sha256}\n"
            f"next: manage.py assessment {assessment.pk} complete --by USERNAME"
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
