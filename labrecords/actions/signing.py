"""Signing: the password is asked for again, outside the transaction; and what no longer fits a signature is told."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from django.contrib.auth import authenticate
from django.http import HttpRequest
from django.views.decorators.debug import sensitive_variables

from labrecords import access, content
from labrecords.errors import SignatureBroken, SigningRefused
from labrecords.models import Assessment, Signature
from labrecords.models.assessment import APPROVED, COMPLETE, ISSUED, REVIEWED, STEP_OF
from labrecords.models.signature import MEANINGS
from labrecords.trail import verb

MOVED = (
    "its digest does not fit: assessment, version, person, name, role, meaning, time or content were altered after "
    "signing, or the signature was moved here"
)
# Signatures without which an assessment is not in a state.
NEEDED = {state: tuple(STEP_OF)[:count] for count, state in enumerate((COMPLETE, REVIEWED, APPROVED), start=1)}
NEEDED[ISSUED] = tuple(STEP_OF)


def signed(meaning):
    """Like `@verb`, and the person gives the password again, which ends here: neither action nor trail sees it.

    Besides what the action takes, a signing verb takes `password` and `request`: what the attempt came with, which
    the throttle counts by (a command has none). The attempt is made before the transaction opens, so that a failed
    one stays on record.
    """

    def decorate(action):
        acting = verb(action)

        @functools.wraps(action)
        @sensitive_variables("password")
        def wrapped(*, by, password="", request=None, **details):
            access.check(by, acting.verb)
            _confirm(by, password, request or HttpRequest())
            return acting(by=by, **details)

        wrapped.verb, wrapped.meaning = acting.verb, meaning
        return wrapped

    return decorate


@sensitive_variables("password")
def _confirm(by, password, request):
    # Whoever has failed too often is refused here, before the password is looked at.
    person = authenticate(request=request, username=by.username, password=password) if password else None
    if person is None or person.pk != by.pk:
        raise SigningRefused(who=by.full_name)


@dataclass(frozen=True)
class Checked:
    """A signature with what does not fit it; nothing, where it is valid."""

    signature: Signature
    faults: tuple[str, ...]
    counts: bool  # of the version that the assessment is at

    @property
    def is_valid(self):
        return not self.faults


def verify(assessment) -> list[Checked]:
    """Each signature of an assessment, checked against the content of its version and its own digest."""
    versions = {row.number: row for row in assessment.versions.all()}
    return [
        Checked(row, tuple(_faults(row, versions.get(row.version))), row.version == assessment.version)
        for row in assessment.signatures.select_related("person").order_by("version", "id")
    ]


def _faults(signature, version):
    if version is None:
        yield f"version {signature.version} of this assessment has no content"
    elif content.content_sha256(version.evidence) != version.content_sha256:
        yield f"the content of version {version.number} was changed after it was stored"
    if version is not None and version.content_sha256 != signature.content_sha256:
        yield "other content was signed"
    if content.signature_digest(signature.facts) != signature.digest:
        yield MOVED
    yield from _against_trail(signature)


def _against_trail(signature):
    """The trail keeps what was stored; an altered row says something else."""
    first = signature.events.order_by("pgh_id").first()
    if first is None:
        yield "the trail does not know it"
        return
    for field in signature._meta.concrete_fields:
        then, now = getattr(first, field.attname), getattr(signature, field.attname)
        if then != now:
            yield f"{field.verbose_name} was altered: “{then}” was signed, “{now}” stands there"


def findings(assessment) -> list[str]:
    """Every sentence on what does not fit an assessment: its signatures, missing ones, and its report."""
    checked = verify(assessment)
    report = getattr(assessment, "report", None)
    found = [*_told(checked), *_missing(assessment, checked)]
    return found if report is None else [*found, *_report_faults(report, checked)]


def _told(checked):
    return [f"{row.signature}: {fault}" for row in checked for fault in row.faults]


def _missing(assessment, checked):
    given = {row.signature.meaning for row in checked if row.counts}
    needed = [meaning for meaning in NEEDED.get(assessment.state, ()) if meaning not in given]
    return [f"{assessment}: the signature as {MEANINGS[meaning]} is missing" for meaning in needed]


def _report_faults(report, checked):
    """The report prints what was signed, and the signatures as they are stored."""
    counting = [row.signature for row in checked if row.counts]
    if any(row.content_sha256 != content.content_sha256(report.evidence) for row in counting):
        yield f"report {report}: its evidence is not what was signed"
    printed = report.evidence["report"]["signatures"]
    if {row["digest"] for row in printed} != {row.digest for row in counting}:
        yield f"report {report}: it prints other signatures than are on record"
    for row in printed:
        if content.signature_digest(row) != row["digest"]:
            yield f"report {report}: its signature as {row['meaning']} was altered"


def refuse_broken(assessment):
    """Nobody signs on top of a signature that does not fit. Those of earlier versions no longer count."""
    checked = [row for row in verify(assessment) if row.counts]
    found = [*_told(checked), *_missing(assessment, checked)]
    if found:
        raise SignatureBroken(assessment=assessment.pk, why="; ".join(found) + ".")


def broken_signatures() -> list[str]:
    """Findings of all assessments, for a check of the whole record; empty when every signature is valid."""
    rows = Assessment.objects.select_related("report").defer("report__file").order_by("pk")
    return [sentence for assessment in rows.iterator(chunk_size=20) for sentence in findings(assessment)]


def printed(signature) -> dict:
    """The signature as a report carries it: everything that its digest covers, so that any copy can be checked."""
    return signature.facts | {"role_title": signature.role_title, "digest": signature.digest}
