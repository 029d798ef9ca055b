"""Sources of the wetting formulas: angles, drop shapes, retention, surface energy."""

from analysis.sources.source import Source

SOURCES = [
    Source("young_1805", "Young's equation of the contact angle (1805), as in textbooks; original not read"),
    Source("dupre_1869", "Young–Dupré equation of the work of adhesion, as in textbooks; original not read"),
    Source("wenzel_1936",
           "Wenzel, Ind. Eng. Chem. 28 (1936) 988; from memory, restated in Nature Sustainability 2020, "
           "DOI 10.1038/s41893-020-0591-9"),
    Source("cassie_baxter_1944",
           "Cassie & Baxter, Trans. Faraday Soc. 40 (1944) 546: f1 cos θ − f2; from memory"),
    Source("nat_sustain_2020",
           "Nature Sustainability 2020, DOI 10.1038/s41893-020-0591-9, text and supplement read: fibres, "
           "particles on fibres, weave, robustness A*, open area"),
    Source("tadmor_2004", "Tadmor, Langmuir 20 (2004) 7659: equilibrium angle from θa and θr; from memory"),
    Source("cap_geometry", "Geometry of the spherical cap: V = (πR³/3)(2 + cos θ)(1 − cos θ)²"),
    Source("young_laplace",
           "Young–Laplace equation of a resting drop: capillary length √(γ/ρg), puddle height "
           "2√(γ/ρg)·sin(θ/2), as in textbooks"),
    Source("furmidge_1962",
           "Furmidge, J. Colloid Sci. 17 (1962) 309: m g sin α = w γ (cos θr − cos θa); from memory, k = 1 as the "
           "usual form read in the abstract of Stern et al., Langmuir 41 (2025) 11785"),
    Source("extrand_gent_1990",
           "Extrand & Gent (1990): cosine linear in azimuth, 4/π with the radius; from memory, the factor "
           "integrated anew"),
    Source("elsherbini_jacobi_2006",
           "ElSherbini & Jacobi, J. Colloid Interface Sci. 299 (2006) 841: 24/π³ with the "
           "diameter of the circle of equal contact area (48/π³ with its radius); abstract read, the factor "
           "integrated anew"),
    Source("de_coninck_2016",
           "De Coninck, Dunlop & Huillet, arXiv:1610.06725 (abstract read): π/2 with the contact radius"),
    Source("stern_2025",
           "Stern et al., Langmuir 41 (2025) 11785 (abstract read): published retention factors k spread widely "
           "and are not explained by one value"),
    Source("korhonen_2013",
           "Korhonen et al., Langmuir (2013): a receding angle read while the contact line stands"
           " still is pseudo-movement; hysteresis percent (cos θr − cos θa)/2 from memory"),
    Source("diffusion_evaporation",
           "Evaporation of a resting drop limited by diffusion of its vapour; the factor for the "
           "contact angle from memory, checked against its exact cases 0°, 90° and 180°"),
    Source("iapws_surface_tension",
           "IAPWS R1-76(2014): surface tension of ordinary water (scope read; the formula as in the packages iapws "
           "1.5.5 and chemicals 1.5.2)"),
    Source("water_vapour",
           "Vapour pressure of water at saturation and diffusion of its vapour in air: usual "
           "formulas, from memory"),
    Source("owens_wendt_1969",
           "Owens & Wendt, J. Appl. Polym. Sci. 13 (1969) 1741: geometric means of dispersive and "
           "polar parts (abstract read)"),
    Source("rabel_1971", "Rabel (1971) and Kaelble (1970): the same as a straight line (form from memory)"),
    Source("wu_1971", "Wu (1971): harmonic means of dispersive and polar parts (form and parts from memory)"),
    Source("van_oss_1988",
           "van Oss, Chaudhury & Good, Chem. Rev. 88 (1988) 927: apolar part, electron acceptor and "
           "donor; numbers of the liquids partly from memory, checked against published results"),
    Source("fox_zisman_1950", "Fox & Zisman (1950): critical surface tension (from memory)"),
    Source("kwok_neumann_1999",
           "Kwok & Neumann, Adv. Colloid Interface Sci. 81 (1999) 167: equation of state (constant b "
           "from memory)"),
    Source("probe_liquids_a",
           "Probe liquids as most used, 20 °C: water split in several texts, hexadecane, dimethyl "
           "sulfoxide, ethanol, toluene in a compilation; the rest from memory"),
    Source("probe_liquids_b",
           "Probe liquids of Owens & Wendt (1969), from memory; recomputing their table agrees to 0.13 "
           "mN/m"),
    Source("probe_liquids_c", "Probe liquids of a published problem set: diiodomethane 48.5 + 2.3 mN/m"),
    Source("probe_liquids_d",
           "Probe liquids of university notes that cite Nanoscale 8 (2016) 5764 and J. Colloid Interface "
           "Sci. 640 (2023) 445"),
    Source("probe_liquids_e", "Probe liquids of a compiled web table, 20 to 40 °C; upstream papers not shown"),
]  # fmt: skip
