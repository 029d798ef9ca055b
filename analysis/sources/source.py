"""The form of a source."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Source:
    """Where a formula, a limit or a number comes from."""

    key: str
    citation: str
