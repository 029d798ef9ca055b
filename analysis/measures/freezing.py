"""Freezing delay of supercooled drops: most samples end with drops that never froze, and those count."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.censored_regression import EXPONENTIAL, WEIBULL, Estimate, censored_bounds, censored_fit

NONE_FROZE = "no drop froze while watched: only an upper limit of a constant rate can be stated"


@dataclass(frozen=True, slots=True)
class FreezingDelay:
    """A distribution of freezing delays; intervals by profile likelihood, None where a number is not fitted."""

    distribution: str
    rate_per_s: Estimate | None  # exponential: events per second of liquid drop
    scale_s: Estimate | None  # by when 63.2 % are frozen; exponential: mean delay
    shape: Estimate | None  # Weibull: above 1 the drops freeze ever faster, below 1 ever slower
    median_s: Estimate | None
    rate_upper_per_s: float | None  # one-sided limit when no drop froze
    confidence: float
    log_likelihood: float | None
    n: int
    n_frozen: int
    watched_s: float  # sum of the times that drops were seen liquid
    note: str = ""

    @property
    def is_fitted(self) -> bool:
        return self.scale_s is not None


@formula(
    "S(t) = exp(−t/τ) or exp[−(t/η)^β], ℓ = Σ ln f(frozen) + Σ ln S(not frozen); exponential: rate = events/Σt",
    source="nist_handbook_8_4_1_2 censored_exponential",
    holds_when="drops independent, temperature constant, end of watching not chosen by what was seen",
    library="analysis.statistics.censored_regression",
)
def freezing_delay(
    times_s: Sequence[float],
    not_frozen: Sequence[bool] | None = None,
    distribution: str = EXPONENTIAL,
    confidence: float = 0.95,
) -> FreezingDelay:
    """Rate, scale and median of freezing delays, with the drops that did not freeze.

    Parameters
    ----------
    times_s : sequence of float
        Delay of each drop [s], above 0; for a drop that did not freeze the time it was watched.
    not_frozen : sequence of bool, optional
        True where the drop was still liquid at that time.
    distribution : str
        "exponential" (constant rate) or "weibull".
    confidence : float
        Two-sided confidence of the profile intervals [-]; one-sided for the rate when no drop froze.

    Returns
    -------
    FreezingDelay
        With `note` and no estimates where too few drops froze.

    Raises
    ------
    ValueError
        For no drops, a time not above 0 (a drop that froze on placing has no delay), NaN, marks of another
        length, or another distribution.

    Source: `nist_handbook_8_4_1_2`, `censored_exponential`.

    >>> found = freezing_delay([20, 40, 60, 60], [False, False, True, True])
    >>> round(found.rate_per_s.value, 6), round(found.scale_s.value, 6)
    (0.011111, 90.0)
    """
    if distribution not in (EXPONENTIAL, WEIBULL):
        raise ValueError(f"distribution is {EXPONENTIAL} or {WEIBULL}, not {distribution!r}")
    times = within("freezing delay", times_s, "s", above=0, has_nan=False)
    if times.ndim != 1:
        raise ValueError(f"one freezing delay a drop is needed, not an array of shape {times.shape}")
    low, high = censored_bounds(times, not_frozen)
    n_frozen, watched = int(np.sum(low == high)), float(times.sum())
    within("confidence", confidence, above=0, below=1, has_nan=False)
    counts = {"confidence": confidence, "n": len(times), "n_frozen": n_frozen, "watched_s": watched}
    if n_frozen == 0:
        limit = -math.log(1 - confidence) / watched  # no event in the time watched, with the stated confidence
        return FreezingDelay(
            distribution, None, None, None, None, limit, log_likelihood=None, note=NONE_FROZE, **counts
        )
    fit = censored_fit(low, high, distribution, confidence=confidence)
    if not fit.is_fitted:
        return FreezingDelay(distribution, None, None, None, None, None, log_likelihood=None, note=fit.note, **counts)
    is_weibull = distribution == WEIBULL
    return FreezingDelay(
        distribution, None if is_weibull else fit.scale.reciprocal(), fit.scale, fit.shape if is_weibull else None,
        fit.quantile, None, log_likelihood=fit.log_likelihood, note=fit.note, **counts,
    )  # fmt: skip


@formula(
    "J = λ/A",
    source="classical_nucleation",
    holds_when="constant temperature, exponential delays, nucleation at the contact with the coupon",
)
def nucleation_rate_per_area(rate_per_s: ArrayLike, area_mm2: ArrayLike) -> float | np.ndarray:
    """Heterogeneous nucleation rate of drops on a coupon from the rate of freezing.

    Parameters
    ----------
    rate_per_s : array_like
        Events per drop and second [1/s], at least 0.
    area_mm2 : array_like
        Area that one drop touches [mm2], above 0.

    Returns
    -------
    float or numpy.ndarray
        Nucleation rate [1/(m2·s)]; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `classical_nucleation`.

    >>> nucleation_rate_per_area(0.01, 4)
    2500.0
    """
    rate = within("rate of freezing", rate_per_s, "1/s", at_least=0)
    return plain(1e6 * rate / within("area under a drop", area_mm2, "mm2", above=0))


@formula(
    "J = λ/V",
    source="classical_nucleation",
    holds_when="constant temperature, exponential delays, nucleation inside the drop",
)
def nucleation_rate_per_volume(rate_per_s: ArrayLike, volume_ul: ArrayLike) -> float | np.ndarray:
    """Nucleation rate per volume of drop, for freezing that starts in the liquid.

    Parameters
    ----------
    rate_per_s : array_like
        Events per drop and second [1/s], at least 0.
    volume_ul : array_like
        Drop volume [uL], above 0.

    Returns
    -------
    float or numpy.ndarray
        Nucleation rate [1/(m3·s)]; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `classical_nucleation`.

    >>> nucleation_rate_per_volume(0.01, 5)
    2000000.0
    """
    rate = within("rate of freezing", rate_per_s, "1/s", at_least=0)
    return plain(1e9 * rate / within("drop volume", volume_ul, "uL", above=0))
