"""Distributions and straight lines fitted to readings of which some are only known to lie between limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.statistics.location_scale import (
    CensoredLikelihood,
    Constraint,
    Maximum,
    Normal,
    SmallestExtreme,
    profile_limits,
)
from analysis.statistics.replication import require_share

NORMAL, LOGNORMAL, WEIBULL, EXPONENTIAL = "normal", "lognormal", "weibull", "exponential"
FAMILIES = {NORMAL: Normal, LOGNORMAL: Normal, WEIBULL: SmallestExtreme, EXPONENTIAL: SmallestExtreme}
NOT_CONVERGED = "the fit did not converge: the likelihood has no maximum with these readings"
NO_PLACE = "a {} distribution has no place for a reading at or below 0"


@dataclass(frozen=True, slots=True)
class Estimate:
    """A fitted number; low and high are its profile likelihood interval, None where an end is not reached."""

    value: float
    standard_error: float  # from the observed information
    low: float | None
    high: float | None

    def exponential(self) -> Estimate:
        """exp of the number; the interval goes with it, the standard error to first order."""
        value = math.exp(self.value)
        ends = (None if end is None else math.exp(end) for end in (self.low, self.high))
        return Estimate(value, value * self.standard_error, *ends)

    def reciprocal(self) -> Estimate:
        """1 over the number, which is above 0."""
        ends = (None if end is None else 1 / end for end in (self.high, self.low))
        return Estimate(1 / self.value, self.standard_error / self.value**2, *ends)


@dataclass(frozen=True, slots=True)
class CensoredRegression:
    """A fit to partly censored readings; the estimates are empty where there is none, and `note` says why."""

    distribution: str
    coefficients: tuple[Estimate, ...]  # intercept, slopes: of the value, or of ln(value) unless it is normal
    spread: Estimate | None  # σ of the value (normal) or of ln(value); Weibull: 1/shape; None where it is not fitted
    quantile: Estimate | None  # in the unit of the values, at the covariates asked for
    share: float  # of that quantile: 0.5 is the median
    confidence: float
    log_likelihood: float | None  # of the values in their own unit
    n: int
    n_measured: int
    note: str = ""

    @property
    def is_fitted(self) -> bool:
        return bool(self.coefficients)

    @property
    def scale(self) -> Estimate:
        """exp of the intercept: characteristic life of a Weibull, mean of an exponential, median of a lognormal."""
        return self.coefficients[0].exponential()

    @property
    def shape(self) -> Estimate:
        """Weibull shape, 1/σ of ln(value)."""
        return self.spread.reciprocal()


def censored_bounds(
    values: Sequence[float], not_moved: Sequence[bool] | None = None, moved_on_placing: Sequence[bool] | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Readings with marks as pairs of limits: from the reading to infinity for a drop that did not move.

    Parameters
    ----------
    values : sequence of float
        Readings; a censored one carries its limit.
    not_moved, moved_on_placing : sequence of bool, optional
        True where the value lies above, or below, its limit.

    Returns
    -------
    tuple of numpy.ndarray
        Lower and upper limit of each reading, equal for a measured one.

    Raises
    ------
    ValueError
        For no values, NaN, an infinite value, masks of another length, or a reading with both marks.

    Source: `common_practice`.

    >>> low, high = censored_bounds([12.0, 90.0], [False, True])
    >>> low.tolist(), high.tolist()
    ([12.0, 90.0], [12.0, inf])
    """
    numbers = np.asarray(values, dtype=float)
    if numbers.size == 0:
        raise ValueError("no readings")
    if not np.all(np.isfinite(numbers)):
        raise ValueError("NaN or an infinite reading: a censored reading carries its limit")
    masks = []
    for mask in (not_moved, moved_on_placing):
        flags = np.zeros(numbers.shape, dtype=bool) if mask is None else np.asarray(mask, dtype=bool)
        if flags.shape != numbers.shape:
            raise ValueError(f"{flags.size} marks for {numbers.size} readings")
        masks.append(flags)
    if np.any(masks[0] & masks[1]):
        raise ValueError("a drop cannot both stay and move on placing")
    return np.where(masks[1], -math.inf, numbers), np.where(masks[0], math.inf, numbers)


@formula(
    "ℓ = Σ ln f(yᵢ) + Σ ln S(cᵢ) + Σ ln F(cᵢ) + Σ ln[F(uᵢ) − F(lᵢ)];  interval {ψ: 2[ℓ̂ − ℓₚ(ψ)] ≤ χ²(C; 1)}",
    source="schmee_hahn_1979 nist_handbook_8_4_1_2",
    holds_when="limits set before the readings were seen; the interval is approximate, for some 10 measured or more",
)
def censored_fit(
    low: ArrayLike,
    high: ArrayLike,
    distribution: str = NORMAL,
    covariates: ArrayLike | None = None,
    at: ArrayLike | None = None,
    share: float = 0.5,
    confidence: float = 0.95,
) -> CensoredRegression:
    """Maximum likelihood fit of readings that are measured or only known to lie between two limits.

    Parameters
    ----------
    low, high : array_like
        Limits of each reading, any unit: equal for a measured one; high infinite when it lies above `low`
        (right-censored); low minus infinite, or 0 for a distribution of positive values, when it lies below
        `high`; else somewhere between. `censored_bounds` makes them from marks.
    distribution : str
        "normal", "lognormal", "weibull" or "exponential"; the last three are fitted in ln(value).
    covariates : array_like, optional
        One row a reading, one column a covariate: the location is then intercept + Σ slope·covariate.
    at : array_like, optional
        Covariates at which the quantile is given; without covariates it always is.
    share : float
        Share of the quantile [-]: 0.5 for the median.
    confidence : float
        Two-sided confidence of the profile likelihood intervals [-].

    Returns
    -------
    CensoredRegression
        Coefficients, spread and quantile with standard errors and profile likelihood intervals. No estimates
        but a note when too few readings are measured (one more than there are parameters; an exponential needs
        as many as it has), all are equal, or Newton's method did not converge.

    Raises
    ------
    ValueError
        For no readings, NaN, low above high, a limit of nothing (both infinite), covariates of another length
        or without variation, an unknown distribution, or a share or confidence outside 0 to 1.

    Source: `nist_handbook_8_4_1_2` for the example, `schmee_hahn_1979`.

    >>> failed = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
    >>> fit = censored_fit(failed + [500] * 10, failed + [math.inf] * 10, "weibull")
    >>> round(fit.scale.value, 3), round(fit.shape.value, 4)
    (606.528, 1.7208)
    """
    require_share("confidence", confidence)
    require_share("share", share)
    if distribution not in FAMILIES:
        raise ValueError(f"distribution is one of {', '.join(FAMILIES)}, not {distribution!r}")
    ends = _ends(low, high)
    x = _covariates(covariates, ends[0].size)
    problem = CensoredProblem(distribution, *ends, x)
    note = problem.hindrance()
    best = None if note else problem.best()
    if best is not None and not best.is_found:
        note = NOT_CONVERGED
    counts = ends[0].size, problem.n_measured
    if note:
        return CensoredRegression(distribution, (), None, None, share, confidence, None, *counts, note)
    coefficients = tuple(problem.location(best, unit, 0.0, confidence) for unit in np.eye(x.shape[1] + 1))
    spread = None if distribution == EXPONENTIAL else problem.spread(best, confidence)
    quantile = None
    if at is not None or x.shape[1] == 0:
        place = np.concatenate(([1.0], np.atleast_1d(np.asarray([] if at is None else at, dtype=float))))
        if place.size != x.shape[1] + 1:
            raise ValueError(f"{place.size - 1} covariates asked for, {x.shape[1]} fitted")
        quantile = problem.location(best, place, problem.family.quantile(share), confidence)
        quantile = quantile if distribution == NORMAL else quantile.exponential()
    log_likelihood = problem.log_likelihood(best)
    return CensoredRegression(distribution, coefficients, spread, quantile, share, confidence, log_likelihood, *counts)


class CensoredProblem:
    """One fit in standardised readings and covariates, so that no unit costs digits."""

    def __init__(self, distribution: str, low: np.ndarray, high: np.ndarray, x: np.ndarray):
        self.distribution, self.family, self.x = distribution, FAMILIES[distribution], x
        self.raw = low, high
        self.is_measured = (low == high) | (np.isfinite(low) & np.isfinite(high) & self._has_lower_limit(low))
        self.n_measured = int(self.is_measured.sum())

    def _has_lower_limit(self, low: np.ndarray) -> np.ndarray:
        return np.full(low.shape, True) if self.distribution == NORMAL else low > 0

    def hindrance(self) -> str:
        """Why there is nothing to fit, or an empty string."""
        low, high = self.raw
        if self.distribution != NORMAL and np.any(high <= 0):
            return NO_PLACE.format(self.distribution)
        columns = self.x.shape[1] + 1
        needed = columns if self.distribution == EXPONENTIAL else columns + 2
        if self.n_measured < needed:
            return f"{self.n_measured} of {low.size} readings measured: a fit needs at least {needed}"
        is_equal = np.ptp(low[self.is_measured]) == 0 and np.array_equal(low[self.is_measured], high[self.is_measured])
        if columns == 1 and is_equal and self.distribution != EXPONENTIAL:
            return "all measured readings are equal: no spread to fit"
        return ""

    def best(self) -> Maximum:
        low, high = self.raw
        if self.distribution != NORMAL:
            low = np.where(low > 0, low, 0)
            with np.errstate(divide="ignore"):  # no lower limit: ln 0 is minus infinity, which is meant
                low, high = np.log(low), np.log(high)
        known = np.concatenate((low[np.isfinite(low)], high[np.isfinite(high)]))
        self.centre, spread = float(known.mean()), float(known.std())
        self.unit = 1.0 if self.distribution == EXPONENTIAL or spread == 0 else spread
        self.x_centre, self.x_unit = self.x.mean(axis=0), self.x.std(axis=0)
        design = np.column_stack((np.ones(low.size), (self.x - self.x_centre) / self.x_unit))
        fixed = 1.0 if self.distribution == EXPONENTIAL else None
        ends = ((end - self.centre) / self.unit for end in (low, high))
        self.likelihood = CensoredLikelihood(*ends, design, self.family, fixed)
        best = self.likelihood.maximum(np.concatenate((np.zeros(design.shape[1]), [1.0])))
        self.covariance = self._covariance(best)
        return best

    def _covariance(self, best: Maximum) -> np.ndarray:
        """Of β and ln σ in the standardised units, from the observed information."""
        directions = self.likelihood.directions(None)
        _, bends = self.likelihood.derivatives(best.point)
        inner = directions @ np.linalg.pinv(-directions.T @ bends @ directions) @ directions.T
        precision = best.point[-1]
        jacobian = np.eye(best.point.size) / precision
        jacobian[:, -1] = -best.point / precision**2
        jacobian[-1, -1] = -1 / precision
        return jacobian @ inner @ jacobian.T

    def location(self, best: Maximum, place: np.ndarray, score: float, confidence: float) -> Estimate:
        """place·β + score·σ in the unit of the (logarithms of the) readings."""
        weights = np.concatenate(([place[0]], (place[1:] - place[0] * self.x_centre) / self.x_unit))
        offset = float(place[0]) * self.centre
        delta, precision = best.point[:-1], best.point[-1]
        estimate = float((weights @ delta + score) / precision)
        slope = np.concatenate((weights, [score / precision]))
        error = math.sqrt(slope @ self.covariance @ slope)

        def constrained(number: float) -> Constraint:
            return Constraint(np.concatenate((weights, [-number])), -score)

        def start(number: float, point: np.ndarray) -> np.ndarray:
            short = number * point[-1] - score - weights @ point[:-1]
            return np.concatenate((point[:-1] + weights * short / (weights @ weights), point[-1:]))

        step = 2 * error if error > 0 else 1.0
        ends = profile_limits(self.likelihood, best, constrained, start, estimate, step, confidence)
        low, high = (None if end is None else offset + self.unit * end for end in ends)
        return Estimate(offset + self.unit * estimate, self.unit * error, low, high)

    def spread(self, best: Maximum, confidence: float) -> Estimate:
        """σ of the (logarithms of the) readings, profiled in ln σ."""
        weights = np.eye(best.point.size)[-1]

        def constrained(number: float) -> Constraint:
            return Constraint(weights, math.exp(-number))

        def start(number: float, point: np.ndarray) -> np.ndarray:
            return point * (math.exp(-number) / point[-1])

        error = math.sqrt(self.covariance[-1, -1])
        estimate = -math.log(best.point[-1])
        ends = profile_limits(self.likelihood, best, constrained, start, estimate, 2 * error, confidence)
        low, high = (None if end is None else self.unit * math.exp(end) for end in ends)
        value = self.unit * math.exp(estimate)
        return Estimate(value, value * error, low, high)

    def log_likelihood(self, best: Maximum) -> float:
        """In the unit of the values: a density of logarithms is divided by the value."""
        exact = self.raw[0][self.raw[0] == self.raw[1]]
        jacobian = 0.0 if self.distribution == NORMAL else float(np.log(exact).sum())
        return best.log_likelihood - exact.size * math.log(self.unit) - jacobian


def _ends(low: ArrayLike, high: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    lower, upper = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    if lower.size == 0 or lower.ndim != 1 or lower.shape != upper.shape:
        raise ValueError(f"a lower and an upper limit for each reading, not {lower.size} and {upper.size}")
    if np.any(np.isnan(lower) | np.isnan(upper)):
        raise ValueError("NaN cannot be the limit of a reading")
    if np.any(lower > upper):
        raise ValueError("a lower limit lies above the upper one")
    if np.any(np.isinf(lower) & np.isinf(upper)):
        raise ValueError("a reading without any limit says nothing")
    return lower, upper


def _covariates(covariates: ArrayLike | None, size: int) -> np.ndarray:
    if covariates is None:
        return np.empty((size, 0))
    x = np.asarray(covariates, dtype=float)
    x = x[:, None] if x.ndim == 1 else x
    if x.shape[0] != size or not np.all(np.isfinite(x)):
        raise ValueError(f"covariates need {size} rows of finite numbers")
    if np.any(np.ptp(x, axis=0) == 0):
        raise ValueError("a covariate has the same value at every reading")
    return x
