"""Tolerance limits: the value that a stated share of all coupons stays below (or above)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.statistics.replication import finite, require_share


@dataclass(frozen=True, slots=True)
class ToleranceLimit:
    """A one-sided tolerance limit of a normal population."""

    limit: float
    mean: float
    sd: float
    factor: float
    coverage: float
    confidence: float
    n: int
    side: str  # "upper" or "lower"


def tolerance_factor_one_sided(n: int, coverage: float, confidence: float) -> float:
    """Factor k of the exact one-sided tolerance limit mean ± k·sd of a normal population.

    Parameters
    ----------
    n : int
        Number of independent values, at least 2: coupons, not drops.
    coverage : float
        Share of the population that the limit is to hold [-].
    confidence : float
        Confidence of that statement [-].

    Returns
    -------
    float
        k [-] from the noncentral t distribution: t'(confidence; n − 1, z·√n)/√n with z the normal quantile
        of the coverage. With 1 − confidence it gives the bound of the same quantile from the other side.

    Raises
    ------
    ValueError
        For fewer than two values, or a coverage or confidence outside 0 to 1.

    Source: `nist_handbook_7_2_6_3`, `iso_16269_6`.

    >>> round(tolerance_factor_one_sided(43, 0.90, 0.99), 4)
    1.874
    """
    if n < 2:
        raise ValueError(f"a tolerance limit needs at least 2 values, not {n}")
    require_share("coverage", coverage)
    require_share("confidence", confidence)
    from scipy.stats import nct, norm

    return float(nct.ppf(confidence, n - 1, norm.ppf(coverage) * math.sqrt(n)) / math.sqrt(n))


def tolerance_limit(
    values: Sequence[float], coverage: float = 0.90, confidence: float = 0.95, side: str = "upper"
) -> ToleranceLimit:
    """One-sided tolerance limit of independent normal values, one a coupon.

    Parameters
    ----------
    values : sequence of float
        One value a coupon, any unit, at least 2.
    coverage, confidence : float
        As in `tolerance_factor_one_sided` [-].
    side : str
        "upper" for a limit that the values stay below, "lower" for one that they stay above.

    Returns
    -------
    ToleranceLimit
        In the unit of the values.

    Raises
    ------
    ValueError
        For NaN, an infinite value, fewer than two values or another side.

    Source: `nist_handbook_7_2_6_3`.

    >>> round(tolerance_limit([9.0, 10.0, 11.0], coverage=0.9, confidence=0.9).limit, 2)
    14.26
    """
    if side not in ("upper", "lower"):
        raise ValueError(f"side is upper or lower, not {side!r}")
    numbers = finite(values)
    factor = tolerance_factor_one_sided(numbers.size, coverage, confidence)
    mean, sd = float(numbers.mean()), float(np.std(numbers, ddof=1))
    limit = mean + factor * sd if side == "upper" else mean - factor * sd
    return ToleranceLimit(limit, mean, sd, factor, coverage, confidence, numbers.size, side)
