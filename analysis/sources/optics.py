"""Sources of optics and colour."""

from analysis.sources.source import Source

SOURCES: list[Source] = [
]  # fmt: skip
