"""Do records, trail and chain still say the same? Ends with 1 and the first break when they do not."""

import itertools
import re

from django.core.management.base import BaseCommand, CommandError

from labrecords.actions import chain
from labrecords.errors import ValueRefused
from labrecords.models import Link, Qualification
from labrecords.reports import certificate
from labrecords.reports.unsealing import unsealed


class Command(BaseCommand):
    help = "Checks the chain of all entries, every record against its trail, signatures, and issued files."

    def add_arguments(self, parser):
        parser.add_argument("--head", action="append", default=[], metavar="NUMBER:HASH",
                            help="a head noted earlier, as a report prints it; may be repeated")  # fmt: skip
        parser.add_argument("--all", action="store_true", help="name every break, not the first alone")
        parser.add_argument("--data", help="folder of database and reports (default: var)")

    def handle(self, *, head, all, **_):
        known = chain.noted() | dict(_parsed(text) for text in head)
        found = 0
        for broken in itertools.chain(chain.breaks(known), _seals()):
            self.stdout.write(f"{'Broken' if found else 'First break'}: {broken}")
            found += 1
            if not all:
                break
        if found:
            raise CommandError("The records are not as they were written.")
        self.stdout.write(
            f"{Link.objects.count()} entries of the trail, every record and {Qualification.objects.count()} issued "
            f"reports are as they were written. Held against {len(known)} heads noted in reports or given here."
        )
        self.stdout.write(f"Head of the chain: {chain.shown_head()}.")


def _seals():
    """Issued files whose seal is broken, or not by a certificate of this data folder."""
    own = {certificate.facts_of(known)["fingerprint"] for known in certificate.known()}
    for report in Qualification.objects.filter(evidence__report__has_key="certificate").iterator(20):
        opened = unsealed(bytes(report.file), report.report_number)
        for what, holds, why in opened.proven:
            if not holds:
                yield chain.Break(f"report {report.report_number}", f"{what}: {why}")
        if own and opened.certificate and certificate.facts_of(opened.certificate)["fingerprint"] not in own:
            yield chain.Break(
                f"report {report.report_number}", "it was sealed by a certificate that is none of the lab's"
            )


def _parsed(text):
    if not (match := re.fullmatch(r"(\d{1,18}):([0-9a-fA-F]{64})", text.strip())):
        raise ValueRefused(
            field="--head", label="--head", value=text, rule="is not NUMBER:HASH (64 hexadecimal digits)"
        )
    return int(match[1]), match[2].lower()
