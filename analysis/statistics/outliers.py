"""Readings that stand apart: flagged for a look, never removed.

A flag says where to look for a cause (dust, a scratch, a needle that touched). A reading leaves the numbers
only when a person excludes it with a reason.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.statistics.replication import finite, require_share

FEWEST = 4  # with three values the largest possible statistic hardly reaches its critical value
FEWEST_FOR_SEVERAL = 15  # below it the approximation for more than one outlier is not offered: rosner_1983


@dataclass(frozen=True, slots=True)
class OutlierStep:
    """One step of the test: the most extreme value that was left, its statistic and the critical value."""

    index: int  # place in the values
    value: float
    statistic: float
    critical: float


@dataclass(frozen=True, slots=True)
class Outliers:
    """Which values are flagged, with every step of the test."""

    flags: tuple[bool, ...]  # one a value, in their order
    steps: tuple[OutlierStep, ...]
    alpha: float
    note: str = ""

    @property
    def flagged(self) -> tuple[int, ...]:
        return tuple(index for index, flag in enumerate(self.flags) if flag)


def flag_outliers(values: Sequence[float], alpha: float = 0.05, most: int | None = None) -> Outliers:
    """Flag values that stand apart from the rest, by the generalized extreme studentized deviate test.

    Parameters
    ----------
    values : sequence of float
        Measured values of one kind, any unit, roughly normal but for outliers.
    alpha : float
        Two-sided level of the test [-].
    most : int, optional
        Largest number of outliers looked for. Left out: 1 below 15 values (then it is Grubbs' two-sided
        test), else a tenth of the values, rounded up.

    Returns
    -------
    Outliers
        The number of outliers is the largest i whose statistic is above its critical value, so that two close
        outliers do not hide each other. Fewer than four values: nothing is flagged, and the note says so.

    Raises
    ------
    ValueError
        For NaN, an infinite value, alpha outside 0 to 1, or `most` below 1.

    Source: `rosner_1983`; for one outlier `grubbs_1969`.

    >>> flag_outliers([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]).flagged
    (7,)
    """
    numbers = finite(values)
    require_share("alpha", alpha)
    if numbers.size < FEWEST:
        note = f"{numbers.size} values: too few to tell an outlier"
        return Outliers((False,) * numbers.size, (), alpha, note)
    steps = _steps(numbers, alpha, _most(numbers.size, most))
    above = [count for count, step in enumerate(steps, 1) if step.statistic > step.critical]
    flagged = {step.index for step in steps[: max(above, default=0)]}
    return Outliers(tuple(index in flagged for index in range(numbers.size)), tuple(steps), alpha)


def _most(size: int, most: int | None) -> int:
    if most is None:
        most = 1 if size < FEWEST_FOR_SEVERAL else math.ceil(size / 10)
    if most < 1:
        raise ValueError(f"look for at least 1 outlier, not {most}")
    return min(most, size - 3)  # the critical value needs a t distribution with 1 degree of freedom


def _steps(numbers: np.ndarray, alpha: float, most: int) -> list[OutlierStep]:
    from scipy.stats import t

    left, steps = list(range(numbers.size)), []
    for _ in range(most):
        rest = numbers[left]
        spread = float(np.std(rest, ddof=1))
        if np.ptp(rest) == 0:
            break  # all that is left is equal
        place = int(np.argmax(np.abs(rest - rest.mean())))
        size = rest.size
        quantile = float(t.ppf(1 - alpha / (2 * size), size - 2))
        critical = (size - 1) * quantile / math.sqrt((size - 2 + quantile**2) * size)
        statistic = float(abs(rest[place] - rest.mean()) / spread)
        steps.append(OutlierStep(left.pop(place), float(rest[place]), statistic, critical))
    return steps
