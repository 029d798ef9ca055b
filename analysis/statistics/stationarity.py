"""Is a run steady? Trend, runs, change point, spread and correlation of readings in the order in which they were taken.

A trend test alone is not enough: readings that swing up and down about a fixed level pass it, and still are not
independent, so that their mean is known better or worse than √n says.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from analysis.formula import formula
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from analysis.statistics.drift import FEWEST, Trend, rank_trend
from analysis.statistics.moments import finite_row, require_share
from analysis.statistics.serial_correlation import (
    Autocorrelation,
    autocorrelation,
    durbin_watson,
    effective_sample_size,
)

EXACT_RUNS_UP_TO = 20  # readings on either side of the median; above it the normal approximation serves
EXACT_CHANGE_UP_TO = 8  # all 8! orders can be listed
QUESTIONS = 5  # trend, runs, change of level, spread, autocorrelation
FEWEST_QUARTERED = 12  # three a quarter: two readings always lie equally far from their median


@dataclass(frozen=True, slots=True)
class RunsTest:
    """Runs above and below the median: their number, what chance would give, z and two-sided p."""

    runs: int
    expected: float
    sd: float
    z: float
    p: float
    n_above: int
    n_below: int
    is_exact: bool  # p from the exact distribution; else from z


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """Where the level of the readings most likely changed (Pettitt), with its p."""

    n_before: int  # readings before the change; 0 when all readings are equal
    u: float
    p: float
    is_exact: bool
    median_before: float
    median_after: float


@dataclass(frozen=True, slots=True)
class SpreadTest:
    """Is the spread the same in every quarter of the run? Levene's W about the medians, and its p."""

    w: float
    p: float


@dataclass(frozen=True, slots=True)
class Stationarity:
    """Whether a run is steady, the five questions behind the verdict, and what the readings are worth."""

    outcome: str  # holds, does not hold, cannot tell
    why: str
    trend: Trend | None
    runs: RunsTest | None
    change: ChangePoint | None
    spread: SpreadTest | None  # None with fewer than twelve readings
    autocorrelation: Autocorrelation | None
    durbin_watson: float | None
    effective_size: float | None  # independent readings that would fix the mean as well
    p_values: dict[str, float]  # question -> two-sided p
    alpha: float  # of the five questions together
    n: int


@formula(
    "R̄ = 2n₁n₂/(n₁+n₂) + 1;  s² = 2n₁n₂(2n₁n₂ − n₁ − n₂)/[(n₁+n₂)²(n₁+n₂−1)];  z = (R − R̄)/s",
    source="nist_handbook_1_3_5_13 wald_wolfowitz_1940",
    holds_when="z: more than about ten readings on either side; the exact p for any number",
)
def runs_test(values: Sequence[float]) -> RunsTest:
    """Count runs above and below the median: too few mean drift or steps, too many mean swinging.

    Parameters
    ----------
    values : sequence of float
        Readings in order, any unit. Readings equal to the median are passed over.

    Returns
    -------
    RunsTest
        p is exact with up to twenty readings on either side, else from z without correction for continuity.
        Equal readings, or a single one, make no run: p = 1.

    Raises
    ------
    ValueError
        For NaN, an infinite value or no values.

    Source: `nist_handbook_1_3_5_13`; exact distribution: `wald_wolfowitz_1940`.

    >>> found = runs_test([1, 9, 2, 8, 1, 9, 2, 8])
    >>> found.runs, found.expected, round(found.p, 4)
    (8, 5.0, 0.0571)
    """
    numbers = finite_row(values)
    offset = numbers - np.median(numbers)
    above = offset[offset != 0] > 0
    n_above, n_below = int(above.sum()), int((~above).sum())
    if n_above == 0 or n_below == 0:
        return RunsTest(int(above.size > 0), float(above.size > 0), 0.0, 0.0, 1.0, n_above, n_below, True)
    runs = 1 + int(np.sum(above[1:] != above[:-1]))
    total, twice = n_above + n_below, 2 * n_above * n_below
    expected = twice / total + 1
    sd = math.sqrt(twice * (twice - total) / (total**2 * (total - 1)))
    z = (runs - expected) / sd if sd else 0.0
    is_exact = max(n_above, n_below) <= EXACT_RUNS_UP_TO
    p = _exact_runs_p(runs, n_above, n_below) if is_exact else math.erfc(abs(z) / math.sqrt(2))
    return RunsTest(runs, expected, sd, z, p, n_above, n_below, is_exact)


@formula(
    "U = max_t |2·Σ(i≤t) rᵢ − t(n+1)|;  p ≈ 2·exp[−6U²/(n³+n²)]",
    source="pettitt_1979",
    holds_when="one change of level, independent readings; the formula of p for p below about 0.5",
)
def change_point(values: Sequence[float]) -> ChangePoint:
    """Where the level of readings in order most likely changed, and whether that could be chance (Pettitt).

    Parameters
    ----------
    values : sequence of float
        Readings in order, any unit.

    Returns
    -------
    ChangePoint
        The first place where U is largest. p is exact, from all orders, up to eight readings. A single
        reading, or all equal, gives U = 0 and p = 1.

    Raises
    ------
    ValueError
        For NaN, an infinite value or no values.

    Source: `pettitt_1979`.

    >>> found = change_point([10, 11, 10, 11, 14, 15, 14, 15])
    >>> found.n_before, found.u, round(found.p, 4)
    (4, 16.0, 0.0286)
    """
    numbers = finite_row(values)
    size = numbers.size
    from scipy.stats import rankdata

    ranks = rankdata(numbers)
    steps = np.abs(_pettitt_steps(ranks))
    u = float(steps.max(initial=0.0))
    if u == 0:
        return ChangePoint(0, 0.0, 1.0, True, float(np.median(numbers)), float(np.median(numbers)))
    place = int(np.argmax(steps)) + 1
    is_exact = size <= EXACT_CHANGE_UP_TO
    if is_exact:
        every = np.array(list(permutations(ranks)))
        p = float(np.mean(np.abs(_pettitt_steps(every)).max(axis=-1) >= u - 1e-9))
    else:
        p = min(2 * math.exp(-6 * u**2 / (size**3 + size**2)), 1.0)
    return ChangePoint(place, u, p, is_exact, float(np.median(numbers[:place])), float(np.median(numbers[place:])))


@formula(
    "W = [(N−k)/(k−1)]·Σnᵢ(z̄ᵢ − z̄)²/ΣΣ(zᵢⱼ − z̄ᵢ)²,  z = |x − median of its part|",
    source="levene_1960 nist_handbook_1_4_2_5",
    holds_when="independent readings in four parts of the run of equal length, give or take one",
    library="scipy.stats.levene",
)
def spread_test(values: Sequence[float]) -> SpreadTest:
    """Does the spread stay the same over the four quarters of a run (Levene, about the medians)?

    Parameters
    ----------
    values : sequence of float
        Readings in order, any unit, at least twelve.

    Returns
    -------
    SpreadTest
        W and p. Where no part has any spread, or all parts the same, W = 0 and p = 1.

    Raises
    ------
    ValueError
        For NaN, an infinite value, or fewer than twelve readings.

    Source: `levene_1960`; quarters as in `nist_handbook_1_4_2_5`.

    >>> round(spread_test([1, 2, 4, 1, 2, 4, 1, 2, 4, 10, 20, 40]).p, 3)
    0.148
    """
    numbers = finite_row(values)
    if numbers.size < FEWEST_QUARTERED:
        raise ValueError(f"the spread of quarters needs {FEWEST_QUARTERED} readings or more, not {numbers.size}")
    quarters = np.array_split(numbers, 4)
    distances = [np.abs(quarter - np.median(quarter)) for quarter in quarters]
    if all(np.ptp(distance) == 0 for distance in distances):  # W is 0/0 or x/0 then
        means = [distance[0] for distance in distances]
        return SpreadTest(0.0, 1.0) if np.ptp(means) == 0 else SpreadTest(math.inf, 0.0)
    from scipy.stats import levene

    found = levene(*quarters, center="median")
    return SpreadTest(float(found.statistic), float(found.pvalue))


@formula(
    "steady when trend, runs, change of level, spread and autocorrelation each have p ≥ α/5",
    source="nist_handbook_1_4_2_5 common_practice",
    holds_when="at least four readings; with few readings only a large change can be seen",
)
def stationarity(values: Sequence[float], alpha: float = 0.05) -> Stationarity:
    """Tell whether a run is steady: no trend, no step, one spread, and readings that do not hang together.

    A trend test alone passes readings that swing about a fixed level (data set Lew): the other four questions
    are there for that.

    Parameters
    ----------
    values : sequence of float
        Readings of one kind in the order in which they were taken, any unit.
    alpha : float
        Share of steady runs that may be called unsteady [-]; each of the five questions is asked at α/5.

    Returns
    -------
    Stationarity
        "does not hold" when a question has p below α/5; "cannot tell" when the lowest p lies between α/5 and α,
        or when so few readings could not show even a perfect trend (2/n! ≥ α: four or fewer). For the
        autocorrelation p belongs to the largest coefficient among the lags looked at, times their number.
        Equal readings are steady, without autocorrelation. Where readings are correlated, p of the trend and of
        the change are too small, and the verdict names the correlation.

    Raises
    ------
    ValueError
        For NaN, an infinite value, no values or alpha outside 0 to 1.

    Source: questions as in `nist_handbook_1_4_2_5`; α/5 is Bonferroni's, `common_practice`.

    >>> stationarity([10, -10] * 20).outcome
    'does not hold'
    """
    numbers = finite_row(values)
    require_share("alpha", alpha)
    size = numbers.size
    if size < FEWEST or 2 / math.factorial(min(size, 20)) >= alpha:
        why = f"{size} readings: not even a perfect trend could be told from chance."
        return Stationarity(CANNOT_TELL, why, *[None] * 7, {}, alpha, size)
    trend, runs, change = rank_trend(numbers), runs_test(numbers), change_point(numbers)
    p_values = {"trend": trend.p, "runs": runs.p, "change of level": change.p}
    spread = spread_test(numbers) if size >= FEWEST_QUARTERED else None
    if spread:
        p_values["spread"] = spread.p
    lagged = watson = worth = None
    if np.ptp(numbers) > 0:
        lagged, watson = autocorrelation(numbers, confidence=1 - alpha), durbin_watson(numbers)
        worth = effective_sample_size(size, lagged.coefficients[0])
        p_values["autocorrelation"] = _largest_lag_p(lagged)
    flagged = [question for question, p in p_values.items() if p < alpha / QUESTIONS]
    doubtful = [question for question, p in p_values.items() if p < alpha]
    outcome = DOES_NOT_HOLD if flagged else CANNOT_TELL if doubtful else HOLDS
    why = _words(flagged or doubtful, bool(flagged), trend, change, lagged, size)
    return Stationarity(outcome, why, trend, runs, change, spread, lagged, watson, worth, p_values, alpha, size)


def _words(
    flagged: list[str],
    is_sure: bool,
    trend: Trend,
    change: ChangePoint,
    lagged: Autocorrelation | None,
    size: int,
) -> str:
    if not flagged:
        caution = "; with so few only a large change could be seen" if size < 20 else ""
        return f"No trend, step, change of spread or correlation could be seen in {size} readings{caution}."
    said = {
        "trend": f"they go {'up' if trend.s > 0 else 'down'} with the order",
        "runs": "their runs about the median are not those of chance",
        "change of level": f"their level changes after reading {change.n_before}",
        "spread": "their spread changes from quarter to quarter",
    }
    if lagged:
        lag = int(np.argmax(np.abs(lagged.coefficients)))
        found = f"{lagged.coefficients[lag]:+.2f}".replace("-", "−")
        said["autocorrelation"] = f"readings {lag + 1} places apart are correlated ({found})"
    lesson = "" if "trend" in flagged else " A trend test alone would have passed them."
    start = "The readings are not steady" if is_sure else "Five questions at once leave doubt whether the run is steady"
    return f"{start}: {'; '.join(said[question] for question in flagged)}.{lesson}"


def _largest_lag_p(lagged: Autocorrelation) -> float:
    """Two-sided p of the largest coefficient, times the number of lags looked at."""
    largest, count = max(map(abs, lagged.coefficients)), len(lagged.coefficients)
    return min(count * math.erfc(largest * math.sqrt(lagged.n / 2)), 1.0)


def _exact_runs_p(runs: int, n_above: int, n_below: int) -> float:
    """Chance of a number of runs as far from the expected one as this, or farther."""
    counts = np.arange(2, n_above + n_below + 1)
    half, odd = counts // 2, counts % 2
    ways = np.array([_ways(int(k), bool(o), n_above, n_below) for k, o in zip(half, odd, strict=True)], dtype=float)
    off = np.abs(counts - (2 * n_above * n_below / (n_above + n_below) + 1))
    reach = abs(runs - (2 * n_above * n_below / (n_above + n_below) + 1))
    return float(ways[off >= reach - 1e-9].sum() / math.comb(n_above + n_below, n_above))


def _ways(half: int, is_odd: bool, n_above: int, n_below: int) -> int:
    """Orders with 2·half runs, or one more: each side is cut into so many pieces."""
    cut = math.comb
    if not is_odd:
        return 2 * cut(n_above - 1, half - 1) * cut(n_below - 1, half - 1)
    more_above = cut(n_above - 1, half) * cut(n_below - 1, half - 1)
    return more_above + cut(n_above - 1, half - 1) * cut(n_below - 1, half)


def _pettitt_steps(ranks: np.ndarray) -> np.ndarray:
    """U after each reading but the last; the last axis is the order."""
    size = ranks.shape[-1]
    return (2 * np.cumsum(ranks, axis=-1) - np.arange(1, size + 1) * (size + 1))[..., :-1]
