"""Readings that stand apart: flagged for a look, never removed.

A flag says where to look for a cause (dust, a scratch, a needle that touched). A reading leaves the numbers
only when a person excludes it with a reason. Grubbs' test has a one-sided and a two-sided table; which of the two is
meant is named in every call.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.moments import counts, finite, require_share, sample_sd, stable_mean

FEWEST = 4  # with three values the largest possible statistic hardly reaches its critical value
FEWEST_FOR_SEVERAL = 15  # below it the approximation for more than one outlier is not offered: rosner_1983
CORRECT, STRAGGLER, STATISTICAL_OUTLIER = "correct", "straggler", "statistical outlier"
SIDES = ("high", "low", "either")


@dataclass(frozen=True, slots=True)
class OutlierTest:
    """One value held against the rest: the statistic, what it may reach, and the class that follows."""

    test: str  # "Grubbs, two-sided", "Grubbs, one-sided", "Cochran"
    index: int  # place of the value, or of the variance, that was tested
    value: float
    statistic: float | None  # None where all values are equal
    critical_5_percent: float
    critical_1_percent: float
    outlier_class: str  # "correct", "straggler" or "statistical outlier"
    note: str = ""


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


@formula("5 %: straggler above it; 1 %: statistical outlier above it", source="iso_5725_2")
def outlier_class(statistic: float | None, critical_5_percent: float, critical_1_percent: float) -> str:
    """Which of the three classes a statistic falls in.

    Parameters
    ----------
    statistic : float or None
        Of any outlier test [-]; None or NaN where nothing could be tested: correct.
    critical_5_percent, critical_1_percent : float
        Critical values of the same test [-], the second not below the first.

    Returns
    -------
    str
        "correct" up to the 5 % value, "straggler" up to the 1 % value, "statistical outlier" above it.

    Raises
    ------
    ValueError
        For critical values in the wrong order.

    Source: `iso_5725_2`, clause 7.3.

    >>> outlier_class(0.7253, 0.5157, 0.6152)
    'statistical outlier'
    """
    if critical_1_percent < critical_5_percent:
        raise ValueError(f"the 1 % value {critical_1_percent} lies below the 5 % value {critical_5_percent}")
    if statistic is None or not statistic > critical_5_percent:
        return CORRECT
    return STATISTICAL_OUTLIER if statistic > critical_1_percent else STRAGGLER


@formula(
    "(n − 1)/√n·√(t²/(n − 2 + t²)), t = t(1 − tail; n − 2)",
    source="thompson_1935",
    holds_when="independent normal values",
    library="scipy.special.stdtrit",
)
def studentized_deviation(n, tail):
    """How far one given value lies from the mean of its own sample, in standard deviations, at a given chance.

    Parameters
    ----------
    n : int or array
        Number of values, the given one among them, at least 3.
    tail : float or array
        Chance of lying further up [-], above 0 and at most 0.5.

    Returns
    -------
    float or array
        Quantile of (x − mean)/sd [-], at most (n − 1)/√n. Grubbs' test takes it at α/n, Mandel's h at α/2.

    Raises
    ------
    ValueError
        For fewer than 3 values, NaN, or a chance out of its range.

    Source: `thompson_1935`.

    >>> round(studentized_deviation(8, 0.05 / 8), 4)
    2.0317
    """
    n = counts("number of values", n, 3)
    tail = within("chance of the tail", tail, above=0, at_most=0.5, has_nan=False)
    # The quantile itself: scipy.stats wraps the same function in checks that cost fifty times its time.
    from scipy.special import stdtrit

    t = -stdtrit(n - 2, tail)  # lower tail: 1 − α/n would lose the digits of a small α
    square = t * t
    return plain((n - 1) / np.sqrt(n) * np.sqrt(square / (n - 2 + square)))


@formula(
    "Gc = (n − 1)/√n·√(t²/(n − 2 + t²)), t = t(1 − α/n; n − 2), two-sided 1 − α/(2n)",
    source="grubbs_1969",
    holds_when="one outlier in independent normal values",
    library="scipy.special.stdtrit",
)
def grubbs_critical(n, alpha, *, is_two_sided: bool):
    """Critical value of Grubbs' test for one outlier.

    Parameters
    ----------
    n : int or array
        Number of values, at least 3. At 3 the largest statistic there can be is 1.1547, so that the test is empty.
    alpha : float or array
        Level [-], between 0 and 1.
    is_two_sided : bool
        False only where the side was fixed before the values were seen.

    Returns
    -------
    float or array
        Largest (x − mean)/sd that is still unremarkable [-].

    Raises
    ------
    ValueError
        For fewer than 3 values, NaN, or a level outside 0 to 1.

    Source: `grubbs_1969`.

    >>> round(grubbs_critical(8, 0.05, is_two_sided=True), 3), round(grubbs_critical(8, 0.05, is_two_sided=False), 3)
    (2.127, 2.032)
    """
    n = counts("number of values", n, 3)
    require_share("alpha", alpha)
    return studentized_deviation(n, np.asarray(alpha) / ((2 if is_two_sided else 1) * n))


@formula("G = max|xᵢ − x̄|/s", source="grubbs_1969 iso_5725_2", holds_when="one outlier in independent normal values")
def grubbs_test(values: Sequence[float], side: str) -> OutlierTest:
    """Does the most extreme value stand apart from the rest?

    Parameters
    ----------
    values : sequence of float
        Independent values of one kind, any unit, at least 3.
    side : str
        "either": the value furthest from the mean, two-sided table. "high" or "low": largest or smallest, one-sided
        table, when the side was fixed before the values were seen.

    Returns
    -------
    OutlierTest
        Nothing is removed.

    Raises
    ------
    ValueError
        For fewer than 3 values, NaN, an infinite value, or another side.

    Source: `grubbs_1969`; the classes `iso_5725_2`.

    >>> found = grubbs_test([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57], side="either")
    >>> round(found.statistic, 4), found.outlier_class
    (2.4688, 'statistical outlier')
    """
    if side not in SIDES:
        raise ValueError(f"side is one of {', '.join(SIDES)}, not {side!r}")
    numbers = finite(values)
    critical = [grubbs_critical(numbers.size, level, is_two_sided=side == "either") for level in (0.05, 0.01)]
    deviations = (numbers - stable_mean(numbers)) * (-1 if side == "low" else 1)
    place = int(np.argmax(np.abs(deviations) if side == "either" else deviations))
    spread = sample_sd(numbers)
    statistic = float(abs(deviations[place])) / spread if spread > 0 else None
    note = "three values: the largest possible statistic is 1.1547, the test is empty" if numbers.size == 3 else ""
    note = note if statistic is not None else "all values are equal"
    name = f"Grubbs, {'two' if side == 'either' else 'one'}-sided"
    said = outlier_class(statistic, *critical)
    return OutlierTest(name, place, float(numbers[place]), statistic, *critical, said, note)


@formula(
    "Cc = F/(F + p − 1), F = F(1 − α/p; n − 1, (p − 1)(n − 1))",
    source="cochran_1941 iso_5725_2",
    holds_when="p independent normal cells of n values each",
    library="scipy.special.betaincinv",
)
def cochran_critical(p, n, alpha):
    """Critical value of Cochran's test for the largest of several variances.

    Parameters
    ----------
    p : int or array
        Number of variances, at least 2.
    n : int or array
        Number of values behind each variance, at least 2.
    alpha : float or array
        Level [-], between 0 and 1.

    Returns
    -------
    float or array
        Largest share of the sum of variances that is still unremarkable [-].

    Raises
    ------
    ValueError
        For p or n below 2, NaN, or a level outside 0 to 1.

    Source: `cochran_1941`.

    >>> round(cochran_critical(8, 3, 0.01), 3)
    0.615
    """
    p, n = counts("number of variances", p, 2), counts("number of values", n, 2)
    require_share("alpha", alpha)
    from scipy.special import betainccinv

    # F/(F + p − 1) is the beta quantile itself; its upper tail keeps its digits at small α/p.
    return plain(betainccinv((n - 1) / 2, (p - 1) * (n - 1) / 2, np.asarray(alpha) / p))


@formula("C = s²max/Σsᵢ²", source="cochran_1941 iso_5725_2", holds_when="p independent normal cells of n values each")
def cochran_test(sds: Sequence[float], n: int) -> OutlierTest:
    """Does one cell scatter more than the others?

    Parameters
    ----------
    sds : sequence of float
        Standard deviation of each cell, any unit, 0 or more, at least 2 cells.
    n : int
        Number of values behind each, at least 2; where they differ, the most frequent one (then approximate).

    Returns
    -------
    OutlierTest
        `index` and `value` of the largest standard deviation. Only a large spread is tested, never a small one.

    Raises
    ------
    ValueError
        For fewer than 2 cells, NaN, or a negative standard deviation.

    Source: `cochran_1941`; the classes `iso_5725_2`.

    >>> found = cochran_test([1.0, 1.0, 1.0, 3.0], n=3)
    >>> found.statistic, found.outlier_class
    (0.75, 'correct')
    """
    spreads = within("standard deviation", finite(sds), at_least=0, has_nan=False)
    critical = [cochran_critical(spreads.size, n, level) for level in (0.05, 0.01)]
    place, largest = int(np.argmax(spreads)), float(np.max(spreads))
    statistic = float(1 / np.sum((spreads / largest) ** 2)) if largest > 0 else None
    note = "" if largest > 0 else "no cell scatters at all"
    said = outlier_class(statistic, *critical)
    return OutlierTest("Cochran", place, largest, statistic, *critical, said, note)


@formula(
    "λᵢ = (n − i)·t/√((n − i − 1 + t²)(n − i + 1)), t = t(1 − α/(2(n − i + 1)); n − i − 1)",
    source="rosner_1983",
    holds_when="roughly normal values; for more than one outlier from about 15 values on",
    library="scipy.special.stdtrit",
)
def esd_critical(n, step, alpha=0.05):
    """Critical value of one step of the generalized extreme studentized deviate test.

    Parameters
    ----------
    n : int or array
        Number of values before any was set aside.
    step : int or array
        1 for the most extreme value, up to n − 2.
    alpha : float or array
        Two-sided level [-].

    Returns
    -------
    float or array
        λ of that step [-]; it is Grubbs' two-sided value of the values that are left.

    Raises
    ------
    ValueError
        For a step below 1 or that leaves fewer than 3 values, NaN, or a level outside 0 to 1.

    Source: `rosner_1983`.

    >>> round(esd_critical(54, 3), 4)
    3.1439
    """
    left = np.asarray(n) - counts("step", step, 1) + 1
    return grubbs_critical(left, alpha, is_two_sided=True)


@formula(
    "Rᵢ = max|x − x̄|/s of the values left; the number of outliers is the largest i with Rᵢ > λᵢ",
    source="rosner_1983 grubbs_1969",
    holds_when="roughly normal values but for the outliers",
)
def flag_outliers(values: Sequence[float], alpha: float = 0.05, most: int | None = None) -> Outliers:
    """Flag values that stand apart from the rest, by the generalized extreme studentized deviate test.

    Parameters
    ----------
    values : sequence of float
        Measured values of one kind, any unit, roughly normal but for outliers.
    alpha : float
        Two-sided level of the test [-].
    most : int, optional
        Largest number looked for. Left out: 1 below 15 values (Grubbs' two-sided test), else a tenth, rounded up.

    Returns
    -------
    Outliers
        Two close outliers do not hide each other. Fewer than four values: nothing is flagged, and the note says so.

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
    left, steps = list(range(numbers.size)), []
    for _ in range(most):
        rest = numbers[left]
        spread = sample_sd(rest)
        if spread == 0:
            break  # all that is left is equal
        deviations = np.abs(rest - stable_mean(rest))
        place = int(np.argmax(deviations))
        critical = studentized_deviation(rest.size, alpha / (2 * rest.size))
        steps.append(OutlierStep(left.pop(place), float(rest[place]), float(deviations[place]) / spread, critical))
    return steps
