"""Sources of the lubricant film: stability, cloaking, thickness, loss."""

from analysis.sources.source import Source

SOURCES = [
    Source("wong_2011", "Wong et al., Nature 477 (2011) 443: two energy criteria of a lubricant film"),
    Source("smith_2013", "Smith et al., Soft Matter 9 (2013) 1772: spreading coefficient and cloaking"),
    Source("fowkes_1964", "Fowkes, Ind. Eng. Chem. 56 (1964) 40: interfacial tension from dispersive parts"),
]  # fmt: skip
