"""Checks an issued report from its file alone; needs no database, and makes nothing."""

import json
from collections import Counter
from itertools import groupby
from pathlib import Path

from cryptography import x509
from django.core.management.base import BaseCommand, CommandError

from labrecords.errors import ReportUnreadable
from labrecords.reports import certificate
from labrecords.reports.qualification import lines, verification
from labrecords.reports.text import shown

HEADINGS = {
    verification.SEAL: "Seal",
    verification.FILES: "Attached files, against their SHA-256",
    verification.SIGNATURES: "Signatures that the report prints, against the attached evidence",
    verification.NUMBERS: "Results, computed again from the attached readings",
    verification.PAGES: "Pages",
}
MANY = {lines.COUPON: "values of single coupons", lines.PAIR: "pairs of angles of one drop"}
DIFFERS, UNREADABLE, PAGES_OPEN = 1, 2, 3


class Command(BaseCommand):
    help = (
        "Checks the signature of an issued report, computes every result again from the attached readings and says "
        "which agree. Exit code 0: everything agrees; 1: something does not; 2: the file cannot be read; 3: nothing "
        "disagrees, but the pages were not compared (another version drew them) and no certificate is known."
    )
    requires_system_checks = []  # a copy is checked wherever the program is, whatever else is set up there

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, metavar="FILE.pdf")
        by = parser.add_mutually_exclusive_group()
        by.add_argument("--certificate", type=Path, metavar="FILE.pem", help="of the lab, as the lab gave it to you")
        by.add_argument("--fingerprint", metavar="HEX", help="SHA-256 of the lab's certificate, as the lab told you")
        parser.add_argument("--json", action="store_true", dest="as_json", help="everything found, as JSON")
        parser.add_argument("--data", help="folder whose certificates are known (default: var)")

    def handle(self, *, file, certificate, fingerprint, as_json, **options):
        try:
            found = verification.verify(_bytes_of(file), file.name, fingerprints=_known(certificate, fingerprint))
        except ReportUnreadable as refusal:
            raise CommandError(shown(refusal), returncode=UNREADABLE) from None
        self.stdout.write(json.dumps(found.as_data(), ensure_ascii=False, indent=1) if as_json else _as_text(found))
        if not found.agrees:
            raise SystemExit(DIFFERS)
        if not found.vouches_for_pages:
            raise SystemExit(PAGES_OPEN)


def _bytes_of(file):
    try:
        return file.read_bytes()
    except OSError as problem:
        raise ReportUnreadable(file=file.name, why=problem.strerror) from None


def _known(file, fingerprint):
    """Fingerprints of the certificates that are known: those named, else those of the data folder; None without any."""
    if fingerprint is not None:  # an empty one is a shell variable that is not set, and no choice to compare nothing
        digits = "".join(sign for sign in fingerprint if sign not in ": \t").upper()
        if len(digits) != 64 or not set(digits) <= set("0123456789ABCDEF"):
            raise CommandError("--fingerprint takes the 64 hexadecimal digits of a SHA-256.", returncode=UNREADABLE)
        return {":".join(digits[place : place + 2] for place in range(0, 64, 2))}
    if file:
        try:
            rows = x509.load_pem_x509_certificates(file.read_bytes())
        except (OSError, ValueError) as problem:
            raise CommandError(f"{file} holds no certificate: {problem}", returncode=UNREADABLE) from None
    else:
        rows = certificate.known()
    return {certificate.fingerprint(row) for row in rows} or None


def _as_text(found):
    told = [f"Report {found.report or '(no number)'} of {found.lab or '(no laboratory named)'}: {found.file}"]
    if found.certificate:
        told += [
            f"Sealed by {found.certificate['subject']} on {found.signed_at or '(no date)'}",
            f"SHA-256 fingerprint {found.certificate['fingerprint']}",
        ]
    for area, heading in HEADINGS.items():
        rows = [item for item in found.findings if item.area == area]
        if rows:
            told += ["", heading, *_rows(rows)]
    told += ["", *[f"Note: {note}" for note in found.notes], _conclusion(found)]
    return "\n".join(shown(line) for line in told)


def _rows(rows):
    """One line a finding under what it belongs to; of the many that agree, how many they are."""
    for group, held in groupby(rows, key=_under):
        held = list(held)
        if group:
            yield f"  {group}"
        many = Counter(item.kind for item in held if item.kind in MANY and item.agrees)
        yield from (_row(item) for item in held if item.kind not in MANY or not item.agrees)
        yield from (f"  agrees   {count} {MANY[kind]}" for kind, count in many.items())


def _under(item):
    """The heading of a line: its group of coupons; pairs of all runs share one, a requirement needs none."""
    return {lines.OUTCOME: "", lines.PAIR: "Single drops"}.get(item.kind, item.group)


def _row(item):
    what = f"{item.group}: {item.what}" if item.kind in (lines.OUTCOME, lines.PAIR) else item.what
    if item.agrees:
        said = [item.printed or item.why]
    else:
        said = [item.why, f"printed {item.printed}, computed again {item.recomputed}" if item.recomputed else ""]
    return f"  {'agrees ' if item.agrees else 'DIFFERS'}  {what}" + "".join(f"; {part}" for part in said if part)


def _conclusion(found):
    count, wrong = len(found.findings), sum(not item.agrees for item in found.findings)
    if wrong:
        return f"NOT AS IT SHOULD BE: {wrong} of {count} things looked at differ."
    if not found.vouches_for_pages:
        return (
            f"NOT SHOWN: the {count} things looked at agree, but what stands on the pages was not compared, and who "
            "sealed the file is not known: see above. Give the fingerprint, or use the version that issued the report."
        )
    if found.sealer_known is None:
        return f"All {count} things looked at agree with each other. Who sealed the file is not shown: see above."
    return f"Everything agrees: {count} of {count} things looked at, sealed by a known certificate."
