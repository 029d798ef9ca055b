"""Sources of other measures: ice, freezing, fouling, adhesion of the coating."""

from analysis.sources.source import Source

SOURCES: list[Source] = [
]  # fmt: skip
