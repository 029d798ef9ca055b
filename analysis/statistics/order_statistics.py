"""Distribution-free tolerance limits: what the smallest and largest of n values can promise, and no more than that.

They need no normal distribution, only independent values of a continuous quantity: one a coupon.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain
from analysis.statistics.moments import counts, finite, require_share

SIDES = ("upper", "lower", "both")


@dataclass(frozen=True, slots=True)
class DistributionFreeLimit:
    """Limits at values of the sample itself, with the confidence that their number allows."""

    low: float | None  # None where only an upper limit was asked for
    high: float | None
    rank_low: int | None  # 1 is the smallest value
    rank_high: int | None  # n is the largest value
    coverage: float
    confidence: float  # asked for
    confidence_reached: float  # not below it
    n: int


@formula(
    "P = Σ_{j=0}^{n−d} C(n, j)·p^j·(1 − p)^(n−j); d = 1: 1 − pⁿ; d = 2: 1 − n·pⁿ⁻¹ + (n − 1)·pⁿ",
    source="wilks_1941 iso_16269_6",
    holds_when="independent values of a continuous quantity",
    library="scipy.special.bdtr",
)
def distribution_free_confidence(n, coverage, depth=1):
    """Confidence that limits at order statistics of n values hold a share of the population.

    Parameters
    ----------
    n : int or array
        Number of independent values, at least 1.
    coverage : float or array
        Share of the population [-].
    depth : int or array
        Sum of the places from the ends: 1 for the largest value alone (or the smallest), 2 for smallest and
        largest together or for the second largest alone, and so on.

    Returns
    -------
    float or array
        Confidence [-]; 0 where there are fewer values than `depth`.

    Raises
    ------
    ValueError
        For n or depth below 1 or not whole, NaN, or a coverage outside 0 to 1.

    Source: `wilks_1941`.

    >>> round(distribution_free_confidence(20, 0.90, depth=2), 6)
    0.608253
    """
    n, depth = counts("number of values", n, 1), counts("depth", depth, 1)
    require_share("coverage", coverage)
    from scipy.special import betaincc

    reach = np.maximum(n + 1 - depth, 1)  # the share held is beta distributed with (n + 1 − d, d)
    return plain(np.where(n < depth, 0.0, betaincc(reach, depth, coverage)))


@formula(
    "smallest n with P(n, p, d) ≥ γ; d = 1: n ≥ ln(1 − γ)/ln p",
    source="wilks_1941 iso_16269_6",
    holds_when="independent values of a continuous quantity",
)
def distribution_free_size(coverage, confidence, depth=1):
    """Smallest number of values whose extremes hold a share of the population with the stated confidence.

    Parameters
    ----------
    coverage, confidence : float or array
        Share of the population and confidence [-].
    depth : int or array
        As in `distribution_free_confidence`: 1 for a one-sided limit at the largest (smallest) value, 2 for both.

    Returns
    -------
    int or array of int
        Number of independent values: coupons, not drops.

    Raises
    ------
    ValueError
        For a coverage or confidence outside 0 to 1, NaN, or a depth below 1.

    Source: `wilks_1941`.

    >>> distribution_free_size(0.95, 0.95), distribution_free_size(0.95, 0.95, depth=2)
    (59, 93)
    """
    require_share("coverage", coverage)
    require_share("confidence", confidence)
    shares = (np.asarray(share, dtype=float) for share in (coverage, confidence))
    arguments = np.broadcast_arrays(*shares, counts("depth", depth, 1))
    sizes = [_size(float(p), float(c), int(d)) for p, c, d in zip(*(a.flat for a in arguments), strict=True)]
    return plain(np.reshape(sizes, arguments[0].shape).astype(int))


@lru_cache(maxsize=65536)
def _size(coverage: float, confidence: float, depth: int) -> int:
    # A confidence that is met exactly (two values, 0.5 and 0.75) must not fail by its rounding.
    aim = confidence * (1 - 1e-12)
    low, high = depth - 1, max(depth, math.ceil(math.log1p(-confidence) / math.log(coverage)))
    while distribution_free_confidence(high, coverage, depth) < aim:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if distribution_free_confidence(max(middle, 1), coverage, depth) < aim:
            low = middle
        else:
            high = middle
    return high


@formula(
    "x₍ᵣ₎ and x₍ₙ₊₁₋ᵣ₎ with the largest r that keeps P ≥ γ",
    source="wilks_1941 iso_16269_6",
    holds_when="independent values of a continuous quantity, one a coupon; n large enough, else refused",
)
def distribution_free_limit(
    values: Sequence[float], coverage: float = 0.90, confidence: float = 0.95, side: str = "upper"
) -> DistributionFreeLimit:
    """Tolerance limit at a value of the sample, without any assumed distribution.

    Parameters
    ----------
    values : sequence of float
        One value a coupon, any unit.
    coverage, confidence : float
        Share of the population and confidence [-].
    side : str
        "upper", "lower" or "both".

    Returns
    -------
    DistributionFreeLimit
        At the innermost value that still keeps the confidence; for "both" equally far from both ends.

    Raises
    ------
    ValueError
        Where n values cannot promise so much; the message says what they can, and how many would be needed.
        For no values, NaN, an infinite value, a share outside 0 to 1, or another side.

    Source: `wilks_1941`.

    >>> distribution_free_limit(range(1, 23), coverage=0.90, confidence=0.90).high
    22.0
    """
    if side not in SIDES:
        raise ValueError(f"side is one of {', '.join(SIDES)}, not {side!r}")
    numbers = np.sort(finite(values))
    per_rank = 2 if side == "both" else 1
    needed = distribution_free_size(coverage, confidence, per_rank)
    if numbers.size < needed:
        reached = distribution_free_confidence(numbers.size, coverage, per_rank)
        raise ValueError(
            f"the extremes of {numbers.size} values hold {coverage:.4g} of the population with a confidence of "
            f"{reached:.4g}, not {confidence:.4g}: at least {needed} values are needed"
        )
    rank = 1
    while distribution_free_size(coverage, confidence, per_rank * (rank + 1)) <= numbers.size:
        rank += 1
    reached = distribution_free_confidence(numbers.size, coverage, per_rank * rank)
    n, has_low, has_high = numbers.size, side != "upper", side != "lower"
    return DistributionFreeLimit(
        float(numbers[rank - 1]) if has_low else None,
        float(numbers[n - rank]) if has_high else None,
        rank if has_low else None,
        n + 1 - rank if has_high else None,
        coverage,
        confidence,
        reached,
        n,
    )
