"""Not published: said openly, never dressed up as a citation."""

from analysis.sources.source import Source

SOURCES = [
    Source("common_practice", "common practice of the trade; no published source"),
    Source("from_memory", "from memory of the trade; not read in a source"),
]  # fmt: skip
