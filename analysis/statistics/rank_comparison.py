"""Comparing two recipes by ranks: for values that are skewed, bounded or have outliers. One value a coupon."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.comparison import HIGHER, LOWER, UNDECIDED, sample
from analysis.statistics.replication import require_share

ROUNDING = 1e-12  # of a probability: 1 − 0.9 is a little less than 0.1 in binary
EXACT_UP_TO = 400  # products of sizes: above it the normal approximation is good to three digits


@dataclass(frozen=True, slots=True)
class RankComparison:
    """Mann–Whitney test with the shift of Hodges and Lehmann; None where the numbers allow no interval."""

    u: float  # of the first group: pairs in which its value is the higher, ties counting half
    p: float  # two-sided
    shift: float  # median of all differences first − second
    low: float | None
    high: float | None
    confidence: float  # asked for
    confidence_reached: float | None  # exact: it moves in steps
    is_exact: bool
    outcome: str  # "higher", "lower" or "cannot tell yet"
    sentence: str
    n: tuple[int, int]


@formula(
    "U = #(xi > yj) + ½·#(xi = yj);  shift = median(xi − yj);  limits: ordered differences number k and nm + 1 − k",
    source="mann_whitney hodges_lehmann_1963",
    holds_when="one value a coupon, coupons independent; for the shift, distributions of the same shape",
    library="scipy.stats.mannwhitneyu",
)
def rank_comparison(
    first: Sequence[float], second: Sequence[float], confidence: float = 0.95, unit: str = "", decimals: int = 2
) -> RankComparison:
    """Is one recipe higher than the other? By ranks, with the shift between them and its interval.

    Parameters
    ----------
    first, second : sequence of float
        One value a coupon of each recipe, any unit.
    confidence : float
        Two-sided confidence of the interval of the shift [-].
    unit, decimals
        For the sentence.

    Returns
    -------
    RankComparison
        Exact without ties and up to 400 pairs, else by the normal approximation with corrections for ties and
        continuity; the interval leaves the ties out, so that with many of them it may touch 0 where the test already
        decides. No interval where so few coupons cannot reach the confidence (three and three reach 90 %).

    Raises
    ------
    ValueError
        For NaN, an infinite value, no values, more than one dimension, or a confidence outside 0 to 1.

    Source: `mann_whitney`, `hodges_lehmann_1963`.

    >>> found = rank_comparison([0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46],
    ...                         [1.15, 0.88, 0.90, 0.74, 1.21])
    >>> found.u, round(found.p, 6), round(found.shift, 3)
    (35.0, 0.254412, 0.305)
    """
    require_share("confidence", confidence)
    one, two = sample(first), sample(second)
    pooled = np.concatenate([one, two])
    is_exact = np.unique(pooled).size == pooled.size and one.size * two.size <= EXACT_UP_TO
    differences = np.sort(np.subtract.outer(one, two), axis=None)
    shift = float(np.median(differences))
    if np.ptp(pooled) == 0:  # nothing to rank
        u, p = one.size * two.size / 2, 1.0
    else:
        from scipy.stats import mannwhitneyu

        test = mannwhitneyu(one, two, method="exact" if is_exact else "asymptotic")
        u, p = float(test.statistic), min(float(test.pvalue), 1.0)
    k, reached = _depth(one.size, two.size, confidence, is_exact)
    low, high = (float(differences[k - 1]), float(differences[-k])) if k else (None, None)
    outcome = UNDECIDED
    if p <= (1 - confidence) * (1 + ROUNDING) and shift:
        outcome = HIGHER if shift > 0 else LOWER
    n = one.size, two.size
    sentence = _sentence(outcome, shift, low, high, reached, n, unit, decimals)
    return RankComparison(u, p, shift, low, high, confidence, reached, is_exact, outcome, sentence, n)


def _depth(n: int, m: int, confidence: float, is_exact: bool) -> tuple[int, float | None]:
    """How many differences lie outside on each side, k − 1, and the confidence that this leaves."""
    tail = (1 - confidence) / 2 * (1 + ROUNDING)
    if not is_exact:
        from scipy.special import ndtri

        k = math.floor(n * m / 2 + float(ndtri(tail)) * math.sqrt(n * m * (n + m + 1) / 12))
        return (k, confidence) if k >= 1 else (0, None)
    k = 0
    while _share_up_to(k, n, m) <= tail:
        k += 1
    return (k, 1 - 2 * _share_up_to(k - 1, n, m)) if k else (0, None)


def _share_up_to(u: int, n: int, m: int) -> float:
    """Exact chance of a U of at most u without any difference: that of made-up values which have this U."""
    from scipy.stats import mannwhitneyu

    above, rest = divmod(u, m)  # so many of the first lie above all of the second, one above `rest` of them
    places = np.zeros(n)
    places[:above] = m
    if rest:
        places[above] = rest
    return float(mannwhitneyu(places + 0.5, np.arange(1, m + 1), alternative="less", method="exact").pvalue)


def _sentence(outcome, shift, low, high, reached, n, unit, decimals) -> str:
    behind = f"{'' if unit in ('', '°') else ' '}{unit}"
    numbers = f"shift {shift:+.{decimals}f}{behind}, "
    if low is None:
        numbers += "too few coupons for an interval"
    else:
        numbers += f"{reached:.1%} interval {low:+.{decimals}f} to {high:+.{decimals}f}"
    numbers += f", {n[0]} and {n[1]} coupons"
    words = {
        HIGHER: f"The first is higher than the second by ranks ({numbers}).",
        LOWER: f"The first is lower than the second by ranks ({numbers}).",
        UNDECIDED: f"Which of the two is higher cannot be told yet by ranks ({numbers}).",
    }
    return words[outcome].replace("-", "−")
