"""A hand that changes issued reports, for the tests that must find what it did."""

import copy
from contextlib import contextmanager
from datetime import UTC, datetime

from django.test import override_settings

from labrecords import content
from labrecords.reports import certificate, qualification, seal
from labrecords.reports.qualification import package
from labrecords.reports.unsealing import unsealed


@contextmanager
def another_key(folder):
    """Another data folder, in which another certificate is made in the same lab's name."""
    folder.mkdir(exist_ok=True)
    with override_settings(DATA=folder):
        yield certificate.of_laboratory("Invented Surface Lab", datetime.now(UTC))


def attached(file):
    return unsealed(file, "report").attached


def sealed(rendered, files, by, at=None):
    about = {name: package.ABOUT.get(name, "a further file") for name in files}
    return seal.sealed(rendered, files, about, by=by, at=at or datetime.now(UTC), reason="forged")


def resealed(file, folder, *, change=None, draw=None, described=True):
    """The report with its evidence changed, described and signed anew: what somebody without the lab's key can do."""
    evidence = package.evidence_of(attached(file))
    with another_key(folder) as other:
        evidence["report"]["certificate"] = other.facts()
        (change or (lambda evidence: None))(evidence)
        drawn = copy.deepcopy(evidence)
        (draw or (lambda evidence: None))(drawn)
        return sealed(qualification.render(drawn), package.files(evidence), other)


def signed_anew(evidence):
    """The digests as if the same people had signed this content: no key is in them, so anybody can compute them."""
    report = evidence["report"]
    report["content_sha256"] = content.content_sha256(evidence)
    for row in report["signatures"]:
        row["content_sha256"] = report["content_sha256"]
        row["digest"] = content.signature_digest(row)
