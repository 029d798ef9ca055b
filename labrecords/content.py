"""What a signature covers, as bytes that anybody can write again: no Django, no clock, no database."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC

SIGNED_FACTS = (
    "assessment", "version", "content_sha256", "person", "username", "name", "role", "meaning", "signed_at",
)  # fmt: skip


def canonical(value) -> bytes:
    """JSON with sorted keys, no spaces, UTF-8: the same value gives the same bytes."""
    return json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()


def sha256(value) -> str:
    return hashlib.sha256(canonical(value)).hexdigest()


def signed_part(evidence: dict) -> dict:
    """The evidence as it was signed. Number, date, names and signatures come with the issue and are left out."""
    return evidence | {"report": {"amends": evidence["report"]["amends"]}}


def content_sha256(evidence: dict) -> str:
    """Of an assessment's evidence and of the report issued from it: the same."""
    return sha256(signed_part(evidence))


def signature_digest(facts: dict) -> str:
    """Of who signed what as what, and when. `facts` may hold more than is covered (a report prints more)."""
    return sha256({name: facts[name] for name in SIGNED_FACTS})


def instant(moment) -> str:
    """A time as it stands in a signature's digest."""
    return f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M:%S.%fZ}"
