"""Tolerance limit for a single future drop on a future coupon, from drops on several coupons."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from analysis.formula import formula
from analysis.statistics.moments import finite, require_share, sample_sd, stable_mean

NODES_BETWEEN, NODES_WITHIN = (
    160,
    40,
)  # the exact limits of independent values come out to 7 digits, from 3 coupons on to 10
REACH = 7.5  # in standard normal units: beyond it lies less than 1e-13


@dataclass(frozen=True, slots=True)
class DropToleranceLimit:
    """A one-sided tolerance limit for single drops; approximate."""

    limit: float
    mean: float  # of the coupon means, each counting once
    drop_sd: float  # of a single drop on a single coupon: spread between and within coupons together
    coverage: float
    confidence: float
    n_coupons: int
    n_drops: int
    side: str  # "upper" or "lower"
    note: str


@formula(
    "γ quantile of x̄ − Z·√(SS_x̄/(k·U_b)) + z_p·√(SS_x̄/U_b + (1 − 1/ñ)·SS_w/U_w), Z ~ N(0, 1), U_b ~ χ²(k − 1), "
    "U_w ~ χ²(N − k)",
    source="krishnamoorthy_mathew_2004",
    holds_when="normal scatter between and within coupons; approximate: rather too wide where coupons hardly differ",
    library="scipy.special.gammaincinv, scipy.special.ndtr",
)
def drop_tolerance_limit(
    groups: Mapping[str, Sequence[float]], coverage: float = 0.90, confidence: float = 0.95, side: str = "upper"
) -> DropToleranceLimit:
    """One-sided tolerance limit that a share of all single drops on all coupons stays below (or above).

    Parameters
    ----------
    groups : mapping of str to sequence of float
        Readings of each coupon, any unit, at least 2 coupons; unequal numbers are allowed, a coupon without
        readings is passed over.
    coverage, confidence : float
        Share of all drops and confidence [-].
    side : str
        "upper" or "lower".

    Returns
    -------
    DropToleranceLimit
        By generalized confidence limits, computed by quadrature: without any spread within coupons, or with one
        drop on every coupon, it is the exact limit of independent values. The note says that it is approximate.

    Raises
    ------
    ValueError
        For fewer than 2 coupons, NaN, an infinite value, a share outside 0 to 1, or another side.

    Source: `krishnamoorthy_mathew_2004`.

    >>> round(drop_tolerance_limit({"A": [9.0], "B": [10.0], "C": [11.0]}, coverage=0.9, confidence=0.9).limit, 2)
    14.26
    """
    if side not in ("upper", "lower"):
        raise ValueError(f"side is upper or lower, not {side!r}")
    require_share("coverage", coverage)
    require_share("confidence", confidence)
    arrays = [finite(values) for values in groups.values() if len(values)]
    if len(arrays) < 2:
        raise ValueError(f"a limit for future coupons needs at least 2 coupons, not {len(arrays)}")
    sizes = np.array([array.size for array in arrays])
    means = [stable_mean(array) for array in arrays]
    between = sample_sd(means)
    within_df = int(sizes.sum()) - sizes.size
    inside = sum(float(np.sum((array - mean) ** 2)) for array, mean in zip(arrays, means, strict=True))
    inside *= 1 - float(np.mean(1 / sizes))  # 1 − 1/ñ with the harmonic mean of the numbers of drops
    drop_sd = math.sqrt(between**2 + (inside / within_df if within_df else 0.0))
    mean, distance = stable_mean(means), 0.0
    if drop_sd > 0:
        squares = (sizes.size - 1) * (between / drop_sd) ** 2, inside / drop_sd**2
        distance = drop_sd * _distance(sizes.size, within_df, *squares, coverage, confidence)
    limit = mean + distance if side == "upper" else mean - distance
    note = "approximate: generalized confidence limit for single drops"
    return DropToleranceLimit(limit, mean, drop_sd, coverage, confidence, sizes.size, int(sizes.sum()), side, note)


def _distance(k: int, within_df: int, between: float, inside: float, coverage: float, confidence: float) -> float:
    """Distance of the limit from the mean: the quantile of the pivot, its normal part integrated exactly."""
    from scipy.optimize import brentq
    from scipy.special import chdtri, ndtr, ndtri

    z = float(ndtri(coverage))
    if not between > 0:  # coupons that do not differ at all leave no error of the mean
        return z * math.sqrt(inside / float(chdtri(within_df, confidence if z > 0 else 1 - confidence)))
    weights, weights_within = _rule(NODES_BETWEEN)[1], np.ones(1)
    coupons, drops = between / _chi_square(k - 1, NODES_BETWEEN)[:, None], np.zeros((1, 1))
    if within_df and inside > 0:
        weights_within = _rule(NODES_WITHIN)[1]
        drops = inside / _chi_square(within_df, NODES_WITHIN)[None, :]
    reach = z * np.sqrt(coupons + drops)
    error = np.sqrt(coupons / k)

    def excess(distance: float) -> float:
        share = ndtr((distance - reach) / error)
        return float(weights @ np.broadcast_to(share, (NODES_BETWEEN, drops.size)) @ weights_within) - confidence

    low, high = -4.0, 4.0
    while excess(low) > 0:
        low *= 2
    while excess(high) < 0:
        high *= 2
    return float(brentq(excess, low, high, xtol=1e-10))


@lru_cache(maxsize=2)
def _rule(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Standard normal nodes and their weights."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    levels = REACH * nodes
    weights = REACH * weights * np.exp(-levels * levels / 2) / math.sqrt(2 * math.pi)
    return levels, weights / weights.sum()


@lru_cache(maxsize=256)
def _chi_square(df: int, count: int) -> np.ndarray:
    """χ² quantiles at the nodes, from the nearer tail."""
    from scipy.special import gammainccinv, gammaincinv, ndtr

    levels = _rule(count)[0]
    lower = 2 * gammaincinv(df / 2, ndtr(np.minimum(levels, 0)))
    return np.where(levels < 0, lower, 2 * gammainccinv(df / 2, ndtr(-np.maximum(levels, 0))))
