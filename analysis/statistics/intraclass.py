"""Intraclass correlation: which share of the spread lies between coupons, so that further drops teach little."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.moments import finite, one_way_anova, require_share


@dataclass(frozen=True, slots=True)
class IntraclassCorrelation:
    """Share of the variance between groups with its exact interval; None where it cannot be told."""

    estimate: float | None  # by moments: negative where the groups differ less than chance would have them
    low: float | None
    high: float | None
    confidence: float
    f_ratio: float | None
    p_value: float | None  # of no spread between the groups at all
    n_groups: int
    n_readings: int
    note: str = ""


@formula(
    "ICC = σ_b²/(σ_b² + σ_w²); balanced limits (F/F_q − 1)/(F/F_q + n − 1), F_q = F(q; k − 1, N − k); unequal: "
    "Σwᵢ(x̄ᵢ − x̄_w)²/((k − 1)·MSW) = F_q with wᵢ = nᵢ/(1 + nᵢτ), τ = σ_b²/σ_w²",
    source="searle_1992 wald_1940",
    holds_when="normal scatter between and within the groups",
    library="scipy.special.fdtri",
)
def intraclass_correlation(groups: Mapping[str, Sequence[float]], confidence: float = 0.95) -> IntraclassCorrelation:
    """Share of the spread of single drops that lies between coupons.

    Parameters
    ----------
    groups : mapping of str to sequence of float
        Readings of each coupon, any unit; unequal numbers are allowed, empty groups are passed over.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    IntraclassCorrelation
        The interval is exact with equal and with unequal numbers. With equal numbers estimate and limits may be
        negative, down to −1/(n − 1), and say then that no spread between coupons was seen; with unequal numbers
        a limit is not put below 0. With one coupon, one drop on every coupon, or no spread at all it cannot
        be told. Where the drops of each coupon are equal it is 1.

    Raises
    ------
    ValueError
        For no readings, NaN, an infinite value, or a confidence outside 0 to 1.

    Source: `searle_1992`, chapter 3; unequal numbers `wald_1940`.

    >>> found = intraclass_correlation({"A": [1.0, 3.0], "B": [5.0, 7.0], "C": [9.0, 11.0]})
    >>> round(found.estimate, 4), round(found.low, 4), round(found.high, 4)
    (0.8824, -0.0014, 0.9968)
    """
    require_share("confidence", confidence)
    arrays = [finite(values) for values in groups.values() if len(values)]
    if not arrays:
        raise ValueError("no readings to describe")
    sizes = np.array([array.size for array in arrays])
    count, total = sizes.size, int(sizes.sum())

    def told(estimate=None, low=None, high=None, f_ratio=None, p_value=None, note=""):
        return IntraclassCorrelation(estimate, low, high, confidence, f_ratio, p_value, count, total, note)

    if count == 1 or total == count:
        return told(note="one coupon" if count == 1 else "one reading a coupon: between and within cannot be separated")
    table = one_way_anova(arrays)
    if table.f_ratio is None or math.isinf(table.f_ratio):
        share = None if table.f_ratio is None else 1.0
        return told(share, share, share, table.f_ratio, table.p_value, table.note)
    effective = (total - float(np.sum(sizes**2)) / total) / (count - 1)
    estimate = (table.f_ratio - 1) / (table.f_ratio + effective - 1)
    quantiles = _quantiles(count - 1, total - count, confidence)
    if np.ptp(sizes) == 0:
        ratios = [(table.f_ratio / quantile - 1) / sizes[0] for quantile in quantiles]
        note = ""
    else:
        ratios = [_ratio_at(arrays, table.within_mean_square, quantile) for quantile in quantiles]
        note = "unequal numbers: a limit is not put below 0"
    low, high = (float(ratio / (1 + ratio)) for ratio in ratios)
    return told(float(estimate), low, high, table.f_ratio, table.p_value, note)


def _quantiles(between_df: int, within_df: int, confidence: float) -> tuple[float, float]:
    """Upper quantile, which gives the lower limit, and lower quantile of F."""
    from scipy.special import fdtri

    upper, lower = (1 + confidence) / 2, (1 - confidence) / 2
    return float(fdtri(between_df, within_df, upper)), float(fdtri(between_df, within_df, lower))


def _ratio_at(arrays: list[np.ndarray], within_mean_square: float, quantile: float) -> float:
    """The τ at which the weighted F equals the quantile; it falls with τ. 0 where it lies below already."""
    from scipy.optimize import brentq

    sizes = np.array([array.size for array in arrays])
    origin = arrays[0][0]
    means = np.array([np.mean(array - origin) for array in arrays])

    def excess(ratio: float) -> float:
        weights = sizes / (1 + sizes * ratio)
        mean = np.sum(weights * means) / np.sum(weights)
        return float(np.sum(weights * (means - mean) ** 2)) / ((sizes.size - 1) * within_mean_square) - quantile

    if excess(0.0) <= 0:
        return 0.0
    high = 1.0
    while excess(high) > 0:
        high *= 4
    return float(brentq(excess, 0.0, high, xtol=1e-14, rtol=1e-13))
