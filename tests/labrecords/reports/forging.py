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


def place_of_signature(file):
    start = file.rindex(b"/Contents <") + len(b"/Contents ")
    return start, file.index(b">", start) + 1


def turned(file):
    """The signature (r, s) as (r, n − s), which verifies as well and needs no key."""
    from asn1crypto import cms
    from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature, encode_dss_signature

    start, end = place_of_signature(file)
    held = cms.ContentInfo.load(bytes.fromhex(file[start + 1 : end - 1].decode()))
    (info,) = held["content"]["signer_infos"]
    r, s = decode_dss_signature(info["signature"].native)
    info["signature"] = encode_dss_signature(r, seal.ORDER - s)
    digits = held.dump(force=True).hex().upper().encode()
    return file[:start] + b"<" + digits.ljust(end - start - 2, b"0") + b">" + file[end:]
