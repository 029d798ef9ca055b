"""Proportions of drops: how many of those tried did not move, with exact and approximate limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.statistics.replication import require_share

EXACT, WILSON = "exact", "wilson"


@dataclass(frozen=True, slots=True)
class ProportionInterval:
    """A proportion with its two-sided interval; arrays where arrays were given."""

    share: float | np.ndarray
    low: float | np.ndarray
    high: float | np.ndarray
    confidence: float
    method: str  # "exact" (Clopper–Pearson) or "wilson"


@formula(
    "p_U: P(X ≤ x | n, p_U) = 1 − C, that is p_U = B(C; x + 1, n − x)",
    source="clopper_pearson_1934",
    holds_when="independent drops; with drops that differ between coupons the true bound is higher",
    library="scipy.special.betaincinv",
)
def proportion_upper_bound(count: ArrayLike, total: ArrayLike, confidence: float = 0.95) -> float | np.ndarray:
    """Exact one-sided upper bound of a proportion, having seen `count` of `total`.

    Parameters
    ----------
    count, total : int or array_like
        Drops that did not move, and drops tried; 0 ≤ count ≤ total, total at least 1.
    confidence : float
        One-sided confidence [-].

    Returns
    -------
    float or numpy.ndarray
        Bound [-], 1 when every drop was counted. The drops are taken as independent: with drops that differ
        between coupons the true bound is higher.

    Raises
    ------
    ValueError
        For no drops, a count outside 0 to total (NaN too), or a confidence outside 0 to 1.

    Source: `clopper_pearson_1934`.

    >>> round(proportion_upper_bound(0, 10), 6)
    0.258866
    """
    require_share("confidence", confidence)
    counts, totals = _counts(count, total)
    return plain(_upper(counts, totals, confidence))


@formula(
    "p_L: P(X ≥ x | n, p_L) = 1 − C, that is p_L = B(1 − C; x, n − x + 1)",
    source="clopper_pearson_1934",
    holds_when="independent drops; with drops that differ between coupons the true bound is lower",
    library="scipy.special.betaincinv",
)
def proportion_lower_bound(count: ArrayLike, total: ArrayLike, confidence: float = 0.95) -> float | np.ndarray:
    """Exact one-sided lower bound of a proportion [-]; everything else as `proportion_upper_bound`.

    Parameters
    ----------
    count, total, confidence
        As in `proportion_upper_bound`.

    Returns
    -------
    float or numpy.ndarray
        Bound [-], 0 when no drop was counted.

    Raises
    ------
    ValueError
        As in `proportion_upper_bound`.

    Source: `clopper_pearson_1934`.

    >>> round(proportion_lower_bound(10, 10), 6)
    0.741134
    """
    require_share("confidence", confidence)
    counts, totals = _counts(count, total)
    return plain(1 - _upper(totals - counts, totals, confidence))


@formula(
    "exact: B(α/2; x, n − x + 1) … B(1 − α/2; x + 1, n − x);  Wilson: (p̂ + z²/2n ± z√(p̂(1 − p̂)/n + z²/4n²))/(1 + z²/n)",
    source="clopper_pearson_1934 wilson_1927",
    holds_when="independent drops; exact never covers less than stated, Wilson does so on average over p",
    library="scipy.special.betaincinv",
)
def proportion_interval(
    count: ArrayLike, total: ArrayLike, confidence: float = 0.95, method: str = EXACT
) -> ProportionInterval:
    """Two-sided interval of a proportion: exact (Clopper–Pearson) or Wilson's score interval.

    Parameters
    ----------
    count, total : int or array_like
        Drops that did not move, and drops tried; 0 ≤ count ≤ total, total at least 1.
    confidence : float
        Two-sided confidence [-].
    method : str
        "exact", whose coverage is never below the confidence, or "wilson", which is shorter.

    Returns
    -------
    ProportionInterval
        Shares [-], never outside 0 to 1.

    Raises
    ------
    ValueError
        For no drops, a count outside 0 to total (NaN too), a confidence outside 0 to 1, another method.

    Source: `clopper_pearson_1934`, `wilson_1927`.

    >>> seen = proportion_interval(3, 10)
    >>> round(seen.low, 6), round(seen.high, 6)
    (0.06674, 0.652453)
    """
    require_share("confidence", confidence)
    counts, totals = _counts(count, total)
    if method == EXACT:
        one_sided = (1 + confidence) / 2
        low, high = 1 - _upper(totals - counts, totals, one_sided), _upper(counts, totals, one_sided)
    elif method == WILSON:
        low, high = _wilson(counts, totals, confidence)
    else:
        raise ValueError(f"method of a proportion is {EXACT} or {WILSON}, not {method!r}")
    return ProportionInterval(plain(counts / totals), plain(low), plain(high), confidence, method)


def _upper(counts: np.ndarray, totals: np.ndarray, confidence: float) -> np.ndarray:
    from scipy.special import betaincinv

    left = totals - counts
    return np.where(left == 0, 1.0, betaincinv(counts + 1.0, np.maximum(left, 1.0), confidence))


def _wilson(counts: np.ndarray, totals: np.ndarray, confidence: float) -> tuple[np.ndarray, np.ndarray]:
    from scipy.special import ndtri

    square = float(ndtri((1 + confidence) / 2)) ** 2
    centre = (counts + square / 2) / (totals + square)
    half = np.sqrt(square * (counts * (totals - counts) / totals + square / 4)) / (totals + square)
    low = np.where(counts == 0, 0.0, np.maximum(centre - half, 0.0))  # rounding must not leave 0 to 1
    return low, np.where(counts == totals, 1.0, np.minimum(centre + half, 1.0))


def _counts(count: ArrayLike, total: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    counts, totals = np.broadcast_arrays(np.asarray(count, dtype=float), np.asarray(total, dtype=float))
    is_count = (totals >= 1) & (counts >= 0) & (counts <= totals) & (counts % 1 == 0) & (totals % 1 == 0)
    if not is_count.all():
        raise ValueError(f"{counts[~is_count].flat[0]:g} of {totals[~is_count].flat[0]:g} is not a count of drops")
    return counts, totals
