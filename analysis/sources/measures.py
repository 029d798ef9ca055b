"""Sources of other measures: ice, freezing, moving drops, fouling, adhesion of the coating."""

from analysis.sources.source import Source

SOURCES = [
    Source("ice_adhesion_practice",
           "AIP Advances 9 (2019) 055304 (abstract read): ice adhesion on aluminium differs two- to threefold with "
           "the kind of ice; there is no standard test, so results are compared within one method"),
    Source("meuler_2010",
           "Meuler et al., ACS Appl. Mater. Interfaces 2 (2010) 3100 (abstract read): ice adhesion on smooth coatings "
           "goes with 1 + cos θr, up to a 4.2-fold reduction; not for textured or very low-adhesion surfaces"),
    Source("welch_satterthwaite",
           "Welch (1947) and Satterthwaite (1946): two means with unequal variances, as in textbooks"),
    Source("censored_exponential",
           "Exponential delays with right-censored times: events over the whole time watched, as in textbooks of "
           "reliability"),
    Source("classical_nucleation",
           "Nucleation as a Poisson process at constant temperature: rate over area or volume (form from memory)"),
    Source("dimensionless_numbers", "Capillary and Weber number, restitution and free fall, as in textbooks"),
    Source("richard_2002",
           "Richard, Clanet & Quéré, Nature 417 (2002) 811: contact time of bouncing drops about "
           "2.6·√(ρR³/γ) (from memory)"),
    Source("fractional_logit",
           "Papke & Wooldridge (1996): mean of a proportion by the logit with a robust variance (from memory; checked "
           "against a general package)"),
    Source("reduction_definitions",
           "Usual definitions of removal, reduction against control and log reduction (from memory)"),
]  # fmt: skip
