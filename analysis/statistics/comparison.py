"""Comparing two recipes: difference of their means with its interval, and equivalence.

Every input is one value a coupon. Values of single drops would make the interval too narrow (`hurlbert_1984`):
reduce them to the coupon first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.replication import finite, require_share

HIGHER, LOWER, UNDECIDED = "higher", "lower", "cannot tell yet"
EQUIVALENT = "equivalent"


@dataclass(frozen=True, slots=True)
class Difference:
    """First group less second, with its interval; None where the data give none."""

    difference: float
    low: float | None
    high: float | None
    confidence: float
    statistic: float | None  # t
    df: float | None
    p: float | None  # two-sided
    outcome: str  # "higher", "lower" (the first against the second) or "cannot tell yet"
    sentence: str
    n: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Equivalence:
    """Whether a difference lies within margins: two one-sided tests; None where the data give none."""

    difference: float
    low: float | None  # interval of confidence 1 − 2·alpha: equivalent when it lies within the margins
    high: float | None
    margins: tuple[float, float]
    p: float | None  # the larger of the two
    alpha: float
    outcome: str  # "equivalent" or "cannot tell yet"
    sentence: str


@formula(
    "x̄1 − x̄2 ± t(ν)·√(s1²/n1 + s2²/n2),  ν by Welch and Satterthwaite",
    source="welch_1947",
    holds_when="one value a coupon, coupons independent, values near normal; spreads may differ",
    library="statsmodels.stats.weightstats.CompareMeans",
)
def welch_difference(
    first: Sequence[float], second: Sequence[float], confidence: float = 0.95, unit: str = "", decimals: int = 2
) -> Difference:
    """Is one recipe higher than the other? Difference of the means of coupons whose spreads may differ.

    Parameters
    ----------
    first, second : sequence of float
        One value a coupon of each recipe, any unit.
    confidence : float
        Two-sided confidence of the interval [-].
    unit : str
        For the sentence.
    decimals : int
        Of the numbers in the sentence.

    Returns
    -------
    Difference
        "cannot tell yet" when the interval holds 0, with fewer than two coupons in a group, and when neither group
        has any spread (rounded readings give no interval).

    Raises
    ------
    ValueError
        For NaN, an infinite value, no values, more than one dimension, or a confidence outside 0 to 1.

    Source: `welch_1947`; data of `student_1908`.

    >>> found = welch_difference([3.1, 2.9, 3.4, 3.0], [4.0, 4.4, 4.1, 4.6])
    >>> found.outcome, round(found.difference, 3)
    ('lower', -1.175)
    """
    require_share("confidence", confidence)
    one, two = sample(first), sample(second)
    difference, n = mean_difference(one, two), (one.size, two.size)
    lacking = lacking_spread(one, two)
    if lacking:
        return _undecided(difference, n, confidence, lacking, unit, decimals)
    test = _compared(one, two)
    t, p, df = map(float, test.ttest_ind(usevar="unequal"))
    low, high = map(float, test.tconfint_diff(alpha=1 - confidence, usevar="unequal"))
    return _decided(difference, low, high, confidence, (t, df, p), n, unit, decimals)


@formula(
    "d̄ ± t(n − 1)·sd/√n,  d = first − second of each pair",
    source="student_1908",
    holds_when="one pair of values a coupon (or a matched pair of coupons), pairs independent, differences near normal",
    library="statsmodels.stats.weightstats.DescrStatsW",
)
def paired_difference(
    first: Sequence[float], second: Sequence[float], confidence: float = 0.95, unit: str = "", decimals: int = 2
) -> Difference:
    """Did the value change? Mean difference of two values of the same coupon, before and after.

    Parameters
    ----------
    first, second : sequence of float
        Two values of each coupon in the same order of coupons, any unit.
    confidence, unit, decimals
        As in `welch_difference`.

    Returns
    -------
    Difference
        "cannot tell yet" when the interval holds 0, for a single pair, and when all differences are equal.

    Raises
    ------
    ValueError
        For NaN, no values, another length, or a confidence outside 0 to 1.

    Source: `student_1908`.

    >>> paired_difference([5.0, 6.1, 5.6], [4.1, 5.3, 4.6]).outcome
    'higher'
    """
    require_share("confidence", confidence)
    one, two = sample(first), sample(second)
    if one.shape != two.shape:
        raise ValueError(f"{one.size} and {two.size} values do not make pairs")
    differences = one - two
    mean, n = float(np.mean(differences)), (one.size, two.size)
    if one.size < 2 or _is_flat(differences, max(np.max(np.abs(one)), np.max(np.abs(two)))):
        lacking = "a single pair" if one.size < 2 else "all differences are equal, so that they show no spread"
        return _undecided(mean, n, confidence, lacking, unit, decimals)
    from statsmodels.stats.weightstats import DescrStatsW

    test = DescrStatsW(differences)
    t, p, df = map(float, test.ttest_mean())
    low, high = map(float, test.tconfint_mean(alpha=1 - confidence))
    return _decided(mean, low, high, confidence, (t, df, p), n, unit, decimals)


@formula(
    "equivalent when the (1 − 2α) interval of x̄1 − x̄2 lies within (lower, upper)",
    source="schuirmann_1987",
    holds_when="one value a coupon, coupons independent, values near normal; margins set before the measurement",
    library="statsmodels.stats.weightstats.ttost_ind, ttost_paired",
)
def equivalence(
    first: Sequence[float],
    second: Sequence[float],
    margins: tuple[float, float],
    alpha: float = 0.05,
    paired: bool = False,
    unit: str = "",
    decimals: int = 2,
) -> Equivalence:
    """Are two recipes the same for the purpose? Two one-sided tests of the difference against its margins.

    Parameters
    ----------
    first, second : sequence of float
        One value a coupon of each recipe, any unit; in pairs when `paired`.
    margins : tuple of float
        Lower and upper difference that still counts as the same, unit of the values; set before measuring.
    alpha : float
        Level of each of the two tests [-], below 0.5.
    paired : bool
        Two values of the same coupon.
    unit, decimals
        For the sentence.

    Returns
    -------
    Equivalence
        Never "different": that is what `welch_difference` and `paired_difference` are asked for.

    Raises
    ------
    ValueError
        For NaN, no values, margins in the wrong order, an alpha outside 0 to 0.5, or pairs of another length.

    Source: `schuirmann_1987`.

    >>> equivalence([3.1, 2.9, 3.4, 3.0, 3.2], [3.0, 3.1, 3.3, 2.9, 3.2], (-1, 1)).outcome
    'equivalent'
    """
    require_share("2·alpha", 2 * alpha)
    if not margins[0] < margins[1]:
        raise ValueError(f"the margins {margins} are not in order")
    found = (paired_difference if paired else welch_difference)(first, second, 1 - 2 * alpha)
    said = f"{margins[0]:.{decimals}f} to {margins[1]:.{decimals}f}{_behind(unit)}"
    if found.low is None:
        sentence = f"Whether the difference lies within {said} cannot be told yet: there is no interval."
        sentence = sentence.replace("-", "−")
        return Equivalence(found.difference, None, None, margins, None, alpha, UNDECIDED, sentence)
    from statsmodels.stats.weightstats import ttost_ind, ttost_paired

    one, two = sample(first), sample(second)
    test = ttost_paired(one, two, *margins) if paired else ttost_ind(one, two, *margins, usevar="unequal")
    p = float(test[0])
    interval, share = f"{found.low:.{decimals}f} to {found.high:.{decimals}f}", percent(1 - 2 * alpha)
    if p < alpha:
        outcome, sentence = EQUIVALENT, f"The difference lies within {said} ({interval}, {share} interval)."
    else:
        outcome = UNDECIDED
        sentence = f"Whether the difference lies within {said} cannot be told yet ({interval}, {share})."
    sentence = sentence.replace("-", "−")
    return Equivalence(found.difference, found.low, found.high, margins, p, alpha, outcome, sentence)


def mean_difference(one: np.ndarray, two: np.ndarray) -> float:
    """Mean of one array less the mean of another, without loss of digits to a large common part.

    >>> mean_difference(np.array([1e15 + 1, 1e15 + 2]), np.array([1e15]))
    1.5
    """
    common = one[0]
    return float(np.mean(one - common) - np.mean(two - common))


def sample(values: Sequence[float]) -> np.ndarray:
    """One value a coupon as an array; NaN, an infinite value, none, or another shape than a row is refused.

    >>> sample([3, 4])
    array([3., 4.])
    """
    numbers = finite(values)
    if numbers.ndim != 1:
        raise ValueError(f"one value a coupon is expected, not an array of shape {numbers.shape}")
    return numbers


def percent(share: float) -> str:
    """A confidence in words, not rounded up to one that was not asked for.

    >>> percent(0.95), percent(0.975), percent(0.9995)
    ('95%', '97.5%', '99.95%')
    """
    return f"{100 * share:.9g}%"


def _is_flat(values: np.ndarray, size: float) -> bool:
    return bool(np.ptp(values) <= 1e-13 * size)


def lacking_spread(one: np.ndarray, two: np.ndarray) -> str:
    """What keeps two groups from being compared; empty where nothing does.

    >>> lacking_spread(np.array([1.0]), np.array([1.0, 2.0]))
    'one of them has a single coupon'
    """
    if min(one.size, two.size) < 2:
        return "one of them has a single coupon"
    size = max(np.max(np.abs(one)), np.max(np.abs(two)))
    return "neither shows any spread between its coupons" if _is_flat(one, size) and _is_flat(two, size) else ""


def _compared(one: np.ndarray, two: np.ndarray):
    from statsmodels.stats.weightstats import CompareMeans, DescrStatsW

    common = one[0]
    return CompareMeans(DescrStatsW(one - common), DescrStatsW(two - common))


def _behind(unit: str) -> str:
    return f"{'' if unit in ('', '°') else ' '}{unit}"


def _decided(difference, low, high, confidence, test, n, unit, decimals) -> Difference:
    outcome = HIGHER if low > 0 else LOWER if high < 0 else UNDECIDED
    numbers = f"{difference:+.{decimals}f}{_behind(unit)}, {percent(confidence)} interval"
    numbers += f" {low:+.{decimals}f} to {high:+.{decimals}f}, {n[0]} and {n[1]} coupons"
    sentence = {
        HIGHER: f"The first is higher than the second ({numbers}).",
        LOWER: f"The first is lower than the second ({numbers}).",
        UNDECIDED: f"Which of the two is higher cannot be told yet ({numbers}).",
    }[outcome].replace("-", "−")
    return Difference(difference, low, high, confidence, *test, outcome, sentence, n)


def _undecided(difference, n, confidence, lacking, unit, decimals) -> Difference:
    number = f"{difference:+.{decimals}f}{_behind(unit)}".replace("-", "−")
    sentence = f"Which of the two is higher cannot be told yet: {lacking} (difference {number})."
    return Difference(difference, None, None, confidence, None, None, None, UNDECIDED, sentence, n)
