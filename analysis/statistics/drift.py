"""Drift within a run: whether readings go up or down with the order of the drops."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from analysis.statistics.moments import finite_row, require_share, scaled_deviations

FEWEST = 4  # three values in order happen by chance once in three; common practice, no source
EXACT_UP_TO = 7  # all 7! orders can be listed; above it ties need the normal approximation


@dataclass(frozen=True, slots=True)
class Trend:
    """Rank trend of readings in order: Kendall's S, its variance under no trend, z, two-sided p, and both τ."""

    s: int
    variance: float
    z: float
    p: float
    is_exact: bool
    tau_a: float  # S over all pairs; ties pull it towards 0
    tau_b: float  # S over the geometric mean of the pairs that are untied in time and in value; 0 when all are equal


@dataclass(frozen=True, slots=True)
class SenSlope:
    """Median of the slopes of all pairs; a limit is None where there are too few pairs for it."""

    slope: float  # unit of the values per unit of time
    low: float | None
    high: float | None
    intercept: float  # median of the values less slope times median of the times
    confidence: float
    n_pairs: int


@dataclass(frozen=True, slots=True)
class Drift:
    """Whether a run is steady: holds (no drift seen), does not hold (drift), cannot tell."""

    outcome: str
    why: str
    slope: float | None  # unit of the values per step of the order
    low: float | None
    high: float | None
    slope_standard_error: float | None
    slope_p: float | None
    trend: Trend | None
    n: int


def drift(
    values: Sequence[float],
    order: Sequence[float] | None = None,
    alpha: float = 0.05,
    decimals: int = 2,
    unit: str = "",
) -> Drift:
    """Tell whether readings drift with the order in which they were taken.

    Parameters
    ----------
    values : sequence of float
        Measured readings of one kind in the order in which they were taken, any unit.
    order : sequence of float, optional
        What the slope is taken against (drop number, minutes); left out: 1, 2, 3 … Readings of one moment
        form no pair in the rank trend.
    alpha : float
        Two-sided level of both tests [-].
    decimals : int
        Of the slope in the sentence.
    unit : str
        Of the readings, for the sentence.

    Returns
    -------
    Drift
        "does not hold" when the slope (t test) and the rank trend (Mann–Kendall) both show a trend,
        "holds" when neither does, "cannot tell" when they disagree, with fewer than four readings, or when so
        few could not show even a perfect trend (2/n! ≥ α: four readings at 5 %).

    Raises
    ------
    ValueError
        For NaN, an infinite value, no values, or an order of another length or with all values the same.

    Source: `mann_kendall`; that both tests must agree is common practice, no source.

    >>> drift([10.0, 10.1, 9.9, 10.0, 10.1]).outcome
    'holds'
    """
    numbers = finite_row(values)
    steps = np.arange(1.0, numbers.size + 1) if order is None else finite_row(order)
    require_share("alpha", alpha)
    if steps.size != numbers.size:
        raise ValueError(f"{steps.size} places in the order for {numbers.size} readings")
    if numbers.size < FEWEST:
        why = f"{_readings(numbers.size)}: drift cannot be told from fewer than {FEWEST}."
        return Drift(CANNOT_TELL, why, None, None, None, None, None, None, numbers.size)
    if np.ptp(steps) == 0:
        raise ValueError(f"the order must differ between readings, all are {steps[0]:g}")
    slope, error, p = _slope(steps, numbers)
    trend = rank_trend(numbers, steps)
    from scipy.stats import t

    half_width = float(t.ppf(1 - alpha / 2, numbers.size - 2)) * error
    outcome, words = _verdict(p < alpha, trend.p < alpha, 2 / math.factorial(min(numbers.size, 20)) < alpha)
    why = (
        f"{words}: slope {_slope_text(slope, decimals, unit)} a reading ({_p(p)}), "
        f"rank trend {_p(trend.p)}, {numbers.size} readings."
    )
    limits = slope - half_width, slope + half_width
    return Drift(outcome, why, slope, *limits, error, p, trend, numbers.size)


@formula(
    "S = Σ(i<j) sign(xⱼ − xᵢ);  Var S = [n(n−1)(2n+5) − Σt(t−1)(2t+5)]/18;  z = (S − sign S)/√Var S",
    source="mann_kendall",
    holds_when="independent readings, one at each time (else Var S with ties in both); t counts the readings of each "
    "tied value",
    library="scipy.stats.permutation_test scipy.stats.kendalltau (exact p)",
)
def rank_trend(values: Sequence[float], times: Sequence[float] | None = None) -> Trend:
    """Mann–Kendall test of readings in order: does a later reading tend to be higher, or lower?

    Parameters
    ----------
    values : sequence of float
        Readings in order, any unit, at least two.
    times : sequence of float, optional
        When each was taken, any unit, in any order; left out: one after the other. Two of the same time form no
        pair, and the variance is that for ties in both.

    Returns
    -------
    Trend
        S = Σ sign(later − earlier); z with the correction for ties and continuity. p is exact, from all
        orders, up to seven readings, and without ties up to fifty; else from z. Of the two τ, τ_b is
        corrected for ties and τ_a is not. One reading has S = 0 and p = 1.

    Raises
    ------
    ValueError
        For NaN, an infinite value, no values or another number of times.

    Source: `mann_kendall`; ties in both: `kendall_1970`.

    >>> rank_trend([10, 15, 14, 20]).s
    4
    """
    numbers = finite_row(values)
    size = numbers.size
    moments = np.arange(1.0, size + 1) if times is None else finite_row(times)
    if moments.size != size:
        raise ValueError(f"{moments.size} times for {size} readings")
    s, variance = int(_kendall_s(numbers, moments)), _kendall_variance(numbers, moments)
    if variance == 0:  # all equal, or a single reading
        return Trend(0, 0.0, 0.0, 1.0, True, 0.0, 0.0)
    z = (s - np.sign(s)) / math.sqrt(variance)
    exact = _exact_p(numbers, moments)
    from scipy.stats import norm

    p = 2 * float(norm.sf(abs(z))) if exact is None else exact
    pairs = size * (size - 1) / 2
    tau_a, tau_b = s / pairs, s / math.sqrt((pairs - _tied_pairs(numbers)) * (pairs - _tied_pairs(moments)))
    return Trend(s, variance, float(z), min(p, 1.0), exact is not None, tau_a, tau_b)


@formula(
    "b = median{(xⱼ − xᵢ)/(tⱼ − tᵢ)};  limits at the ranks (N − C)/2 and (N + C)/2 + 1,  C = z·√Var S",
    source="sen_1968 gilbert_1987 mann_kendall",
    holds_when="independent readings; ranks between two slopes are interpolated",
)
def sen_slope(values: Sequence[float], times: Sequence[float] | None = None, confidence: float = 0.95) -> SenSlope:
    """Slope of readings against time that no single reading can carry away (Sen), with Gilbert's interval.

    Parameters
    ----------
    values : sequence of float
        Readings, any unit, at least two.
    times : sequence of float, optional
        When each was taken, any unit, in any order; left out: 1, 2, 3 … The slope is per unit of time, not per
        place in the list. Pairs taken at the same time have no slope and are passed over.
    confidence : float
        Two-sided confidence [-], between 0 and 1.

    Returns
    -------
    SenSlope
        Slope and limits in the unit of the values per unit of time. With few pairs a limit has no rank left
        and is None.

    Raises
    ------
    ValueError
        For NaN, an infinite value, no values, another number of times, or all times the same (n = 1 too).

    Source: `sen_1968`; interval: `gilbert_1987`, chapter 16.

    >>> round(sen_slope([1.26, 1.27, 1.12, 1.16, 1.03]).slope, 9)
    -0.05625
    """
    numbers = finite_row(values)
    moments = np.arange(1.0, numbers.size + 1) if times is None else finite_row(times)
    require_share("confidence", confidence)
    if moments.size != numbers.size:
        raise ValueError(f"{moments.size} times for {numbers.size} readings")
    first, second = np.triu_indices(numbers.size, 1)
    lapse = moments[second] - moments[first]
    apart = lapse != 0
    if not apart.any():
        raise ValueError("a slope needs readings at two times at least")
    slopes = np.sort((numbers[second] - numbers[first])[apart] / lapse[apart])
    from scipy.special import ndtri

    reach = float(ndtri((1 + confidence) / 2)) * math.sqrt(_kendall_variance(numbers, moments))
    low, high = (_at_rank(slopes, (slopes.size - reach) / 2), _at_rank(slopes, (slopes.size + reach) / 2 + 1))
    slope = float(np.median(slopes))
    intercept = float(np.median(numbers) - slope * np.median(moments))
    return SenSlope(slope, low, high, intercept, confidence, slopes.size)


def _at_rank(ordered: np.ndarray, rank: float) -> float | None:
    """Value at a rank counted from 1, interpolated; None for a rank outside the list."""
    if not 1 <= rank <= ordered.size:
        return None
    return float(np.interp(rank, np.arange(1, ordered.size + 1), ordered))


def _kendall_variance(numbers: np.ndarray, moments: np.ndarray) -> float:
    """Variance of S under no trend, corrected for ties in the readings and in the times."""
    size = numbers.size
    if size < 2:
        return 0.0
    tied, same = (np.unique(each, return_counts=True)[1] for each in (numbers, moments))
    plain = size * (size - 1) * (2 * size + 5) - sum(np.sum(c * (c - 1) * (2 * c + 5)) for c in (tied, same))
    both = np.sum(tied * (tied - 1)) * np.sum(same * (same - 1)) / (2 * size * (size - 1))
    if size > 2:
        triples = np.sum(tied * (tied - 1) * (tied - 2)) * np.sum(same * (same - 1) * (same - 2))
        both += triples / (9 * size * (size - 1) * (size - 2))
    return max(float(plain) / 18 + float(both), 0.0)


def _tied_pairs(numbers: np.ndarray) -> float:
    counts = np.unique(numbers, return_counts=True)[1]
    return float(np.sum(counts * (counts - 1))) / 2


def _verdict(has_slope: bool, has_trend: bool, could_be_seen: bool) -> tuple[str, str]:
    if has_slope and has_trend:
        return DOES_NOT_HOLD, "The readings drift over the run"
    if has_slope or has_trend:
        return CANNOT_TELL, "One of the two tests shows a drift, the other does not"
    if not could_be_seen:
        return CANNOT_TELL, "With so few readings not even a perfect trend could be told from chance"
    return HOLDS, "No drift over the run could be seen"


def _slope_text(slope: float, decimals: int, unit: str) -> str:
    return f"{slope:+.{decimals}f}{'' if unit in ('', '°') else ' '}{unit}".replace("-", "−")


def _readings(count: int) -> str:
    return f"{count} reading" + "s" * (count != 1)


def _p(p: float) -> str:
    return "p < 0.001" if p < 0.001 else f"p = {p:.3f}"


def _slope(steps: np.ndarray, numbers: np.ndarray) -> tuple[float, float, float]:
    if np.ptp(numbers) == 0:
        return 0.0, 0.0, 1.0
    from scipy.stats import linregress

    deviations, unit = scaled_deviations(numbers)  # so that no square leaves the range of a double
    line = linregress(steps, deviations)
    return float(line.slope) * unit, float(line.stderr) * unit, float(line.pvalue)


def _kendall_s(numbers: np.ndarray, moments: np.ndarray, axis: int = -1):
    first, second = np.triu_indices(numbers.shape[axis], 1)
    way = np.sign(np.take(numbers, second, axis) - np.take(numbers, first, axis))
    lapse = np.sign(moments[second] - moments[first])
    return np.sum(way * lapse, axis=axis)


def _exact_p(numbers: np.ndarray, moments: np.ndarray) -> float | None:
    size = numbers.size
    if size <= EXACT_UP_TO:
        from scipy.stats import permutation_test

        # "pairings" lists every order of the readings once; |S| makes the test two-sided
        test = permutation_test(
            (numbers,),
            lambda x, axis: np.abs(_kendall_s(x, moments, axis)),
            permutation_type="pairings",
            alternative="greater",
            vectorized=True,
            n_resamples=np.inf,
        )
        return float(test.pvalue)
    if size <= 50 and np.unique(numbers).size == np.unique(moments).size == size:
        from scipy.stats import kendalltau

        return float(kendalltau(moments, numbers, method="exact").pvalue)
    return None
