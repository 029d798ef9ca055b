"""Sources of optics and colour."""

from analysis.sources.source import Source

SOURCES: list[Source] = [
    Source("johnson_christy_1974",
           "Johnson & Christy, Phys. Rev. B 9 (1974) 5056: n and k of titanium, as tabulated in the "
           "refractiveindex.info database (CC0)"),
    Source("jolivet_2023",
           "Jolivet et al., Appl. Surf. Sci. 608 (2023) 155214: n of an amorphous titanium dioxide film, as "
           "tabulated in the refractiveindex.info database (CC0)"),
    Source("devore_1951", "Devore (1951): dispersion of rutile, ordinary ray, as in the refractiveindex.info database"),
    Source("thin_film_airy",
           "Reflectance of a single film (Airy's summation) and Fresnel's amplitudes at normal incidence, as in "
           "textbooks; checked against the transfer matrix of tmm 0.2.0"),
    Source("byrnes_2016", "Byrnes, arXiv:1603.02720: multilayer optical calculations, the method of the package tmm"),
    Source("plate_two_surfaces",
           "Incoherent sum of the passes through a plate with two surfaces, as in textbooks; checked against "
           "tmm 0.2.0"),
    Source("quarter_wave_layer", "Quarter-wave layer: ideal index √(n0·ns), thickness λ/(4n), as in textbooks"),
    Source("bruggeman_1935",
           "Bruggeman, Ann. Phys. 416 (1935) 636: effective medium of two equal phases; form from memory"),
    Source("lorentz_lorenz",
           "Lorentz–Lorenz rule: polarisabilities add by volume, (n² − 1)/(n² + 2); form from memory"),
    Source("volume_average_index",
           "Volume average of n² (upper bound of Wiener for the permittivity); form from memory"),
    Source("scalar_scattering",
           "Scalar theory of scattering by a slightly rough interface (Bennett & Porteus 1961 for reflection; "
           "for transmission the path difference is Δn·σ); form from memory"),
    Source("cie_015",
           "CIE 015, Colorimetry: 1931 2° observer, illuminant D65, L*a*b*; data and formulas as in "
           "colour-science 0.4.7, clauses not read"),
    Source("iec_61966_2_1", "IEC 61966-2-1: sRGB; matrix and curve as in colour-science 0.4.7, clauses not read"),
    Source("sharma_2005",
           "Sharma, Wu & Dalal, Color Res. Appl. 30 (2005) 21: CIEDE2000 with test pairs in Table 1, read in "
           "copies of the table"),
    Source("habazaki_2004",
           "Habazaki et al., J. Corros. Sci. Eng. 6 (2004) paper 107: thickness of anodic films on titanium and "
           "titanium–aluminium; cites Aladjem (1973) and Harkness & Young (1966) for anodic titania and alumina"),
    Source("ijb_2015_395657",
           "Int. J. Biomaterials 2015, 395657, Table 1: thickness and colour of anodic films on Ti-6Al-4V"),
    Source("calibration_line",
           "Straight line by least squares with its covariance; reading a calibration line backwards, as in textbooks"),
    Source("anodic_growth_from_memory", "Growth per volt of anodic films on valve metals, from memory; not read"),
]  # fmt: skip
