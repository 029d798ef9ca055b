"""Repeatability and reproducibility: how far results of one operator, and of several, agree.

A cell holds the results of one laboratory (operator, instrument, day) on one material. Flags mark cells for a look;
every number can be had with and without the flagged cells, and none is ever deleted.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain
from analysis.statistics.moments import counts, finite, one_way_anova, require_share, sample_sd, stable_mean
from analysis.statistics.outliers import (
    CORRECT,
    STATISTICAL_OUTLIER,
    OutlierTest,
    cochran_test,
    grubbs_test,
    outlier_class,
    studentized_deviation,
)

LIMIT_FACTOR = 2.8  # 1.96·√2: two results differ by more in 5 % of pairs
CONSISTENCY_LEVEL = 0.005  # of h and k in ASTM E691


@dataclass(frozen=True, slots=True)
class Precision:
    """Repeatability and reproducibility of one material; None where the cells cannot tell."""

    mean: float  # of all results, so that a cell counts by its number of results
    repeatability_sd: float | None  # within a laboratory
    between_variance: float | None  # of laboratories as estimated: may be negative, and is kept
    between_sd: float | None  # never negative: 0 where the estimate is negative
    reproducibility_sd: float | None
    repeatability_limit: float | None  # 2.8 times the standard deviation
    reproducibility_limit: float | None
    cell_mean_sd: float | None  # s_x of ASTM E691: spread of the cell means
    n_cells: int
    n_results: int
    effective_size: float  # results in a cell; equal to their number where that is the same everywhere
    left_out: tuple[str, ...]  # cells that were set aside on request
    note: str = ""


@dataclass(frozen=True, slots=True)
class CellConsistency:
    """One cell against the others: h compares its mean, k its spread."""

    cell: str
    n: int
    mean: float
    sd: float | None
    h: float | None
    k: float | None
    h_class: str  # "correct", "straggler" (5 %) or "statistical outlier" (1 %)
    k_class: str
    is_h_beyond: bool  # of the 0.5 % level of ASTM E691
    is_k_beyond: bool


@dataclass(frozen=True, slots=True)
class PrecisionReport:
    """Precision with all cells and without the flagged ones, and why each was flagged."""

    all_cells: Precision
    without_outliers: Precision | None  # statistical outliers set aside; None where no cell would be left
    without_flagged: Precision | None  # stragglers set aside too
    cells: tuple[CellConsistency, ...]
    cochran: OutlierTest | None  # of the cell spreads; index counts the cells of `cochran_cells`
    cochran_cells: tuple[str, ...]  # cells with at least two results
    grubbs: OutlierTest | None  # of the cell means, two-sided; index counts `cells`
    flags: Mapping[str, tuple[str, ...]]  # cell -> reasons


@formula(
    "h = (p − 1)·t/√(p(t² + p − 2)), t = t(1 − α/2; p − 2)",
    source="mandel_h_k iso_5725_2 astm_e691",
    holds_when="p normal cell means of equal spread",
    library="scipy.special.stdtrit",
)
def mandel_h_critical(p, alpha):
    """Critical value of Mandel's h: how far the mean of one of p cells may lie from that of all.

    Parameters
    ----------
    p : int or array
        Number of cells, at least 3.
    alpha : float or array
        Two-sided level [-]: 0.05 and 0.01 in ISO 5725-2, 0.005 in ASTM E691.

    Returns
    -------
    float or array
        h [-], at most (p − 1)/√p.

    Raises
    ------
    ValueError
        For fewer than 3 cells, NaN, or a level outside 0 to 1.

    Source: `mandel_h_k`.

    >>> round(mandel_h_critical(8, 0.005), 2)
    2.15
    """
    require_share("alpha", alpha)
    return studentized_deviation(counts("number of cells", p, 3), np.asarray(alpha) / 2)


@formula(
    "k = √(p·F/(p − 1 + F)), F = F(1 − α; n − 1, (p − 1)(n − 1))",
    source="mandel_h_k iso_5725_2 astm_e691",
    holds_when="p normal cells of n results each and equal spread",
    library="scipy.special.betainccinv",
)
def mandel_k_critical(p, n, alpha):
    """Critical value of Mandel's k: how much wider than the pooled spread one of p cells may scatter.

    Parameters
    ----------
    p, n : int or array
        Number of cells and of results in each, both at least 2.
    alpha : float or array
        One-sided level [-]: 0.05 and 0.01 in ISO 5725-2, 0.005 in ASTM E691.

    Returns
    -------
    float or array
        k [-], below √p.

    Raises
    ------
    ValueError
        For p or n below 2, NaN, or a level outside 0 to 1.

    Source: `mandel_h_k`.

    >>> round(mandel_k_critical(8, 3, 0.005), 2)
    2.06
    """
    p, n = counts("number of cells", p, 2), counts("number of results", n, 2)
    require_share("alpha", alpha)
    return plain(_k_critical(n - 1, p * (n - 1), alpha))


@formula(
    "s_r² = Σ(nᵢ − 1)sᵢ²/Σ(nᵢ − 1), s_L² = (s_d² − s_r²)/n̄, s_R² = s_r² + s_L², s_d² = Σnᵢ(x̄ᵢ − m)²/(p − 1), "
    "n̄ = (N − Σnᵢ²/N)/(p − 1), r = 2.8·s_r, R = 2.8·s_R",
    source="iso_5725_2 astm_e691",
    holds_when="cells of equal spread; with equal numbers it is the calculation of ASTM E691",
)
def cell_precision(cells: Mapping[str, Sequence[float]], without: Collection[str] = ()) -> Precision:
    """Repeatability and reproducibility of one material.

    Parameters
    ----------
    cells : mapping of str to sequence of float
        Results of each laboratory (operator, instrument), any unit; unequal numbers are allowed, a cell without
        results is passed over.
    without : collection of str
        Cells to set aside in this calculation only.

    Returns
    -------
    Precision
        In the unit of the results. A negative between-laboratory variance is returned as it is, named in the
        note, and counted as 0, so that s_R = s_r. With one cell, or one result in every cell, the parts that
        cannot be told are None.

    Raises
    ------
    ValueError
        For no results, NaN, an infinite value, or a cell to set aside that is not there.

    Source: `iso_5725_2`, clause 7.4; with equal numbers `astm_e691`.

    >>> found = cell_precision({"A": [10.0, 12.0], "B": [14.0, 16.0], "C": [12.0, 14.0]})
    >>> round(found.repeatability_sd, 4), round(found.reproducibility_sd, 4)
    (1.4142, 2.2361)
    """
    unknown = set(without) - set(cells)
    if unknown:
        raise ValueError(f"no cell is called {', '.join(sorted(unknown))}")
    kept = {name: finite(values) for name, values in cells.items() if len(values) and name not in without}
    if not kept:
        raise ValueError("no results are left")
    return _precision(kept, tuple(name for name in cells if name in set(without)))


def _precision(cells: dict[str, np.ndarray], left_out: tuple[str, ...]) -> Precision:
    sizes = np.array([values.size for values in cells.values()])
    total, count = int(sizes.sum()), sizes.size
    mean = stable_mean(np.concatenate(list(cells.values())))
    if count == 1:
        sd = sample_sd(*cells.values()) if total > 1 else None
        limit = None if sd is None else LIMIT_FACTOR * sd
        note = "one cell: nothing is known of the spread between cells"
        return Precision(mean, sd, None, None, None, limit, None, None, 1, total, float(total), left_out, note)
    table = one_way_anova(cells)
    size = (total - float(np.sum(sizes**2)) / total) / (count - 1)
    mean_sd = sample_sd([stable_mean(values) for values in cells.values()])
    if table.within_mean_square is None:
        note = "one result in every cell: repeatability cannot be told"
        return Precision(mean, None, None, None, None, None, None, mean_sd, count, total, size, left_out, note)
    between = (table.between_mean_square - table.within_mean_square) / size
    note = f"the variance between cells comes out negative ({between:.4g}), taken as 0" if between < 0 else ""
    within = math.sqrt(table.within_mean_square)
    overall = math.sqrt(table.within_mean_square + max(between, 0))
    limits = LIMIT_FACTOR * within, LIMIT_FACTOR * overall
    sds = within, between, math.sqrt(max(between, 0)), overall
    return Precision(mean, *sds, *limits, mean_sd, count, total, size, left_out, note)


@formula(
    "hᵢ = (x̄ᵢ − m)/s_x, kᵢ = sᵢ/s_r",
    source="iso_5725_2 astm_e691 mandel_h_k",
    holds_when="normal cells of equal spread; with unequal numbers the critical value of h is approximate",
)
def cell_consistency(cells: Mapping[str, Sequence[float]]) -> tuple[CellConsistency, ...]:
    """Mandel's h and k of each cell with their classes.

    Parameters
    ----------
    cells : mapping of str to sequence of float
        As in `cell_precision`.

    Returns
    -------
    tuple of CellConsistency
        One a cell, in their order. h needs 3 cells whose means differ; k needs 2 cells with at least 2 results and
        some spread; where they cannot be had they are None and the class is "correct". With unequal numbers k is
        compared with the critical value for the numbers of that very cell, which is exact.

    Raises
    ------
    ValueError
        For no results, NaN or an infinite value.

    Source: `iso_5725_2`, clause 7.3; the 0.5 % level `astm_e691`.

    >>> found = cell_consistency({"A": [10.0, 12.0], "B": [14.0, 16.0], "C": [12.0, 14.0]})
    >>> [(cell.cell, cell.h, cell.k) for cell in found]
    [('A', -1.0, 1.0), ('B', 1.0, 1.0), ('C', 0.0, 1.0)]
    """
    overall = cell_precision(cells)
    kept = {name: finite(values) for name, values in cells.items() if len(values)}
    df_total = sum(values.size - 1 for values in kept.values())
    n_spreads = sum(values.size > 1 for values in kept.values())
    h_limits = k_limits = None
    if len(kept) > 2 and overall.cell_mean_sd > 0:
        h_limits = [mandel_h_critical(len(kept), level) for level in (0.05, 0.01, CONSISTENCY_LEVEL)]
    found = []
    for name, values in kept.items():
        mean, df = stable_mean(values), values.size - 1
        h = (mean - overall.mean) / overall.cell_mean_sd if h_limits else None
        sd = sample_sd(values) if df else None
        has_k = n_spreads > 1 and sd is not None and overall.repeatability_sd > 0
        k = sd / overall.repeatability_sd if has_k else None
        k_limits = [float(_k_critical(df, df_total, a)) for a in (0.05, 0.01, CONSISTENCY_LEVEL)] if has_k else None
        h_class, is_h_beyond = _consistency(h, h_limits)
        k_class, is_k_beyond = _consistency(k, k_limits)
        found.append(CellConsistency(name, values.size, mean, sd, h, k, h_class, k_class, is_h_beyond, is_k_beyond))
    return tuple(found)


def _consistency(statistic: float | None, limits: list[float] | None) -> tuple[str, bool]:
    if statistic is None:
        return CORRECT, False
    return outlier_class(abs(statistic), *limits[:2]), abs(statistic) > limits[2]


@formula(
    "C = s²max/Σsᵢ² over the cell spreads, then G = max|x̄ᵢ − m|/s_x over the cell means",
    source="iso_5725_2 cochran_1941 grubbs_1969 mandel_h_k",
    holds_when="normal results, equal spread in all cells",
)
def precision_report(cells: Mapping[str, Sequence[float]]) -> PrecisionReport:
    """Repeatability and reproducibility with and without the cells that stand apart.

    Parameters
    ----------
    cells : mapping of str to sequence of float
        As in `cell_precision`.

    Returns
    -------
    PrecisionReport
        A cell is flagged by Cochran's or Grubbs' test from the 5 % level on (straggler), and by h or k beyond
        their 1 % level. Cochran's critical value takes the number of results that most cells have, the smallest
        such number if there are several; with unequal numbers it is approximate. Each test is done once; a
        cell that hides behind another shows when the first is set aside by `cell_precision(cells, without=…)`.

    Raises
    ------
    ValueError
        For no results, NaN or an infinite value.

    Source: `iso_5725_2`, clause 7.3.

    >>> cells = {"A": [10.0, 10.2], "B": [10.1, 10.3], "C": [10.2, 10.0], "D": [10.1, 10.2], "E": [9.0, 12.0]}
    >>> precision_report(cells).flags["E"][0]
    'Cochran: statistical outlier'
    """
    kept = {name: finite(values) for name, values in cells.items() if len(values)}
    consistency = cell_consistency(cells)
    spread_cells = tuple(cell.cell for cell in consistency if cell.n > 1)
    cochran = grubbs = None
    if len(spread_cells) > 1:
        usual = int(np.argmax(np.bincount([kept[name].size for name in spread_cells])))
        cochran = cochran_test([sample_sd(kept[name]) for name in spread_cells], usual)
    if len(kept) > 2:
        grubbs = grubbs_test([cell.mean for cell in consistency], side="either")
    flags = _flags(consistency, cochran, spread_cells, grubbs)
    outlying = {name for name, reasons in flags.items() if any(STATISTICAL_OUTLIER in reason for reason in reasons)}
    parts = (cell_precision(cells, left) if set(kept) - left else None for left in (outlying, set(flags)))
    return PrecisionReport(cell_precision(cells), *parts, consistency, cochran, spread_cells, grubbs, flags)


def _flags(consistency, cochran, spread_cells, grubbs) -> dict[str, tuple[str, ...]]:
    reasons: dict[str, list[str]] = {}
    if cochran is not None and cochran.outlier_class != CORRECT:
        reasons.setdefault(spread_cells[cochran.index], []).append(f"Cochran: {cochran.outlier_class}")
    if grubbs is not None and grubbs.outlier_class != CORRECT:
        reasons.setdefault(consistency[grubbs.index].cell, []).append(f"Grubbs: {grubbs.outlier_class}")
    for cell in consistency:
        for letter, said in (("h", cell.h_class), ("k", cell.k_class)):
            if said == STATISTICAL_OUTLIER:
                reasons.setdefault(cell.cell, []).append(f"Mandel {letter}: {said}")
    return {name: tuple(found) for name, found in reasons.items()}


def _k_critical(df_cell, df_total, alpha):
    """√ of the quantile of s²/s_r², whose share of the pooled sum of squares follows a beta law."""
    from scipy.special import betainccinv

    return np.sqrt(df_total / df_cell * betainccinv(df_cell / 2, (df_total - df_cell) / 2, alpha))
