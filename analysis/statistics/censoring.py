"""Readings that are only known to lie beyond a limit: drops that did not move, or moved on placing.

Such readings are kept as what they are. Deleting them, or writing the limit in their place, moves the result
towards a better surface (`hewett_ganser_2007`), so nothing here offers either.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from analysis.formula import formula
from analysis.statistics.censored_regression import (
    LOGNORMAL,
    NO_PLACE,
    NORMAL,
    NOT_CONVERGED,
    CensoredProblem,
    censored_bounds,
)
from analysis.statistics.proportions import proportion_lower_bound, proportion_upper_bound
from analysis.statistics.replication import require_share

__all__ = [
    "CensoredFit",
    "censored_lognormal_fit",
    "censored_normal_fit",
    "median_with_censoring",
    "proportion_lower_bound",
    "proportion_upper_bound",
]


@dataclass(frozen=True, slots=True)
class CensoredFit:
    """A distribution fitted with censored readings; mu and sigma are None when it could not be fitted."""

    distribution: str  # "normal", or "lognormal": mu and sigma are then those of ln(value)
    mu: float | None
    sigma: float | None
    low: float | None  # profile likelihood interval of mu
    high: float | None
    confidence: float
    log_likelihood: float | None  # of the values in their own unit
    n: int
    n_measured: int
    note: str = ""  # why there is no fit

    @property
    def is_fitted(self) -> bool:
        return self.mu is not None


@formula(
    "x̃ = middle one of the sorted readings, or mean of the middle two; readings beyond the limit ranked last",
    source="hewett_ganser_2007",
    holds_when="no limit lies between readings that decide the order",
)
def median_with_censoring(
    values: Sequence[float],
    not_moved: Sequence[bool] | None = None,
    moved_on_placing: Sequence[bool] | None = None,
) -> float | None:
    """Median of readings of which some are only known to lie beyond a limit.

    Parameters
    ----------
    values : sequence of float
        Readings; a censored one carries its limit (the stage limit, or 0 for moved on placing).
    not_moved : sequence of bool, optional
        True where the drop did not move: ranked above every measured reading.
    moved_on_placing : sequence of bool, optional
        True where the drop was gone at once: ranked below every measured reading, at its limit.

    Returns
    -------
    float or None
        Order-statistic median in the unit of the values; `math.inf` when it lies beyond the stage limit. None
        when limits differ so much that the order cannot be told: a limit lies below the median itself.

    Raises
    ------
    ValueError
        For no values, NaN, or masks of another length.

    Source: order statistics as in `hewett_ganser_2007`; two of five drops not moved (invented data):

    >>> median_with_censoring([30, 30, 11.8, 18.8, 9.4], not_moved=[True, True, False, False, False])
    18.8
    """
    numbers, above, below = _masked(values, not_moved, moved_on_placing)
    ranked = np.where(above, math.inf, np.where(below, -math.inf, numbers))
    order = np.argsort(ranked, kind="stable")
    middle = order[(numbers.size - 1) // 2], order[numbers.size // 2]
    if any(above[index] for index in middle):
        return math.inf
    median = float(np.mean([numbers[index] for index in middle]))
    is_ordered = not np.any(numbers[above] < median) and not np.any(numbers[below] > median)
    return median if is_ordered else None


@formula(
    "ℓ(μ, σ) = Σ ln[φ((xᵢ − μ)/σ)/σ] + Σ ln Φ((μ − cᵢ)/σ);  interval {μ: 2[ℓ̂ − ℓₚ(μ)] ≤ χ²(C; 1)}",
    source="schmee_hahn_1979",
    holds_when="normal readings, limits set beforehand; the interval is approximate, short for few readings",
)
def censored_normal_fit(
    values: Sequence[float],
    not_moved: Sequence[bool] | None = None,
    moved_on_placing: Sequence[bool] | None = None,
    confidence: float = 0.95,
) -> CensoredFit:
    """Maximum likelihood fit of a normal distribution to partly censored readings.

    Parameters
    ----------
    values, not_moved, moved_on_placing
        As in `median_with_censoring`; limits may differ from reading to reading.
    confidence : float
        Two-sided confidence of the profile likelihood interval of mu [-].

    Returns
    -------
    CensoredFit
        mu, sigma and interval in the unit of the values; no values but a note when fewer than three readings
        were measured, or when all measured readings are equal. sigma is the maximum likelihood one, which
        divides by n.

    Raises
    ------
    ValueError
        For no values, NaN, an infinite value, or masks of another length.

    Source: `schmee_hahn_1979` for the likelihood; interval from the likelihood ratio (chi-square, 1 df).

    >>> seen = [12, 18, 25, 31, 44, 57, 73, 90, 90, 90]
    >>> fit = censored_normal_fit(seen, not_moved=[value == 90 for value in seen])
    >>> round(fit.mu, 3), round(fit.sigma, 3)
    (60.016, 40.31)
    """
    return _fit(NORMAL, values, not_moved, moved_on_placing, confidence)


@formula(
    "C′ = P(χ²₁ ≤ n·ln(1 + t²/(n − 1))), t = t((1 + C)/2; n − 1)",
    source="common_practice",
    holds_when="few values; exact without censored ones, where the profile interval is then Student's",
    library="scipy.special.chdtr",
)
def calibrated_confidence(confidence: float, n: int) -> float:
    """Confidence at which the chi-square profile interval of n values is what Student's t interval would be.

    Parameters
    ----------
    confidence : float
        Confidence that is wanted [-].
    n : int
        Values, censored ones too; with fewer than 2 the confidence comes back as it is.

    Returns
    -------
    float
        Confidence to be asked of the profile likelihood [-], above the wanted one.

    Raises
    ------
    ValueError
        For a confidence outside 0 to 1.

    Source: `common_practice`.

    >>> round(calibrated_confidence(0.95, 6), 4)
    0.9754
    """
    require_share("confidence", confidence)
    if n < 2:
        return confidence
    from scipy.special import chdtr, stdtrit

    t = float(stdtrit(n - 1, (1 + confidence) / 2))
    return min(float(chdtr(1, n * math.log1p(t**2 / (n - 1)))), 1 - 1e-12)


@formula(
    "ℓ(μ, σ) = Σ ln[φ((ln xᵢ − μ)/σ)/(σxᵢ)] + Σ ln Φ((μ − ln cᵢ)/σ);  median exp(μ)",
    source="schmee_hahn_1979",
    holds_when="readings above 0 whose logarithms are normal",
)
def censored_lognormal_fit(
    values: Sequence[float],
    not_moved: Sequence[bool] | None = None,
    moved_on_placing: Sequence[bool] | None = None,
    confidence: float = 0.95,
) -> CensoredFit:
    """Lognormal distribution of partly censored readings: the normal fit of their natural logarithms.

    Parameters
    ----------
    values, not_moved, moved_on_placing
        As in `median_with_censoring`; all above 0.
    confidence : float
        Two-sided confidence of the profile likelihood interval of mu [-].

    Returns
    -------
    CensoredFit
        mu, sigma and interval on the scale of the logarithm: exp(mu) is the median. A reading at or below 0, so
        also a drop that moved on placing at 0, has no logarithm: no fit, with a note.

    Raises
    ------
    ValueError
        As in `censored_normal_fit`.

    Source: `schmee_hahn_1979`.

    >>> censored_lognormal_fit([0.0, 2.0, 3.0, 5.0]).note
    'a lognormal distribution has no place for a reading at or below 0'
    """
    numbers, above, below = _masked(values, not_moved, moved_on_placing)
    if np.any(numbers <= 0):
        n_measured = int(np.sum(~(above | below)))
        note = NO_PLACE.format(LOGNORMAL)
        return CensoredFit(LOGNORMAL, None, None, None, None, confidence, None, numbers.size, n_measured, note)
    return _fit(LOGNORMAL, values, not_moved, moved_on_placing, confidence)


def _masked(values, not_moved, moved_on_placing) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    low, high = censored_bounds(values, not_moved, moved_on_placing)
    return np.where(np.isinf(low), high, low), np.isinf(high), np.isinf(low)


def _fit(distribution, values, not_moved, moved_on_placing, confidence) -> CensoredFit:
    require_share("confidence", confidence)
    low, high = censored_bounds(values, not_moved, moved_on_placing)
    return _fitted(distribution, tuple(low), tuple(high), confidence)


@lru_cache(maxsize=4096)  # pages and reports ask for the same readings again and again
def _fitted(distribution, low: tuple, high: tuple, confidence) -> CensoredFit:
    problem = CensoredProblem(distribution, np.array(low), np.array(high), np.empty((len(low), 0)))
    note = problem.hindrance()
    best = None if note else problem.best()
    if best is not None and not best.is_found:
        note = NOT_CONVERGED
    counts = len(low), problem.n_measured
    if note:
        return CensoredFit(distribution, None, None, None, None, confidence, None, *counts, note)
    mu = problem.location(best, np.ones(1), 0.0, confidence)
    sigma = problem.unit / float(best.point[-1])
    return CensoredFit(
        distribution, mu.value, sigma, mu.low, mu.high, confidence, problem.log_likelihood(best), *counts
    )
