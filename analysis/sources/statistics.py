"""Sources of the statistics and of the decision rules."""

from analysis.sources.source import Source

SOURCES = [
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
