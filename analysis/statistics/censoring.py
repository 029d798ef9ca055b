"""Readings that are only known to lie beyond a limit: drops that did not move, or moved on placing.

Such readings are kept as what they are. Deleting them, or writing the limit in their place, moves the result
towards a better surface (`hewett_ganser_2007`), so nothing here offers either.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from analysis.statistics.replication import require_share

FEWEST_MEASURED = 3  # for a fit of two parameters; common practice, no source


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


def proportion_upper_bound(count: int, total: int, confidence: float = 0.95) -> float:
    """Exact one-sided upper bound of a proportion, having seen `count` of `total`.

    Parameters
    ----------
    count, total : int
        Drops that did not move, and drops tried; 0 ≤ count ≤ total, total at least 1.
    confidence : float
        One-sided confidence [-].

    Returns
    -------
    float
        Bound [-], 1 when every drop was counted. The drops are taken as independent: with drops that differ
        between coupons the true bound is higher.

    Raises
    ------
    ValueError
        For no drops, a count outside 0 to total, or a confidence outside 0 to 1.

    Source: `clopper_pearson_1934`.

    >>> round(proportion_upper_bound(0, 10), 6)
    0.258866
    """
    return _one_sided(count, total, confidence, "less").high


def proportion_lower_bound(count: int, total: int, confidence: float = 0.95) -> float:
    """Exact one-sided lower bound of a proportion [-]; everything else as `proportion_upper_bound`.

    >>> round(proportion_lower_bound(10, 10), 6)
    0.741134
    """
    return _one_sided(count, total, confidence, "greater").low


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
    numbers, above, below = _masked(values, not_moved, moved_on_placing)
    return _fit("normal", numbers, above, below, confidence)


def censored_lognormal_fit(
    values: Sequence[float],
    not_moved: Sequence[bool] | None = None,
    moved_on_placing: Sequence[bool] | None = None,
    confidence: float = 0.95,
) -> CensoredFit:
    """The same as `censored_normal_fit` for the natural logarithm of the readings; exp(mu) is the median.

    A reading at or below 0, so also a drop that moved on placing at 0, has no logarithm: no fit, with a note.

    >>> censored_lognormal_fit([0.0, 2.0, 3.0, 5.0]).note
    'a lognormal distribution has no place for a reading at or below 0'
    """
    numbers, above, below = _masked(values, not_moved, moved_on_placing)
    if np.any(numbers <= 0):
        note = "a lognormal distribution has no place for a reading at or below 0"
        return _no_fit("lognormal", numbers, above | below, confidence, note)
    fit = _fit("lognormal", np.log(numbers), above, below, confidence)
    if not fit.is_fitted:
        return fit
    jacobian = float(np.sum(np.log(numbers[~(above | below)])))
    return replace(fit, log_likelihood=fit.log_likelihood - jacobian)


def _one_sided(count: int, total: int, confidence: float, alternative: str):
    require_share("confidence", confidence)
    if total < 1 or not 0 <= count <= total:
        raise ValueError(f"{count} of {total} is not a count of drops")
    from scipy.stats import binomtest

    test = binomtest(count, total, alternative=alternative)
    return test.proportion_ci(confidence_level=confidence, method="exact")


def _masked(values, not_moved, moved_on_placing) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    numbers = np.asarray(values, dtype=float)
    if numbers.size == 0:
        raise ValueError("no readings")
    if not np.all(np.isfinite(numbers)):
        raise ValueError("NaN or an infinite reading: a censored reading carries its limit")
    masks = []
    for mask in (not_moved, moved_on_placing):
        flags = np.zeros(numbers.size, dtype=bool) if mask is None else np.asarray(mask, dtype=bool)
        if flags.shape != numbers.shape:
            raise ValueError(f"{flags.size} marks for {numbers.size} readings")
        masks.append(flags)
    if np.any(masks[0] & masks[1]):
        raise ValueError("a drop cannot both stay and move on placing")
    return numbers, masks[0], masks[1]


def _no_fit(distribution, numbers, censored, confidence, note) -> CensoredFit:
    n_measured = int(np.sum(~censored))
    none = (None,) * 4
    return CensoredFit(distribution, *none, confidence, None, numbers.size, n_measured, note)


def _fit(distribution, numbers, above, below, confidence) -> CensoredFit:
    require_share("confidence", confidence)
    return _fitted(distribution, tuple(numbers), tuple(above), tuple(below), confidence)


@lru_cache(maxsize=4096)  # pages and reports ask for the same readings again and again
def _fitted(distribution, numbers: tuple, above: tuple, below: tuple, confidence) -> CensoredFit:
    numbers, above, below = np.array(numbers), np.array(above), np.array(below)
    censored = above | below
    measured = numbers[~censored]
    if measured.size < FEWEST_MEASURED:
        note = f"{measured.size} of {numbers.size} readings measured: a fit needs at least {FEWEST_MEASURED}"
        return _no_fit(distribution, numbers, censored, confidence, note)
    if np.ptp(measured) == 0:
        note = "all measured readings are equal: no spread to fit"
        return _no_fit(distribution, numbers, censored, confidence, note)
    centre, scale = float(measured.mean()), float(measured.std())
    likelihood = _Likelihood((numbers - centre) / scale, above, below)
    mu, sigma = likelihood.best()
    low, high = likelihood.profile_interval(mu, sigma, confidence)
    log_likelihood = likelihood.of(mu, 1 / sigma) - measured.size * math.log(scale)
    return CensoredFit(
        distribution,
        centre + scale * mu,
        scale * sigma,
        centre + scale * low,
        centre + scale * high,
        confidence,
        log_likelihood,
        numbers.size,
        measured.size,
    )


class _Likelihood:
    """Log likelihood of a censored normal sample in (mu/sigma, 1/sigma), where it has a single maximum.

    It is concave in these two (Olsen, Econometrica 46 (1978) 1211, from memory), so any ascent finds it.
    """

    def __init__(self, numbers: np.ndarray, above: np.ndarray, below: np.ndarray):
        self.measured = numbers[~(above | below)]
        self.above, self.below = numbers[above], numbers[below]

    def of(self, mu: float, precision: float) -> float:
        from scipy.special import log_ndtr  # as norm.logcdf, without its checks: this is called thousands of times

        scaled = precision * (self.measured - mu)
        parts = self.measured.size * (math.log(precision) - 0.5 * math.log(2 * math.pi)) - 0.5 * scaled.dot(scaled)
        parts += log_ndtr(precision * (mu - self.above)).sum()
        return float(parts + log_ndtr(precision * (self.below - mu)).sum())

    def best(self) -> tuple[float, float]:
        from scipy.optimize import minimize

        def loss(point):
            precision = math.exp(point[1])
            return -self.of(point[0] / precision, precision)

        start = minimize(loss, [0.0, 0.0], method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-12})
        end = minimize(loss, start.x, method="BFGS", options={"gtol": 1e-8})
        point = end.x if end.fun <= start.fun else start.x
        sigma = math.exp(-point[1])
        return float(point[0] * sigma), sigma

    def profile(self, mu: float) -> float:
        """Largest log likelihood at this mu: one maximum along the ray, so a bounded search finds it."""
        from scipy.optimize import minimize_scalar

        found = minimize_scalar(
            lambda log_precision: -self.of(mu, math.exp(log_precision)),
            bounds=(-12, 6),
            method="bounded",
            options={"xatol": 1e-9},
        )
        return -float(found.fun)

    def profile_interval(self, mu: float, sigma: float, confidence: float) -> tuple[float, float]:
        from scipy.optimize import brentq
        from scipy.stats import chi2

        level = self.of(mu, 1 / sigma) - float(chi2.ppf(confidence, 1)) / 2
        ends = []
        for direction in (-1, 1):
            step = sigma
            while self.profile(mu + direction * step) > level:
                step *= 2
            ends.append(brentq(lambda m: self.profile(m) - level, mu, mu + direction * step, xtol=1e-9))
        return ends[0], ends[1]
