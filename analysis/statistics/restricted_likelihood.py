"""Likelihood of nested readings: groups in groups, each level adding its own normal scatter.

Used by `nested` and `replication`. The likelihood of any number of nested levels, with any numbers of readings, is
built up from the inside: readings make a group mean with a weight, group means make the next mean, and so on. No
matrix is inverted, and the gradient is exact (complex step), so that estimates keep eight digits or more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from analysis.formula import formula

STEP = 1e-30  # of the complex step: no subtraction, so it may be as small as one likes
FLAT = 1e-6  # a gradient below it counts as zero
LOG_RANGE = (-17.0, 60.0)  # of ln(variance/variance of the readings); what would lie below it lies at 0


@dataclass(frozen=True, slots=True)
class NestedFit:
    """Variances by maximum likelihood, outermost first, the scatter of the readings last."""

    variances: tuple[float, ...]  # none below 0
    mean: float  # by generalized least squares
    mean_variance: float  # of that mean, with the variances taken as known
    minus_two_log_likelihood: float
    is_fitted: bool
    note: str = ""


@formula(
    "−2ℓ = ln|V| + ln|XᵀV⁻¹X| + (y − Xμ̂)ᵀV⁻¹(y − Xμ̂) + (N − 1)·ln 2π, V = Σ σⱼ²ZⱼZⱼᵀ + σ²I, all σⱼ² ≥ 0",
    source="harville_1977 searle_1992",
    holds_when="normal scatter on every level",
)
def nested_likelihood_fit(
    values: np.ndarray, members: Sequence[np.ndarray], starts: Sequence[float], is_restricted: bool = True
) -> NestedFit:
    """Variances of nested levels by restricted (or plain) maximum likelihood.

    Parameters
    ----------
    values : array
        Readings, any unit, sorted so that the readings of a group stand together, on every level.
    members : sequence of array of int
        How many members each group has, innermost level first: readings of each coupon, then coupons of each batch.
    starts : sequence of float
        First guess of each level's variance, outermost first, that of the readings last (above 0).
    is_restricted : bool
        Restricted likelihood; False for the plain one, whose variances are too small when groups are few.

    Returns
    -------
    NestedFit
        Where all readings inside each innermost group are equal the likelihood has no maximum: `is_fitted` is
        False and the note says so. So it is where the search does not converge.

    Raises
    ------
    ValueError
        Where a level does not account for all members of the one below.

    Source: `harville_1977`.

    >>> fit = nested_likelihood_fit(np.array([1.0, 3.0, 5.0, 7.0]), [np.array([2, 2])], [5.0, 2.0])
    >>> [round(variance, 6) for variance in fit.variances]
    [7.0, 2.0]
    """
    sizes = [len(values), *(len(counts) for counts in members)]
    if [int(np.sum(counts)) for counts in members] != sizes[:-1]:
        raise ValueError("each level must account for all members of the one below")
    likelihood = _Likelihood(np.asarray(values, dtype=float), list(members), is_restricted)
    if not likelihood.inside > 0:
        note = "the readings inside each innermost group are equal: the likelihood has no maximum"
        return NestedFit((math.nan,) * len(starts), math.nan, math.nan, math.nan, False, note)
    residual = starts[-1] if starts[-1] > 0 else likelihood.inside / likelihood.df
    guesses = np.array([start / residual for start in starts[:-1]])[::-1]
    return likelihood.fit(*_search(likelihood, guesses))


class _Likelihood:
    """−2ℓ as a function of the variance of each level over that of the readings, innermost first."""

    def __init__(self, values: np.ndarray, members: list[np.ndarray], is_restricted: bool):
        self.origin = float(values[0])
        self.members, self.is_restricted, self.count = members, is_restricted, len(values)
        shifted = values - self.origin
        sizes = members[0] if members else np.array([len(values)])
        self.sizes, self.means = sizes.astype(float), _group_sums(shifted, sizes) / sizes
        self.inside = float(np.sum((shifted - np.repeat(self.means, sizes)) ** 2))
        self.df = self.count - 1 if is_restricted else self.count

    def parts(self, ratios):
        """Weighted square sum, log determinant, total weight and mean, for these ratios."""
        weights, means, square_sum, log_determinant = self.sizes, self.means, self.inside, 0.0
        for level, ratio in enumerate(ratios):
            log_determinant = log_determinant + np.sum(np.log(1 + ratio * weights))
            weights = weights / (1 + ratio * weights)
            counts = self.members[level + 1] if level + 1 < len(self.members) else np.array([len(weights)])
            sums = _group_sums(weights, counts)
            upper = _group_sums(weights * means, counts) / sums
            square_sum = square_sum + np.sum(weights * (means - np.repeat(upper, counts)) ** 2)
            weights, means = sums, upper
        return square_sum, log_determinant, weights[0], means[0]

    def __call__(self, ratios):
        square_sum, log_determinant, weight, _ = self.parts(ratios)
        value = self.df * (1 + np.log(2 * math.pi * square_sum / self.df)) + log_determinant
        return value + np.log(weight) if self.is_restricted else value

    def fit(self, ratios: np.ndarray, is_fitted: bool) -> NestedFit:
        square_sum, _, weight, mean = self.parts(ratios)
        residual = float(square_sum) / self.df
        variances = (*(float(ratio) * residual for ratio in ratios[::-1]), residual)
        note = "" if is_fitted else "the search for the maximum did not converge"
        location = self.origin + float(mean)
        return NestedFit(variances, location, residual / float(weight), float(self(ratios)), is_fitted, note)


def _search(likelihood: _Likelihood, guesses: np.ndarray) -> tuple[np.ndarray, bool]:
    """Best ratios: for each choice of levels that lie at 0 the others are climbed to, and the best choice is taken."""
    low, high = LOG_RANGE
    starts = {tuple(np.log(np.clip(guesses, 1e-2, math.exp(high)))), (0.0,) * guesses.size}
    best, best_value = np.zeros(guesses.size), float(likelihood(np.zeros(guesses.size)))
    for free in product((False, True), repeat=guesses.size):
        for start in starts if any(free) else ():
            ratios = np.where(free, np.exp(_climb(likelihood, np.array(start), np.array(free))), 0.0)
            value = float(likelihood(ratios))
            if value < best_value - 1e-9 and np.all(np.log(ratios[list(free)]) > low):
                best, best_value = ratios, value
    slope = _slope(likelihood, np.log(best[best > 0]), best > 0)
    return best, bool(np.all(np.abs(slope) < FLAT))


def _climb(likelihood: _Likelihood, logs: np.ndarray, free: np.ndarray) -> np.ndarray:
    """Newton steps in the logarithms of the free ratios, downhill in −2ℓ, until the slope is flat."""

    def value(x: np.ndarray) -> float:
        return float(likelihood(_ratios(x, free)))

    x, full = logs[free], logs.copy()
    for _ in range(100):
        slope = _slope(likelihood, x, free)
        if np.max(np.abs(slope)) < 1e-11:
            break
        curves, directions = np.linalg.eigh(_curvature(likelihood, x, free))
        step = directions @ ((directions.T @ slope) / np.maximum(np.abs(curves), 1e-8))
        step *= min(1.0, 4.0 / np.max(np.abs(step)))
        before = value(x)
        while value(np.clip(x - step, *LOG_RANGE)) > before + 1e-12 * abs(before) and np.max(np.abs(step)) > 1e-12:
            step /= 4
        moved = np.clip(x - step, *LOG_RANGE)
        if np.array_equal(moved, x):
            break
        x = moved
        if np.min(x) <= LOG_RANGE[0]:
            break  # on its way to 0, where another choice of levels has it
    full[free] = x
    return full


def _ratios(logs: np.ndarray, free: np.ndarray) -> np.ndarray:
    ratios = np.zeros(free.size, dtype=logs.dtype)
    ratios[free] = np.exp(logs)
    return ratios


def _slope(likelihood: _Likelihood, logs: np.ndarray, free: np.ndarray) -> np.ndarray:
    steps = logs + 1j * STEP * np.eye(logs.size)
    return np.array([likelihood(_ratios(step, free)).imag / STEP for step in steps])


def _curvature(likelihood: _Likelihood, logs: np.ndarray, free: np.ndarray) -> np.ndarray:
    widths = 1e-5 * np.eye(logs.size)
    rows = [_slope(likelihood, logs + w, free) - _slope(likelihood, logs - w, free) for w in widths]
    return (np.array(rows) + np.array(rows).T) / 4e-5


def _group_sums(numbers: np.ndarray, counts: np.ndarray) -> np.ndarray:
    return np.add.reduceat(numbers, np.concatenate([[0], np.cumsum(counts)[:-1]]))
