"""Sources of the lubricant film: stability, cloaking, thickness, loss."""

from analysis.sources.source import Source

SOURCES = [
    Source("wong_2011",
           "Wong et al., Nature 477 (2011) 443: two energy criteria of a lubricant film; form re-derived from the "
           "energies, its table of films not found"),
    Source("smith_2013",
           "Smith et al., Soft Matter 9 (2013) 1772: spreading coefficient, cloaking and states of a filled texture; "
           "content from memory, algebra re-derived"),
    Source("fowkes_1964",
           "Fowkes, Ind. Eng. Chem. 56 (1964) 40: interfacial tension from dispersive parts; form from memory"),
    Source("girifalco_good_1957",
           "Girifalco & Good, J. Phys. Chem. 61 (1957) 904: interfacial tension with an interaction parameter Φ; "
           "form from memory"),
    Source("antonow_1907", "Antonow, J. Chim. Phys. 5 (1907) 372: rule of the difference; form from memory"),
    Source("bartell_osterhof_1927",
           "Bartell & Osterhof, Ind. Eng. Chem. 19 (1927) 1277: Young's equation written for a solid in air and "
           "under a second liquid; form from memory, re-derived"),
    Source("liquid_young",
           "Force balance of a drop on a thin film of lubricant, Young's equation with the lubricant in place of "
           "the solid; form from memory"),
    Source("texture_geometry", "Geometry of posts, fibres, weaves and measured heights; counted by hand"),
    Source("iso_25178_terms",
           "ISO 25178-2: names Sa, Sq and Sdr of areal surface texture; from memory, text not read"),
    Source("gravimetry", "Thickness from weighing: mass over density and area"),
    Source("landau_levich_1942",
           "Landau & Levich, Acta Physicochim. URSS 17 (1942) 42, and Derjaguin (1943): film on a plate drawn from "
           "a bath; form from memory, constant found again by integration"),
    Source("snoeijer_2008",
           "Snoeijer et al., Phys. Rev. Lett. 100 (2008) 244502: thicker branch on partially wetting plates "
           "(abstract read)"),
    Source("emslie_1958",
           "Emslie, Bonner & Peck, J. Appl. Phys. 29 (1958) 858: flow on a rotating disk; form from memory, "
           "re-derived"),
    Source("jeffreys_1930",
           "Jeffreys, Proc. Camb. Phil. Soc. 26 (1930) 204: draining of a vertical plate; form from memory, "
           "re-derived"),
    Source("wexler_2015",
           "Wexler, Jacobi & Stone, Phys. Rev. Lett. 114 (2015) 168301: shear-driven failure of a liquid-infused "
           "surface; form from memory, constants of a wide groove derived by hand"),
    Source("hertz_knudsen",
           "Hertz–Knudsen–Langmuir relation: greatest evaporation flux, into vacuum, as in textbooks"),
    Source("stefan_diffusion",
           "Evaporation through a stagnant layer of gas (Stefan), as in textbooks of mass transfer; form from memory"),
    Source("gum_monte_carlo", "JCGM 101:2008: propagation of distributions by Monte Carlo; from memory, not read"),
    Source("badr_2024",
           "Badr, Hauer, Vollmer & Schmid, Langmuir 40 (2024) 12368, open data: friction of a water drop on "
           "lubricated brushes against its speed"),
    Source("jurin", "Capillary rise in a round pore (Jurin) and its Laplace pressure, as in textbooks"),
    Source("hurvich_tsai_1989",
           "Hurvich & Tsai, Biometrika 76 (1989) 297: information criterion for few readings; from memory"),
    Source("burnham_anderson_2002",
           "Burnham & Anderson, Model Selection and Multimodel Inference (2002): weights of models; from memory"),
]  # fmt: skip
