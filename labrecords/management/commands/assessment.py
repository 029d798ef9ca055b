"""One step of an assessment on its way to a report."""

import getpass
import sys
from pathlib import Path

from labrecords.actions import assessments
from labrecords.errors import PasswordMissing, UnknownCode, ValueRefused
from labrecords.management.acting import ActingCommand, reason, refuse_unwritable
from labrecords.models import Assessment
from labrecords.models.signature import MEANINGS
from labrecords.reports import qualification
from labrecords.visibility import visible

SIGNING = {step: MEANINGS[meaning] for meaning, step in assessments.MAKE.items()}
STEPS = [*SIGNING, "issue", "prepare_again", "withdraw"]


class Command(ActingCommand):
    help = (
        "Takes one step of an assessment: complete, review and approve sign it as author, reviewer and approver and "
        "ask for that person's password; issue writes the report; prepare_again and withdraw need --why."
    )

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("number", type=int, help="number of the assessment, as qualify_batch prints it")
        parser.add_argument("step", choices=STEPS)
        parser.add_argument("--by", metavar="USERNAME", help="who acts (default: the only person who may)")
        parser.add_argument("--why", help="the reason, kept with every change")
        parser.add_argument("--password-file", type=Path, metavar="FILE", help="password of --by (default: asked for)")
        parser.add_argument("--out", type=Path, metavar="FILE.pdf", help="where issue writes the report")

    def handle(self, *, number, step, by, why, password_file, out, **options):
        self.verb = f"assessments.{step}"
        by = self.person(by)
        assessment = _found(by, number)
        if step == "issue":
            return self._issue(by, assessment, out, why)
        details = reason(why) | {"version": assessment.version}
        if step in SIGNING:
            signs = f"version {assessment.version} as {SIGNING[step]}"
            details["password"] = _password(password_file, f"{by.full_name} signs {signs}. Password: ")
        moved = getattr(assessments, step)(by=by, assessment=assessment, **details)
        if step in SIGNING:  # said when it is so, and not before
            self.stdout.write(f"{by.full_name} signed {signs}.")
        following = assessments.NEXT.get(moved.state)
        self.stdout.write(f"assessment {moved.pk}: {moved.state}" + (f"; next: {following}" if following else ""))
        return None

    def _issue(self, by, assessment, out, why):
        if out is None:
            raise ValueRefused(field="out", label="File", value="", rule="is missing: say with --out where it goes")
        refuse_unwritable(out)
        issued = qualification.issue(by=by, assessment=assessment, **reason(why))
        out.write_bytes(bytes(issued.file))
        self.stdout.write(
            f"{out}\nverdict: {issued.verdict}\nreport number: {issued.report_number}\nSHA-256: {issued.sha256}"
        )


def _found(by, number):
    row = visible(Assessment.objects.filter(pk=number), by).first()
    if row is None:
        raise UnknownCode(field="number", noun="assessment", value=number)
    return row


def _password(file, words):
    """From the file, from the terminal without showing it, or the first line of what is piped in."""
    if file:
        return file.read_text(encoding="utf-8").rstrip("\n")
    if sys.stdin.isatty():
        return getpass.getpass(words)
    piped = sys.stdin.readline()
    if not piped:
        raise PasswordMissing(label="Password", instead="use --password-file or standard input")
    return piped.rstrip("\n")
