"""Drift within a run: whether readings go up or down with the order of the drops."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from analysis.statistics.replication import finite, require_share

FEWEST = 4  # three values in order happen by chance once in three; common practice, no source
EXACT_UP_TO = 7  # all 7! orders can be listed; above it ties need the normal approximation


@dataclass(frozen=True, slots=True)
class Trend:
    """Rank trend of readings in order: Kendall's S, its variance under no trend, z, two-sided p."""

    s: int
    variance: float
    z: float
    p: float
    is_exact: bool


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
        What the slope is taken against (drop number, minutes); left out: 1, 2, 3 …
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
        "holds" when neither does, "cannot tell" when they disagree or there are fewer than four readings.

    Raises
    ------
    ValueError
        For NaN, an infinite value, no values, or an order of another length or with all values the same.

    Source: `mann_kendall`; that both tests must agree is common practice, no source.

    >>> drift([10.0, 10.1, 9.9, 10.0, 10.1]).outcome
    'holds'
    """
    numbers = finite(values)
    steps = np.arange(1, numbers.size + 1) if order is None else finite(order)
    require_share("alpha", alpha)
    if steps.size != numbers.size:
        raise ValueError(f"{steps.size} places in the order for {numbers.size} readings")
    if numbers.size < FEWEST:
        why = f"{numbers.size} readings: drift cannot be told from fewer than {FEWEST}."
        return Drift(CANNOT_TELL, why, None, None, None, None, None, None, numbers.size)
    slope, error, p = _slope(steps, numbers)
    trend = rank_trend(numbers[np.argsort(steps, kind="stable")])
    from scipy.stats import t

    half_width = float(t.ppf(1 - alpha / 2, numbers.size - 2)) * error
    outcome, words = _verdict(p < alpha, trend.p < alpha)
    why = (
        f"{words}: slope {_slope_text(slope, decimals, unit)} a drop ({_p(p)}), "
        f"rank trend {_p(trend.p)}, {numbers.size} readings."
    )
    limits = slope - half_width, slope + half_width
    return Drift(outcome, why, slope, *limits, error, p, trend, numbers.size)


def rank_trend(values: Sequence[float]) -> Trend:
    """Mann–Kendall test of readings in order: does a later reading tend to be higher, or lower?

    Parameters
    ----------
    values : sequence of float
        Readings in order, any unit, at least two.

    Returns
    -------
    Trend
        S = Σ sign(later − earlier); z with the correction for ties and continuity. p is exact, from all
        orders, up to seven readings, and without ties up to fifty; else from z.

    Raises
    ------
    ValueError
        For NaN, an infinite value or no values.

    Source: `mann_kendall`.

    >>> rank_trend([10, 15, 14, 20]).s
    4
    """
    numbers = finite(values)
    size = numbers.size
    s = _kendall_s(numbers)
    counts = np.unique(numbers, return_counts=True)[1]
    variance = (size * (size - 1) * (2 * size + 5) - np.sum(counts * (counts - 1) * (2 * counts + 5))) / 18
    if variance == 0:  # all equal, or a single reading
        return Trend(0, 0.0, 0.0, 1.0, True)
    z = (s - np.sign(s)) / math.sqrt(variance)
    exact = _exact_p(numbers, has_ties=counts.max() > 1)
    from scipy.stats import norm

    p = 2 * float(norm.sf(abs(z))) if exact is None else exact
    return Trend(s, float(variance), float(z), min(p, 1.0), exact is not None)


def _verdict(has_slope: bool, has_trend: bool) -> tuple[str, str]:
    if has_slope and has_trend:
        return DOES_NOT_HOLD, "The readings drift over the drops"
    if has_slope or has_trend:
        return CANNOT_TELL, "One of the two tests shows a drift, the other does not"
    return HOLDS, "No drift over the drops could be seen"


def _slope_text(slope: float, decimals: int, unit: str) -> str:
    return f"{slope:+.{decimals}f}{'' if unit in ('', '°') else ' '}{unit}".replace("-", "−")


def _p(p: float) -> str:
    return "p < 0.001" if p < 0.001 else f"p = {p:.3f}"


def _slope(steps: np.ndarray, numbers: np.ndarray) -> tuple[float, float, float]:
    if np.ptp(numbers) == 0:
        return 0.0, 0.0, 1.0
    from scipy.stats import linregress

    line = linregress(steps, numbers)  # refuses an order without any difference
    return float(line.slope), float(line.stderr), float(line.pvalue)


def _kendall_s(numbers: np.ndarray, axis: int = -1):
    earlier, later = np.triu_indices(numbers.shape[axis], 1)
    s = np.sign(np.take(numbers, later, axis) - np.take(numbers, earlier, axis)).sum(axis=axis)
    return int(s) if np.ndim(s) == 0 else s


def _exact_p(numbers: np.ndarray, has_ties: bool) -> float | None:
    if numbers.size <= EXACT_UP_TO:
        from scipy.stats import permutation_test

        # "pairings" lists every order of the readings once; |S| makes the test two-sided
        test = permutation_test(
            (numbers,),
            lambda x, axis: np.abs(_kendall_s(x, axis)),
            permutation_type="pairings",
            alternative="greater",
            vectorized=True,
            n_resamples=np.inf,
        )
        return float(test.pvalue)
    if not has_ties and numbers.size <= 50:
        from scipy.stats import kendalltau

        return float(kendalltau(np.arange(numbers.size), numbers, method="exact").pvalue)
    return None
