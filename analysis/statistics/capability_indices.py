"""Capability indices: how the spread of a process compares with the tolerance it has to keep.

An index is a statement about a process that a control chart has shown to be steady, and the usual ones hold for
normal readings only. Hysteresis, sliding angles and loss have a natural limit at 0: they are judged on one side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.moments import require_share


@dataclass(frozen=True, slots=True)
class IndexInterval:
    """Limits of a capability index."""

    low: float | np.ndarray
    high: float | np.ndarray
    confidence: float
    method: str


@formula(
    "Cp = (U − L)/(6σ)",
    source="iso_22514_2 nist_handbook_6_1_6",
    holds_when="steady process, normal readings, two limits that are both set and not given by nature",
)
def two_sided_index(
    sd: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike,
    natural_lower: float | None = None,
    natural_upper: float | None = None,
):
    """Width of the tolerance over the width of the process (Cp with σ within batches, Pp with σ overall).

    Parameters
    ----------
    sd : float or array
        Standard deviation, unit of the readings, above 0.
    lower, upper : float or array
        Limits of the tolerance, unit of the readings, lower below upper.
    natural_lower, natural_upper : float, optional
        Where the quantity ends by nature: 0 for hysteresis, sliding angle and mass, 180 for an angle.

    Returns
    -------
    float or array
        Index [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For an sd of 0 or below, lower not below upper, or a limit at or beyond a natural one: nothing can lie
        there, and the index would fall as the readings come closer to their best value. Use `one_sided_index`.

    Source: `iso_22514_2`; `nist_handbook_6_1_6`.

    >>> two_sided_index(2.0, 8.0, 20.0)
    1.0
    """
    spread, low, high = _spread(sd), within("lower limit", lower), within("upper limit", upper)
    require_order(low, high)
    for limit, natural, beyond in ((low, natural_lower, np.less_equal), (high, natural_upper, np.greater_equal)):
        if natural is not None and np.any(beyond(limit, natural)):
            raise ValueError(f"{natural:g} is a natural limit, no tolerance: use the index of the other side alone")
    return plain((high - low) / (6 * spread))


@formula(
    "Cpu = (U − x̄)/(3σ);  Cpl = (x̄ − L)/(3σ)",
    source="iso_22514_2 nist_handbook_6_1_6",
    holds_when="steady process, normal readings",
)
def one_sided_index(mean: ArrayLike, sd: ArrayLike, limit: ArrayLike, side: str):
    """Distance of the mean from one limit, over three standard deviations (Cpu, Cpl; Ppu, Ppl with σ overall).

    Parameters
    ----------
    mean, limit : float or array
        Mean and limit, unit of the readings.
    sd : float or array
        Standard deviation, unit of the readings, above 0.
    side : str
        "upper" when readings must stay below the limit, "lower" when they must stay above.

    Returns
    -------
    float or array
        Index [-], negative when the mean lies beyond the limit; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For an sd of 0 or below or another side.

    Source: `iso_22514_2`; `nist_handbook_6_1_6`.

    >>> round(one_sided_index(16.0, 2.0, 20.0, "upper"), 4)
    0.6667
    """
    if side not in ("upper", "lower"):
        raise ValueError(f"side must be 'upper' or 'lower', not {side!r}")
    distance = within("limit", limit) - within("mean", mean)
    return plain((distance if side == "upper" else -distance) / (3 * _spread(sd)))


@formula(
    "Cpk = min(Cpu, Cpl)",
    source="iso_22514_2 nist_handbook_6_1_6",
    holds_when="steady process, normal readings",
)
def smaller_index(mean: ArrayLike, sd: ArrayLike, lower: ArrayLike | None = None, upper: ArrayLike | None = None):
    """Index of the side on which less room is left (Cpk with σ within batches, Ppk with σ overall).

    Parameters
    ----------
    mean : float or array
        Mean, unit of the readings.
    sd : float or array
        Standard deviation, unit of the readings, above 0.
    lower, upper : float or array, optional
        Limits, unit of the readings; at least one. Leave out a natural limit.

    Returns
    -------
    float or array
        Index [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For no limit, an sd of 0 or below, or lower not below upper.

    Source: `iso_22514_2`; `nist_handbook_6_1_6`.

    >>> round(smaller_index(16.0, 2.0, 8.0, 20.0), 4)
    0.6667
    """
    if lower is None and upper is None:
        raise ValueError("an index needs a limit")
    if lower is not None and upper is not None:
        require_order(within("lower limit", lower), within("upper limit", upper))
    sides = [(lower, "lower"), (upper, "upper")]
    found = [one_sided_index(mean, sd, limit, side) for limit, side in sides if limit is not None]
    return plain(np.minimum(*found) if len(found) == 2 else found[0])


@formula(
    "k = |x̄ − (U + L)/2|/[(U − L)/2]",
    source="nist_handbook_6_1_6",
    holds_when="two limits that are both set and not given by nature",
)
def off_centre(mean: ArrayLike, lower: ArrayLike, upper: ArrayLike):
    """How far the mean lies from the middle of the tolerance, as a share of its half width.

    Parameters
    ----------
    mean, lower, upper : float or array
        Mean and limits, unit of the readings, lower below upper.

    Returns
    -------
    float or array
        0 in the middle, 1 on a limit [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For lower not below upper.

    Source: `nist_handbook_6_1_6`.

    >>> round(off_centre(16.0, 8.0, 20.0), 4)
    0.3333
    """
    low, high = within("lower limit", lower), within("upper limit", upper)
    require_order(low, high)
    return plain(np.abs(within("mean", mean) - (low + high) / 2) / ((high - low) / 2))


@formula(
    "Cp·√(χ²(α/2; n−1)/(n−1)) to Cp·√(χ²(1−α/2; n−1)/(n−1))",
    source="nist_handbook_6_1_6 montgomery_sqc",
    holds_when="independent normal readings, σ from n − 1 degrees of freedom",
    library="scipy.special.chdtri",
)
def two_sided_index_interval(index: ArrayLike, n: ArrayLike, confidence: float = 0.95) -> IndexInterval:
    """Interval of Cp or Pp, from the distribution of the standard deviation.

    Parameters
    ----------
    index : float or array
        Cp or Pp as estimated [-], above 0.
    n : int or array
        Readings, 2 or more; with a pooled σ its degrees of freedom plus 1.
    confidence : float
        Two-sided confidence [-], between 0 and 1.

    Returns
    -------
    IndexInterval
        Limits [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For an index of 0 or below, n below 2 or a confidence outside 0 to 1.

    Source: `montgomery_sqc`; `nist_handbook_6_1_6`.

    >>> found = two_sided_index_interval(1.0, 50)
    >>> round(found.low, 4), round(found.high, 4)
    (0.8025, 1.1971)
    """
    require_share("confidence", confidence)
    found, df = within("index", index, above=0), within("number of readings", n, at_least=2) - 1
    from scipy.special import chdtri

    low, high = (np.sqrt(chdtri(df, upper_tail) / df) for upper_tail in ((1 + confidence) / 2, (1 - confidence) / 2))
    return IndexInterval(plain(found * low), plain(found * high), confidence, "chi-squared")


@formula(
    "Cpk ± z·√[1/(9n) + Cpk²/(2(n−1))]",
    source="montgomery_sqc",
    holds_when="independent normal readings, n above about 25; an approximation",
)
def smaller_index_interval(index: ArrayLike, n: ArrayLike, confidence: float = 0.95) -> IndexInterval:
    """Interval of Cpk or Ppk by the usual normal approximation.

    Parameters
    ----------
    index : float or array
        Cpk or Ppk as estimated [-].
    n : int or array
        Readings, 2 or more.
    confidence : float
        Two-sided confidence [-], between 0 and 1.

    Returns
    -------
    IndexInterval
        Limits [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For n below 2 or a confidence outside 0 to 1.

    Source: `montgomery_sqc`.

    >>> found = smaller_index_interval(1.33, 20)
    >>> round(found.low, 4), round(found.high, 4)
    (0.8826, 1.7774)
    """
    require_share("confidence", confidence)
    found, size = within("index", index), within("number of readings", n, at_least=2)
    from scipy.special import ndtri

    reach = ndtri((1 + confidence) / 2) * np.sqrt(1 / (9 * size) + found**2 / (2 * (size - 1)))
    return IndexInterval(plain(found - reach), plain(found + reach), confidence, "normal approximation")


@formula(
    "3√n·Ĉ follows noncentral t with n − 1 degrees of freedom and noncentrality 3√n·C",
    source="common_practice",
    holds_when="independent normal readings, one limit",
    library="scipy.special.gammainc scipy.optimize.brentq",
)
def one_sided_index_interval(index: ArrayLike, n: ArrayLike, confidence: float = 0.95) -> IndexInterval:
    """Exact interval of a one-sided index (Cpu, Cpl, Ppu, Ppl).

    Parameters
    ----------
    index : float or array
        Index as estimated [-].
    n : int or array
        Readings, 2 or more.
    confidence : float
        Two-sided confidence [-], between 0 and 1. The lower limit alone is a lower bound with confidence
        (1 + confidence)/2: ask for 0.90 to have the 95 % bound.

    Returns
    -------
    IndexInterval
        Limits [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For n below 2 or a confidence outside 0 to 1.

    Source: `common_practice`; the noncentral t distribution of a standardised distance is textbook theory.

    >>> round(one_sided_index_interval(1.33, 20, 0.90).low, 4)
    0.9487
    """
    require_share("confidence", confidence)
    found, size = within("index", index), within("number of readings", n, at_least=2)
    root = 3 * np.sqrt(size)
    low, high = (
        plain(np.vectorize(_noncentrality, otypes=[float])(size - 1, tail, root * found) / root)
        for tail in ((1 + confidence) / 2, (1 - confidence) / 2)
    )
    return IndexInterval(low, high, confidence, "noncentral t")


def _noncentrality(df: float, share: float, t: float) -> float:
    """Noncentrality at which a share of the distribution lies below t: the 1 − share quantile of t·W − Z.

    W is the ratio of an estimated to the true standard deviation, Z standard normal. scipy.stats.nct gives NaN far out
    and scipy.special.nctdtrinc keeps 4 digits only.
    """
    if math.isnan(df) or math.isnan(t):
        return math.nan
    if t < 0:  # the mirror image
        return -_noncentrality(df, 1 - share, -t)
    from scipy.optimize import brentq
    from scipy.special import gammainccinv, gammaincinv

    least, most = (math.sqrt(2 * float(inverse(df / 2, 1e-17)) / df) for inverse in (gammaincinv, gammainccinv))
    below = _by_normal if t * (most - least) < 40 else _by_sd
    return brentq(
        lambda nc: below(nc, df, t, least, most) - (1 - share), t * least - 9, t * most + 9, xtol=1e-12, rtol=1e-13
    )


@lru_cache
def _gauss_legendre() -> tuple[np.ndarray, np.ndarray]:
    return np.polynomial.legendre.leggauss(200)


def _by_normal(nc: float, df: float, t: float, least: float, most: float) -> float:
    """P(t·W − Z ≤ nc) as the mean of Φ(nc − t·W): smooth while t·W spreads little."""
    from scipy.special import ndtr

    node, share = _gauss_legendre()
    w = least + (most - least) * (node + 1) / 2
    log_density = (df - 1) * np.log(w) - df * w**2 / 2
    weight = share * np.exp(log_density - log_density.max())  # the constant of the density cancels
    return float(weight @ ndtr(nc - t * w) / weight.sum())


def _by_sd(nc: float, df: float, t: float, least: float, most: float) -> float:
    """The same as the mean of P(W ≤ (nc + Z)/t): smooth when t·W spreads wider than Z."""
    from scipy.special import gammainc

    node, share = _gauss_legendre()
    start = min(max(-9.0, -nc), 9.0)  # W is not below 0
    z = start + (9 - start) * (node + 1) / 2
    density = np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi)
    ratio = np.maximum(nc + z, 0.0) / t
    return float((share * density) @ gammainc(df / 2, df * ratio**2 / 2) * (9 - start) / 2)


def _spread(sd: ArrayLike) -> np.ndarray:
    return within("standard deviation", sd, above=0)


def require_order(low: np.ndarray, high: np.ndarray) -> None:
    """Refuse a lower limit that is not below the upper one."""
    if np.any(low >= high):
        low, high = (each[low >= high].flat[0] for each in np.broadcast_arrays(low, high))
        raise ValueError(f"the lower limit must be below the upper limit, not {low:g} against {high:g}")
