"""Likelihood of censored readings in a location-scale family, and its profiles.

A reading y with covariates x follows y = xβ + σ·w, w standard normal or smallest extreme value. In δ = β/σ and
τ = 1/σ the log likelihood of measured, right-, left- and interval-censored readings together is concave,
since density, survival and distribution function are log-concave (Olsen, Econometrica 46 (1978) 1211, for
the normal case; from memory). So Newton's method with step halving finds the one maximum, and a fixed
coefficient, quantile or σ is a linear constraint under which it stays concave: profiles are as safe as fits.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

MOST_STEPS = 200
MOST_WIDENINGS = 60  # of the search for an end, each 1.6 times as far
LARGEST_PRECISION = 1e9  # of standardised readings: above it the spread has shrunk to nothing
LOG_ROOT_2PI = 0.5 * math.log(2 * math.pi)


class Normal:
    """Standard normal: value, first and second derivative of each logarithm."""

    @staticmethod
    def density(z):
        return -0.5 * z * z - LOG_ROOT_2PI, -z, np.full_like(z, -1.0)

    @staticmethod
    def below(z):
        from scipy.special import log_ndtr

        ratio = inverse_mills(z)
        return log_ndtr(z), ratio, -ratio * (ratio + z)

    @staticmethod
    def above(z):
        value, slope, bend = Normal.below(-z)
        return value, -slope, bend

    @staticmethod
    def log_between(low, high):
        from scipy.special import log_ndtr

        flip = low > 0  # in the upper tail the two distribution functions would both be 1
        small, large = np.where(flip, -high, low), np.where(flip, -low, high)
        top = log_ndtr(large)
        return top + np.log(-np.expm1(log_ndtr(small) - top))

    @staticmethod
    def quantile(share: float) -> float:
        from scipy.special import ndtri

        return float(ndtri(share))


class SmallestExtreme:
    """Standard smallest extreme value (the logarithm of a Weibull or exponential life)."""

    @staticmethod
    def density(z):
        w = _exp(z)
        return z - w, 1 - w, -w

    @staticmethod
    def above(z):
        w = _exp(z)
        return -w, -w, -w

    @staticmethod
    def below(z):
        w = _exp(z)
        value = np.where(z < -30, z, np.log(-np.expm1(-np.maximum(w, 1e-300))))
        slope = np.where(w < 1e-12, 1.0, w / np.maximum(np.expm1(np.minimum(w, 700)), 1e-300))
        return value, slope, slope * (1 - w - slope)

    @staticmethod
    def log_between(low, high):
        width = _exp(low) * np.expm1(np.minimum(high - low, 700))
        return -_exp(low) + np.log(-np.expm1(-width))

    @staticmethod
    def quantile(share: float) -> float:
        return math.log(-math.log1p(-share))


def inverse_mills(z: np.ndarray) -> np.ndarray:
    """φ(z)/Φ(z) without loss of digits in either tail."""
    from scipy.special import erfcx

    with np.errstate(over="ignore"):  # erfcx is infinite for z above 37, where the ratio is 0 to double precision
        return math.sqrt(2 / math.pi) / erfcx(-z / math.sqrt(2))


def _exp(z: np.ndarray) -> np.ndarray:
    return np.exp(np.minimum(z, 700.0))


@dataclass(frozen=True, slots=True)
class Constraint:
    """weights·(δ, τ) = value."""

    weights: np.ndarray
    value: float


@dataclass(frozen=True, slots=True)
class Maximum:
    """Where a likelihood is largest; `is_found` is False when Newton's method did not get there."""

    point: np.ndarray  # (δ, τ)
    log_likelihood: float
    is_found: bool


class CensoredLikelihood:
    """Log likelihood of readings between `low` and `high` (equal: measured; infinite: one-sided)."""

    def __init__(
        self, low: np.ndarray, high: np.ndarray, design: np.ndarray, family, fixed_spread: float | None = None
    ):
        self.family, self.fixed_spread = family, fixed_spread
        is_measured = low == high
        is_right, is_left = np.isinf(high) & ~is_measured, np.isinf(low) & ~is_measured
        is_between = ~(is_measured | is_right | is_left)
        self.n_measured = int(is_measured.sum())
        self.parts = []  # (rows of the linear map to z, log function with its derivatives)
        for rows, limits, function in (
            (is_measured, low, family.density),
            (is_right, low, family.above),
            (is_left, high, family.below),
        ):
            if rows.any():
                self.parts.append((np.column_stack((-design[rows], limits[rows])), function))
        self.between = None
        if is_between.any():
            self.between = tuple(np.column_stack((-design[is_between], end[is_between])) for end in (low, high))

    def value(self, point: np.ndarray) -> float:
        if point[-1] <= 0:
            return -math.inf
        total = self.n_measured * math.log(point[-1])
        total += sum(float(function(rows @ point)[0].sum()) for rows, function in self.parts)
        if self.between:
            with np.errstate(divide="ignore"):  # a step so far off that an interval has no probability left
                total += float(self.family.log_between(*(rows @ point for rows in self.between)).sum())
        return total

    def derivatives(self, point: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Gradient and matrix of second derivatives in (δ, τ)."""
        gradient, bends = np.zeros(point.size), np.zeros((point.size, point.size))
        gradient[-1] = self.n_measured / point[-1]
        bends[-1, -1] = -self.n_measured / point[-1] ** 2
        for rows, function in self.parts:
            _, slope, bend = function(rows @ point)
            gradient += rows.T @ slope
            bends += (rows.T * bend) @ rows
        if self.between:
            self._add_between(point, gradient, bends)
        return gradient, bends

    def _add_between(self, point, gradient, bends) -> None:
        low, high = self.between
        z_low, z_high = low @ point, high @ point
        log_share = self.family.log_between(z_low, z_high)
        slopes, curvatures = [], []
        for z, sign in ((z_low, -1), (z_high, 1)):
            log_density, slope, _ = self.family.density(z)
            slopes.append(sign * np.exp(log_density - log_share))
            curvatures.append(slopes[-1] * slope - slopes[-1] ** 2)
        gradient += low.T @ slopes[0] + high.T @ slopes[1]
        cross = (low.T * (-slopes[0] * slopes[1])) @ high
        bends += (low.T * curvatures[0]) @ low + (high.T * curvatures[1]) @ high + cross + cross.T

    def maximum(self, start: np.ndarray, constraint: Constraint | None = None) -> Maximum:
        """Newton's method with step halving, inside the constraint and from a start that meets it."""
        directions = self.directions(constraint)
        point, value = start, self.value(start)
        if directions.shape[1] == 0:
            return Maximum(point, value, math.isfinite(value))
        for _ in range(MOST_STEPS):
            gradient, bends = self.derivatives(point)
            slope, curvature = directions.T @ gradient, -directions.T @ bends @ directions
            try:
                step = np.linalg.solve(curvature, slope)
            except np.linalg.LinAlgError:
                return Maximum(point, value, False)
            gain = float(slope @ step)
            if not math.isfinite(gain) or point[-1] > LARGEST_PRECISION:
                return Maximum(point, value, False)
            # A long step that gains nothing means that the maximum lies at infinity.
            is_short = np.max(np.abs(directions @ step)) < 1e-5 * (1 + np.max(np.abs(point)))
            if abs(gain) < 1e-15 * (1 + abs(value)):  # less than the value can show: the last step is taken unseen
                return Maximum(point + directions @ step * is_short, value, bool(is_short))
            size, moved = 1.0, point + directions @ step
            while size > 1e-6 and not self.value(moved) >= value:
                size /= 2
                moved = point + size * (directions @ step)
            if size <= 1e-6:  # no step gains any more: rounding, if the promised gain is that small
                return Maximum(point, value, abs(gain) < 1e-9)
            point, value = moved, self.value(moved)
        return Maximum(point, value, False)

    def directions(self, constraint: Constraint | None) -> np.ndarray:
        """Directions in which (δ, τ) may move, as columns."""
        size = self.parts[0][0].shape[1] if self.parts else self.between[0].shape[1]
        fixed = [] if constraint is None else [constraint.weights]
        if self.fixed_spread is not None:
            fixed.append(np.eye(size)[-1])
        if not fixed:
            return np.eye(size)
        *_, rows = np.linalg.svd(np.array(fixed))
        return rows[len(fixed) :].T


def profile_limits(
    likelihood: CensoredLikelihood,
    best: Maximum,
    constrained: Callable[[float], Constraint],
    start: Callable[[float, np.ndarray], np.ndarray],
    estimate: float,
    step: float,
    confidence: float,
) -> tuple[float | None, float | None]:
    """Both ends of the profile likelihood interval of one number; None for an end that is not reached.

    `constrained(c)` holds the number at c, `start(c, point)` moves a point there, `step` is a first guess of
    the distance of the ends.
    """
    from scipy.optimize import brentq
    from scipy.special import ndtri

    wanted = float(ndtri((1 + confidence) / 2))
    known, is_sound = {}, True

    def root(value: float) -> float:
        """Root of the likelihood ratio less the wanted one: nearly straight, so few steps are needed."""
        nonlocal is_sound
        if value not in known:
            found = likelihood.maximum(start(value, best.point), constrained(value))
            is_sound = is_sound and found.is_found
            known[value] = math.sqrt(max(2 * (best.log_likelihood - found.log_likelihood), 0)) - wanted
        return known[value]

    def end(sign: int) -> float | None:
        near, reach = estimate, step
        for _ in range(MOST_WIDENINGS):
            far = estimate + sign * reach
            if root(far) >= 0:
                return float(brentq(root, near, far, xtol=1e-12, rtol=1e-12))
            near, reach = far, reach * 1.6
        return None

    low, high = end(-1), end(1)
    return (low, high) if is_sound else (None, None)
