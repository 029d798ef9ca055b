"""Every standard, paper and handbook once: key -> citation with clause, equation or table.

A standard stands here for what it covers; naming it never claims that a test conforms to it.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Source:
    """Where a formula, a limit or a number comes from."""

    key: str
    citation: str


_ALL = [
    # Not published: said openly, never dressed up as a citation
    Source("common_practice", "common practice of the trade; no published source"),
    Source("from_memory", "from memory of the trade; not read in a source"),
    # Wetting
    Source("cap_geometry", "Geometry of the spherical cap: V = (πR³/3)(2 + cos θ)(1 − cos θ)²"),
    Source("young_laplace",
           "Young–Laplace equation of a resting drop: capillary length √(γ/ρg), puddle height "
           "2√(γ/ρg)·sin(θ/2), as in textbooks"),
    Source("furmidge_1962", "Furmidge, J. Colloid Sci. 17 (1962) 309: m g sin α = w γ (cos θr − cos θa)"),
    Source("extrand_gent_1990", "Extrand & Gent (1990): cosine linear in azimuth, 4/π with the radius"),
    Source("elsherbini_jacobi_2006",
           "ElSherbini & Jacobi, J. Colloid Interface Sci. 299 (2006) 841: 24/π³ with the "
           "diameter of the circle of equal contact area (48/π³ with its radius)"),
    Source("de_coninck_2016", "De Coninck, Dunlop & Huillet, arXiv:1610.06725: π/2 with the contact radius"),
    Source("stern_2025",
           "Stern et al., Langmuir 41 (2025) 11785: published retention factors k spread widely "
           "and are not explained by one value"),
    Source("korhonen_2013",
           "Korhonen et al., Langmuir (2013): a receding angle read while the contact line stands"
           " still is pseudo-movement; hysteresis percent (cos θr − cos θa)/2"),
    Source("diffusion_evaporation",
           "Evaporation of a resting drop limited by diffusion of its vapour; the factor for the "
           "contact angle from memory, checked against its exact cases 0°, 90° and 180°"),
    Source("iapws_surface_tension", "IAPWS R1-76(2014): surface tension of ordinary water"),
    Source("water_vapour",
           "Vapour pressure of water at saturation and diffusion of its vapour in air: usual "
           "formulas, from memory"),
    # Film
    Source("wong_2011", "Wong et al., Nature 477 (2011) 443: two energy criteria of a lubricant film"),
    Source("smith_2013", "Smith et al., Soft Matter 9 (2013) 1772: spreading coefficient and cloaking"),
    Source("fowkes_1964", "Fowkes, Ind. Eng. Chem. 56 (1964) 40: interfacial tension from dispersive parts"),
    # Standards for methods
    Source("iso_19403_1",
           "ISO 19403-1:2017, wettability, terms and general principles (scope only read; may be "
           "restricted for non-Newtonian liquids; no conformity is claimed)"),
    Source("iso_19403_6",
           "ISO 19403-6:2024, wettability: advancing and receding angle by changing the drop "
           "volume (scope only read; drop volumes, rates and replicates are not; no conformity is"
           " claimed)"),
    Source("iso_19403_7",
           "ISO 19403-7:2024, wettability: roll-off angle and dynamic angles on a tilt stage "
           "(scope only read; drop volumes, rates and replicates are not; no conformity is "
           "claimed)"),
    Source("astm_d7334",
           "ASTM D7334-08(2022): advancing contact angle only (scope only read; no conformity is "
           "claimed)"),
    Source("en_828",
           "EN 828: hysteresis is normally not negligible above about 0.5 µm roughness; the angle"
           " is then no constant of the material"),
    Source("iso_ts_10689",
           "ISO/TS 10689:2023: superhydrophobic surfaces judged by advancing and receding angle "
           "and hysteresis before and after stress, limits by agreement (scope only read)"),
    # Statistics and decisions
    Source("nist_handbook_1_3_5_2", "NIST/SEMATECH e-Handbook of Statistical Methods: limits for the mean"),
    Source("nist_handbook_7_2_6_3",
           "NIST/SEMATECH e-Handbook 7.2.6.3: tolerance limits, normal distribution"),
    Source("iso_16269_6", "ISO 16269-6: statistical tolerance intervals"),
    Source("clopper_pearson_1934",
           "Clopper & Pearson, Biometrika 26 (1934) 404: exact limits of a proportion"),
    Source("searle_1992", "Searle, Casella & McCulloch, Variance Components (1992)"),
    Source("schmee_hahn_1979",
           "Schmee & Hahn (1979): censored normal regression, data of Nelson & Hahn (1972)"),
    Source("hewett_ganser_2007",
           "Hewett & Ganser, Ann. Occup. Hyg. 51 (2007) 611: methods for censored data"),
    Source("hurlbert_1984", "Hurlbert (1984): pseudo-replication"),
    Source("rosner_1983",
           "Rosner (1983), generalised extreme studentised deviate; NIST/SEMATECH e-Handbook "
           "1.3.5.17.3"),
    Source("grubbs_1969", "Grubbs' test: NIST/SEMATECH e-Handbook 1.3.5.17.1; two-sided critical values"),
    Source("mann_kendall",
           "Mann–Kendall trend test and Sen's slope: USEPA Unified Guidance (2009), example 17-6"),
    Source("mann_whitney", "Mann–Whitney rank-sum test (Hollander & Wolfe)"),
    Source("iso_17025_6_4_13", "ISO/IEC 17025:2017, 6.4.13 e: calibration of equipment and its due date"),
    Source("iso_17025_7_8_6", "ISO/IEC 17025:2017, 7.8.6: statement of conformity and decision rule"),
    Source("ilac_g8", "ILAC-G8:09/2019, 4.2: decision rules and guard bands"),
    Source("jcgm_106", "JCGM 106:2012: measurement uncertainty in conformity assessment"),
    Source("iso_10576",
           "ISO 10576: conformity with limits under uncertainty (no rule for inconclusive cases)"),
    Source("gum", "JCGM 100:2008 (GUM), 5.1: combined standard uncertainty of uncorrelated inputs"),
]  # fmt: skip

SOURCES: dict[str, Source] = {source.key: source for source in _ALL}


def citation(key: str) -> str:
    """The citation behind a key; a key that is not listed is a mistake in the code and raises KeyError.

    >>> citation("common_practice")
    'common practice of the trade; no published source'
    """
    return SOURCES[key].citation
