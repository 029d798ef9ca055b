"""Tolerance limits: the value that a stated share of all coupons stays below (or above).

All factors assume independent normal values. Drops on one coupon are not independent: give one value a coupon.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.moments import counts, finite, require_share, sample_sd, stable_mean

NODES = 128  # of the Gauss–Legendre rule; 400 nodes change no usual factor by more than 1e-10 of itself


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
    note: str = ""


@dataclass(frozen=True, slots=True)
class ToleranceInterval:
    """A two-sided tolerance interval of a normal population."""

    low: float
    high: float
    mean: float
    sd: float
    factor: float
    coverage: float
    confidence: float
    n: int


@formula(
    "k = t′(γ; ν, z_p·√n)/√n, ν = n − 1",
    source="nist_handbook_7_2_6_3 iso_16269_6",
    holds_when="independent normal values: coupons, not drops",
    library="scipy.special.nctdtrit",
)
def tolerance_factor_one_sided(n, coverage, confidence, degrees_of_freedom=None):
    """Factor k of the exact one-sided tolerance limit mean ± k·sd of a normal population.

    Parameters
    ----------
    n : int or array
        Number of independent values, at least 2: coupons, not drops.
    coverage : float or array
        Share of the population that the limit is to hold [-].
    confidence : float or array
        Confidence of that statement [-].
    degrees_of_freedom : float or array, optional
        Of the standard deviation, above 0, where it comes from other values than the mean (a pooled one). Then n
        may be any number above 0, so that the mean has the variance σ²/n. Left out: n − 1.

    Returns
    -------
    float or array
        k [-] from the noncentral t distribution: t'(confidence; n − 1, z·√n)/√n with z the normal quantile
        of the coverage. With 1 − confidence it gives the bound of the same quantile from the other side.

    Raises
    ------
    ValueError
        For fewer than two values, NaN, or a coverage or confidence outside 0 to 1.

    Source: `nist_handbook_7_2_6_3`, `iso_16269_6`.

    >>> round(tolerance_factor_one_sided(43, 0.90, 0.99), 4)
    1.874
    """
    n, df = _sizes(n, degrees_of_freedom)
    require_share("coverage", coverage)
    require_share("confidence", confidence)
    # The functions themselves: scipy.stats wraps them in argument checks that cost fifty times their time.
    from scipy.special import nctdtrit, ndtri

    return plain(nctdtrit(df, ndtri(coverage) * np.sqrt(n), confidence) / np.sqrt(n))


@formula(
    "√(2n/π)·∫₀^∞ P[χ²_ν > ν·r(z)²/k²]·e^(−nz²/2) dz = γ, Φ(z + r) − Φ(z − r) = p, ν = n − 1",
    source="iso_16269_6 nist_handbook_7_2_6_3",
    holds_when="independent normal values: coupons, not drops",
    library="scipy.special.chndtrix, scipy.special.chdtrc",
)
def tolerance_factor_two_sided(n, coverage, confidence, degrees_of_freedom=None):
    """Factor k of the exact two-sided tolerance interval mean ± k·sd of a normal population.

    Parameters
    ----------
    n, coverage, confidence, degrees_of_freedom : float or array
        As in `tolerance_factor_one_sided`.

    Returns
    -------
    float or array
        k [-] by quadrature over the mean; each combination is computed once and kept.

    Raises
    ------
    ValueError
        For fewer than two values, NaN, or a coverage or confidence outside 0 to 1.

    Source: `iso_16269_6`.

    >>> round(tolerance_factor_two_sided(20, 0.95, 0.95), 4)
    2.7603
    """
    n, df = _sizes(n, degrees_of_freedom)
    require_share("coverage", coverage)
    require_share("confidence", confidence)
    arguments = np.broadcast_arrays(n, df, *(np.asarray(share, dtype=float) for share in (coverage, confidence)))
    factors = [_two_sided(*(float(number) for number in row)) for row in zip(*(a.flat for a in arguments), strict=True)]
    return plain(np.reshape(factors, arguments[0].shape))


@lru_cache(maxsize=65536)
def _two_sided(n: float, df: float, coverage: float, confidence: float) -> float:
    from scipy.optimize import brentq
    from scipy.special import chdtrc

    weights = _half_normal_rule()[1]
    squares = df * _half_widths(n, coverage)

    def excess(log_factor: float) -> float:
        return float(np.sum(weights * chdtrc(df, squares * math.exp(-2 * log_factor)))) - confidence

    start = math.log(float(_howe(n, df, coverage, confidence)))
    low, high = start - 0.1, start + 0.1
    while excess(low) > 0:
        low -= 1
    while excess(high) < 0:
        high += 1
    return math.exp(brentq(excess, low, high, xtol=1e-13, rtol=1e-13))


@lru_cache(maxsize=1)
def _half_normal_rule() -> tuple[np.ndarray, np.ndarray]:
    """Nodes and weights for ∫₀^∞ 2φ(u)·f(u) du; beyond 9 standard errors nothing is left."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    u = 4.5 * (nodes + 1)
    return u, 4.5 * weights * 2 * np.exp(-u * u / 2) / math.sqrt(2 * math.pi)


@lru_cache(maxsize=1024)
def _half_widths(n: float, coverage: float) -> np.ndarray:
    """r² at each node: the half width around a mean that is off by u/√n and still holds the coverage."""
    from scipy.special import chndtrix

    return chndtrix(coverage, 1, _half_normal_rule()[0] ** 2 / n)


@formula(
    "k = z((1 + p)/2)·√(ν(1 + 1/n)/χ²(1 − γ; ν)), ν = n − 1",
    source="howe_1969 nist_handbook_7_2_6_3",
    holds_when="approximation; off by 0.3 % at 10 values, 2 % at 3",
    library="scipy.special.chdtri",
)
def tolerance_factor_howe(n, coverage, confidence):
    """Howe's approximation of the two-sided tolerance factor, to compare with tables that were made by it.

    Parameters
    ----------
    n, coverage, confidence : float or array
        As in `tolerance_factor_one_sided`.

    Returns
    -------
    float or array
        k [-], an approximation; `tolerance_factor_two_sided` is exact.

    Raises
    ------
    ValueError
        For fewer than two values, NaN, or a coverage or confidence outside 0 to 1.

    Source: `howe_1969`.

    >>> round(tolerance_factor_howe(43, 0.90, 0.99), 3)
    2.217
    """
    n, df = _sizes(n, None)
    require_share("coverage", coverage)
    require_share("confidence", confidence)
    return plain(_howe(n, df, np.asarray(coverage), np.asarray(confidence)))


def _howe(n, df, coverage, confidence):
    from scipy.special import chdtri, ndtri

    return -ndtri((1 - coverage) / 2) * np.sqrt(df * (1 + 1 / n) / chdtri(df, confidence))


@formula(
    "k = (z_p + √(z_p² − a·b))/a, a = 1 − z_γ²/(2(n − 1)), b = z_p² − z_γ²/n",
    source="natrella_1963 nist_handbook_7_2_6_3",
    holds_when="approximation; a must be above 0, and z_p² at least a·b",
    library="scipy.special.ndtri",
)
def tolerance_factor_natrella(n, coverage, confidence):
    """Natrella's approximation of the one-sided tolerance factor, to compare with tables that were made by it.

    Parameters
    ----------
    n, coverage, confidence : float or array
        As in `tolerance_factor_one_sided`.

    Returns
    -------
    float or array
        k [-], an approximation; `tolerance_factor_one_sided` is exact.

    Raises
    ------
    ValueError
        For fewer values than the approximation can take (n ≤ 1 + z_γ²/2), NaN, or a coverage or confidence
        outside 0 to 1.

    Source: `natrella_1963`.

    >>> round(tolerance_factor_natrella(43, 0.90, 0.99), 4)
    1.8752
    """
    n, df = _sizes(n, None)
    require_share("coverage", coverage)
    require_share("confidence", confidence)
    from scipy.special import ndtri

    z, z_confidence = ndtri(coverage), ndtri(confidence)
    within("n for Natrella's approximation", n - 1 - z_confidence**2 / 2, "less 1 + z²/2", above=0)
    a, b = 1 - z_confidence**2 / (2 * df), z**2 - z_confidence**2 / n
    return plain((z + np.sqrt(np.maximum(z**2 - a * b, 0))) / a)


@formula(
    "x̄ + k·s (upper), x̄ − k·s (lower)",
    source="nist_handbook_7_2_6_3 iso_16269_6",
    holds_when="independent normal values, one a coupon",
)
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
    mean, sd = stable_mean(numbers), sample_sd(numbers)
    limit = mean + factor * sd if side == "upper" else mean - factor * sd
    return ToleranceLimit(limit, mean, sd, factor, coverage, confidence, numbers.size, side)


@formula("x̄ ± k·s", source="iso_16269_6", holds_when="independent normal values, one a coupon")
def tolerance_interval(values: Sequence[float], coverage: float = 0.90, confidence: float = 0.95) -> ToleranceInterval:
    """Two-sided tolerance interval of independent normal values, one a coupon.

    Parameters
    ----------
    values : sequence of float
        One value a coupon, any unit, at least 2.
    coverage, confidence : float
        As in `tolerance_factor_two_sided` [-].

    Returns
    -------
    ToleranceInterval
        In the unit of the values. The coverage holds for the interval as a whole, not for each end.

    Raises
    ------
    ValueError
        For NaN, an infinite value or fewer than two values.

    Source: `iso_16269_6`.

    >>> found = tolerance_interval([9.0, 10.0, 11.0], coverage=0.9, confidence=0.9)
    >>> round(found.low, 2), round(found.high, 2)
    (4.21, 15.79)
    """
    numbers = finite(values)
    factor = tolerance_factor_two_sided(numbers.size, coverage, confidence)
    mean, sd = stable_mean(numbers), sample_sd(numbers)
    return ToleranceInterval(
        mean - factor * sd, mean + factor * sd, mean, sd, factor, coverage, confidence, numbers.size
    )


@formula(
    "x̄ ± k·s over the coupon means",
    source="nist_handbook_7_2_6_3 hurlbert_1984",
    holds_when="normal coupon means; the same number of drops on each coupon",
)
def coupon_tolerance_limit(
    groups: Mapping[str, Sequence[float]], coverage: float = 0.90, confidence: float = 0.95, side: str = "upper"
) -> ToleranceLimit:
    """One-sided tolerance limit for the mean of a future coupon, read with as many drops.

    Parameters
    ----------
    groups : mapping of str to sequence of float
        Readings of each coupon, any unit, at least 2 coupons; a coupon without readings is passed over.
    coverage, confidence, side
        As in `tolerance_limit`.

    Returns
    -------
    ToleranceLimit
        n counts coupons. With unequal numbers of drops the means scatter unequally: the note says that the
        limit is approximate. It says nothing about single drops: see `drop_tolerance_limit`.

    Raises
    ------
    ValueError
        For NaN, an infinite value, fewer than two coupons or another side.

    Source: `nist_handbook_7_2_6_3`; the unit of replication `hurlbert_1984`.

    >>> coupon_tolerance_limit({"A": [1.0, 3.0], "B": [5.0, 7.0], "C": [3.0, 5.0]}, 0.9, 0.9).n
    3
    """
    sizes = {len(values) for values in groups.values() if len(values)}
    means = [stable_mean(finite(values)) for values in groups.values() if len(values)]
    found = tolerance_limit(means, coverage, confidence, side)
    if len(sizes) > 1:
        return replace(found, note="unequal numbers of drops: the limit is approximate")
    return found


def _sizes(n, degrees_of_freedom) -> tuple[np.ndarray, np.ndarray]:
    if degrees_of_freedom is None:
        n = counts("number of values for a tolerance limit", n, 2)
        return n, n - 1
    df = within("degrees of freedom", degrees_of_freedom, above=0, has_nan=False)
    return within("effective number of values", n, above=0, has_nan=False), df
