"""Every standard, paper and handbook once: key -> citation with clause, equation or table.

One file a field, each with a list SOURCES. A standard stands here for what it covers; naming it never claims
that a test conforms to it.
"""

from __future__ import annotations

from analysis.sources import film, measures, methods, optics, practice, statistics, wetting
from analysis.sources.source import Source

__all__ = ["SOURCES", "Source", "citation"]

_FILES = (practice, wetting, film, optics, measures, statistics, methods)
SOURCES: dict[str, Source] = {source.key: source for file in _FILES for source in file.SOURCES}


def citation(key: str) -> str:
    """The citation behind a key; a key that is not listed is a mistake in the code and raises KeyError.

    >>> citation("common_practice")
    'common practice of the trade; no published source'
    """
    return SOURCES[key].citation
