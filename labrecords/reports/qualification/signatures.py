"""The signatures that a report prints, held against the content that it carries and against each other.

Nobody's key is in a digest: who changes the content may compute all of them anew. That is for the seal to show.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from labrecords import content
from labrecords.access import ROLES
from labrecords.models.assessment import AUTHOR, STEP_OF
from labrecords.models.signature import MEANINGS

SHOWN = 16  # digits of a hash in a sentence
INSTANT = "%Y-%m-%dT%H:%M:%S.%fZ"  # as `content.instant` writes it


def proven(evidence) -> Iterator[tuple[str, bool, str]]:
    """(what, holds, why) of the content, of each signature, and of the signatures together."""
    report, given = evidence["report"], evidence["report"]["signatures"]
    actual = content.content_sha256(evidence)
    yield _told("The attached evidence is the signed content", _content_faults(report, actual))
    for row in given:
        what = f"Signature as {MEANINGS.get(row['meaning'], row['meaning'])} by {row['name']}"
        yield _told(what, _faults(row, report, actual, evidence["time_zone"]))
    yield _told("An issued report's signatures are there, each once", _together(given))


def _told(what, faults):
    why = "; ".join(faults)
    return what, not why, why


def _content_faults(report, actual):
    if report["content_sha256"] != actual:
        yield f"SHA-256 {str(report['content_sha256'])[:SHOWN]}… is printed, the evidence has {actual[:SHOWN]}…"


def _faults(row, report, actual, zone):
    if row["content_sha256"] != actual:
        yield "other content was signed"
    if content.signature_digest(row) != row["digest"]:
        yield "its digest does not fit what it says"
    if (row["assessment"], row["version"]) != (report["assessment"], report["version"]):
        yield "it is of another assessment or version than the report"
    # Printed beside what the digest covers, in other words.
    if row["role_title"] != ROLES.get(row["role"], row["role"]):
        yield f"“{row['role_title']}” is printed for the role {row['role']}"
    signed = datetime.strptime(row["signed_at"], INSTANT).replace(tzinfo=UTC)
    if row["at"] != f"{signed.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}":
        yield f"“{row['at']}” is printed for {row['signed_at']}"


def _together(given):
    meanings = [row["meaning"] for row in given]
    if meanings != list(STEP_OF):
        yield f"signed as {', '.join(map(str, meanings)) or 'nothing'}; an issued report is as {', '.join(STEP_OF)}"
    authors = [row["person"] for row in given if row["meaning"] == AUTHOR]
    if any(row["person"] in authors for row in given if row["meaning"] != AUTHOR):
        yield "who signed as author signed as another, too"
