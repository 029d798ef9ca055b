"""Sources of the statistics and of the decision rules."""

from analysis.sources.source import Source

SOURCES = [
    Source("nist_handbook_1_3_5_2", "NIST/SEMATECH e-Handbook of Statistical Methods: limits for the mean"),
    Source("nist_handbook_7_2_6_3",
           "NIST/SEMATECH e-Handbook 7.2.6.3: tolerance limits, normal distribution"),
    Source("iso_16269_6", "ISO 16269-6: statistical tolerance intervals"),
    Source("clopper_pearson_1934",
           "Clopper & Pearson, Biometrika 26 (1934) 404: exact limits of a proportion"),
    Source("wilson_1927", "Wilson, J. Am. Stat. Assoc. 22 (1927) 209: score interval of a proportion (from memory)"),
    Source("nist_handbook_8_4_1_2",
           "NIST/SEMATECH e-Handbook 8.4.1.2–3: Weibull fit of censored lifetimes"),
    Source("kaplan_meier_1958",
           "Kaplan & Meier, J. Am. Stat. Assoc. 53 (1958) 457: product-limit estimate (from memory)"),
    Source("greenwood_1926",
           "Greenwood, Reports on Public Health 33 (1926): standard error of a survival share (from memory)"),
    Source("mantel_1966", "Mantel, Cancer Chemother. Rep. 50 (1966) 163: log-rank test (from memory)"),
    Source("brookmeyer_crowley_1982",
           "Brookmeyer & Crowley, Biometrics 38 (1982) 29: interval of the median life (from memory)"),
    Source("olsen_1978",
           "Olsen, Econometrica 46 (1978) 1211: the censored normal likelihood is concave (from memory)"),
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
    Source("sen_1968", "Sen, J. Am. Stat. Assoc. 63 (1968) 1379: slope from Kendall's tau (form from memory)"),
    Source("gilbert_1987",
           "Gilbert, Statistical Methods for Environmental Pollution Monitoring (1987), chapter 16: interval of "
           "Sen's slope, as printed by the R package EnvStats"),
    Source("nist_handbook_1_3_5_12", "NIST/SEMATECH e-Handbook 1.3.5.12: autocorrelation"),
    Source("nist_handbook_1_3_5_13", "NIST/SEMATECH e-Handbook 1.3.5.13: runs test"),
    Source("nist_handbook_1_4_2_5", "NIST/SEMATECH e-Handbook 1.4.2.5: beam deflections, data set Lew"),
    Source("wald_wolfowitz_1940",
           "Wald & Wolfowitz, Ann. Math. Stat. 11 (1940) 147: number of runs (form from memory)"),
    Source("pettitt_1979", "Pettitt, Appl. Stat. 28 (1979) 126: change-point problem (form from memory)"),
    Source("durbin_watson_1950", "Durbin & Watson, Biometrika 37 (1950) 409 (form from memory)"),
    Source("levene_1960",
           "Levene (1960), with the median as Brown & Forsythe (1974): NIST/SEMATECH e-Handbook 1.3.5.10"),
    Source("iso_7870_2", "ISO 7870-2:2023: Shewhart control charts (scope only read; constants integrated here)"),
    Source("tippett_1925", "Tippett, Biometrika 17 (1925) 364: range of normal samples (form from memory)"),
    Source("nelson_1984",
           "Nelson, J. Qual. Technol. 16 (1984) 237: eight run rules (from memory; which of them ISO 7870-2 keeps "
           "was not read)"),
    Source("montgomery_sqc", "Montgomery, Introduction to Statistical Quality Control (values from memory)"),
    Source("page_1954", "Page, Biometrika 41 (1954) 100: continuous inspection schemes (form from memory)"),
    Source("crowder_1987", "Crowder, Technometrics 29 (1987) 401: run length of EWMA charts (form from memory)"),
    Source("lucas_saccucci_1990", "Lucas & Saccucci, Technometrics 32 (1990) 1: EWMA charts (values from memory)"),
    Source("champ_woodall_1987",
           "Champ & Woodall, Technometrics 29 (1987) 393: run lengths with run rules (values from memory)"),
    Source("nist_handbook_6_3_2", "NIST/SEMATECH e-Handbook 6.3.2: control charts; 6.3.2.2 individuals, 6.3.2.3 "
           "CUSUM, 6.3.2.4 EWMA"),
    Source("gum", "JCGM 100:2008 (GUM), 5.1: combined standard uncertainty of uncorrelated inputs"),
    Source("nist_strd_univariate",
           "NIST Statistical Reference Datasets (StRD), univariate summary statistics: certified mean, "
           "standard deviation and lag-1 autocorrelation"),
    Source("nist_strd_anova",
           "NIST Statistical Reference Datasets (StRD), one-way analysis of variance: certified sums of "
           "squares and F"),
    Source("snedecor_cochran_1967",
           "Snedecor & Cochran, Statistical Methods (6th ed., 1967), chapter 10, p. 286: nested analysis of variance"),
    Source("satterthwaite_1946",
           "Satterthwaite, Biometrics Bulletin 2 (1946) 110: degrees of freedom of a combination of mean squares"),
    Source("wald_1940",
           "Wald, Ann. Math. Statist. 11 (1940) 96: exact limits for a ratio of variances with unequal group "
           "sizes (form from memory)"),
    Source("harville_1977",
           "Harville, J. Am. Stat. Assoc. 72 (1977) 320: maximum likelihood and restricted maximum likelihood "
           "for variance components (form from memory)"),
    Source("iso_5725_2",
           "ISO 5725-2:1994, clause 7 and annex B.1: repeatability and reproducibility (clause numbers and "
           "example from memory; later editions exist)"),
    Source("astm_e691",
           "ASTM E691: interlaboratory study of a test method; example of glucose in serum (form from memory, "
           "data from the public set GLUCOSE.DAT of NIST Dataplot)"),
    Source("mandel_h_k",
           "Mandel's h and k: exact critical values from the t and F distributions (beta laws in the manual of "
           "the R package metRology)"),
    Source("thompson_1935",
           "Thompson, Ann. Math. Statist. 6 (1935) 214: distribution of the studentized deviation from the "
           "sample mean (form from memory)"),
    Source("cochran_1941",
           "Cochran, Ann. Eugenics 11 (1941) 47: the largest of several variances (critical values with "
           "Bonferroni's bound)"),
    Source("howe_1969",
           "Howe, J. Am. Stat. Assoc. 64 (1969) 610: approximate two-sided tolerance factor, in NIST/SEMATECH "
           "e-Handbook 7.2.6.3"),
    Source("natrella_1963",
           "Natrella, Experimental Statistics, NBS Handbook 91 (1963): approximate one-sided tolerance factor, "
           "in NIST/SEMATECH e-Handbook 7.2.6.3"),
    Source("wilks_1941",
           "Wilks, Ann. Math. Statist. 12 (1941) 91: distribution-free tolerance limits, in NIST/SEMATECH "
           "e-Handbook 7.2.6.4"),
    Source("krishnamoorthy_mathew_2004",
           "Krishnamoorthy & Mathew, Technometrics 46 (2004) 44: one-sided tolerance limits in one-way random "
           "models by generalized confidence limits (form from memory)"),
    Source("iso_3951_1",
           "ISO 3951-1: sampling inspection by variables, s method (operating characteristic from the noncentral "
           "t distribution; example and k from memory of an older edition, the 2022 edition was not read)"),
    Source("nist_strd_linear",
           "NIST Statistical Reference Datasets (StRD): certified values of linear regression"),
    Source("nist_strd_nonlinear",
           "NIST Statistical Reference Datasets (StRD): certified values of nonlinear regression"),
    Source("bates_watts_1988",
           "Bates & Watts, Nonlinear Regression Analysis and Its Applications (1988): relative offset, "
           "profile t; from memory, the data of its biochemical oxygen demand read"),
    Source("fieller_1954",
           "Fieller, J. R. Stat. Soc. B 16 (1954) 175: interval of a ratio; from memory"),
]  # fmt: skip
