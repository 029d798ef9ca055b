"""Share of drops, coupons or parts that have not yet moved, failed or frozen, when some never did in the test.

Time stands for whatever was raised until something happened: tilt [deg], hours, cycles. An observation that
ended before it happened is right-censored: it counts as at risk up to its limit and never as an event.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.replication import require_share

PLAIN, LOG, LOG_LOG = "plain", "log", "log-log"
INTERVALS = (PLAIN, LOG, LOG_LOG)


@dataclass(frozen=True, slots=True)
class SurvivalCurve:
    """Kaplan–Meier estimate at each time at which something happened."""

    times: np.ndarray
    at_risk: np.ndarray
    events: np.ndarray
    survival: np.ndarray  # share beyond each time [-]
    standard_error: np.ndarray  # Greenwood; NaN where the survival has reached 0
    low: np.ndarray  # pointwise interval, NaN where the survival has reached 0
    high: np.ndarray
    interval: str  # "plain", "log" or "log-log"
    confidence: float
    n: int
    last: float  # largest time seen, with or without an event


@dataclass(frozen=True, slots=True)
class SurvivalTime:
    """Time that a share does not exceed; `math.inf` where the curve, or its limit, never comes down so far."""

    value: float
    low: float
    high: float
    share: float
    interval: str
    confidence: float


@dataclass(frozen=True, slots=True)
class RestrictedMean:
    """Mean time up to a horizon, with its standard error and normal interval within 0 to the horizon."""

    mean: float
    standard_error: float
    low: float
    high: float
    until: float
    confidence: float


@dataclass(frozen=True, slots=True)
class LogRank:
    """Observed and expected events of each group, and the test that all groups share one curve."""

    observed: dict[str, int]
    expected: dict[str, float]
    variance: np.ndarray  # of observed − expected, all groups
    chi_square: float
    degrees_of_freedom: int
    p_value: float
    note: str = ""


@formula(
    "S(t) = Π(1 − dᵢ/nᵢ);  se² = S²Σdᵢ/[nᵢ(nᵢ − dᵢ)];  plain S ± z·se, log S·exp(±z·se/S), "
    "log-log S^exp(±z·se/(S·|ln S|))",
    source="kaplan_meier_1958 greenwood_1926",
    holds_when="censoring that has nothing to do with what would have happened; pointwise, not for the whole curve",
    library="scipy.stats.ecdf",
)
def kaplan_meier(
    times: Sequence[float], not_reached: Sequence[bool], interval: str = LOG_LOG, confidence: float = 0.95
) -> SurvivalCurve:
    """Share that has not yet moved, failed or frozen at each time, with a named kind of interval.

    Parameters
    ----------
    times : sequence of float
        When it happened, or where the observation ended; any unit, at least 0.
    not_reached : sequence of bool
        True where the observation ended before it happened.
    interval : str
        "plain", "log" (the default of the R package survival) or "log-log" (default here: it never leaves
        0 to 1 and covers best in small samples).
    confidence : float
        Two-sided confidence at one time [-].

    Returns
    -------
    SurvivalCurve
        One entry for each time with an event; empty arrays when nothing happened.

    Raises
    ------
    ValueError
        For no times, NaN, a negative or infinite time, marks of another length, another interval, or a
        confidence outside 0 to 1.

    Source: `kaplan_meier_1958`, `greenwood_1926`.

    >>> curve = kaplan_meier([6, 6, 6, 6, 7], [False, False, False, True, False])
    >>> curve.survival.tolist()
    [0.4, 0.0]
    """
    if interval not in INTERVALS:
        raise ValueError(f"interval is one of {', '.join(INTERVALS)}, not {interval!r}")
    require_share("confidence", confidence)
    numbers, censored = _observed(times, not_reached)
    from scipy.stats import CensoredData, ecdf

    curve = ecdf(CensoredData.right_censored(numbers, censored)).sf
    at, at_risk, events = _risk_table(numbers, censored)
    survival = curve.evaluate(at) if at.size else np.empty(0)
    with np.errstate(divide="ignore", invalid="ignore"):  # at the last event nobody is left: the error is NaN there
        greenwood = np.sqrt(np.cumsum(events / (at_risk * (at_risk - events))))
        error = np.where(events == at_risk, np.nan, survival * greenwood)
        low, high = _limits(survival, error, interval, confidence)
    return SurvivalCurve(
        at, at_risk, events, survival, error, low, high, interval, confidence, numbers.size, float(numbers.max())
    )


@formula(
    "t_p = min{t: S(t) ≤ 1 − p}, mean with the next time where S(t) = 1 − p; interval: times whose limits hold 1 − p",
    source="brookmeyer_crowley_1982",
    holds_when="as the curve",
)
def survival_time(curve: SurvivalCurve, share: float = 0.5) -> SurvivalTime:
    """Time by which a share has moved, failed or frozen (0.5: the median), with the interval read off the curve.

    Parameters
    ----------
    curve : SurvivalCurve
        From `kaplan_meier`; its kind of interval and confidence are used.
    share : float
        Share for which it has happened [-].

    Returns
    -------
    SurvivalTime
        In the unit of the times. `math.inf` stands for "not reached": the curve, or its upper limit, stays
        above 1 − share. Where the curve runs exactly at 1 − share, the middle of that step.

    Raises
    ------
    ValueError
        For a share outside 0 to 1.

    Source: `brookmeyer_crowley_1982`.

    >>> curve = kaplan_meier([6, 7, 9, 12, 20], [False] * 4 + [True])
    >>> survival_time(curve).value
    9.0
    """
    require_share("share", share)
    low = np.where(curve.survival == 0, 0.0, curve.low)
    high = np.where(curve.survival == 0, math.inf, curve.high)  # no limit is known there
    found = (_first_at_or_below(curve.times, values, 1 - share) for values in (curve.survival, low, high))
    return SurvivalTime(*found, share, curve.interval, curve.confidence)


@formula(
    "RMST = ∫₀ᵗ* S(t)dt;  se² = ΣAᵢ²dᵢ/[nᵢ(nᵢ − dᵢ)], Aᵢ = ∫ from tᵢ to t* of S(t)dt",
    source="kaplan_meier_1958 greenwood_1926",
    holds_when="a horizon chosen before the readings were seen; the interval is normal, for some 20 events or more",
)
def restricted_mean(
    times: Sequence[float], not_reached: Sequence[bool], until: float | None = None, confidence: float = 0.95
) -> RestrictedMean:
    """Mean time up to a horizon: the area under the Kaplan–Meier curve, which needs no event beyond it.

    Parameters
    ----------
    times, not_reached
        As in `kaplan_meier`.
    until : float, optional
        Horizon in the unit of the times, above 0; left out: the largest time seen.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    RestrictedMean
        In the unit of the times.

    Raises
    ------
    ValueError
        As in `kaplan_meier`, or for a horizon at or below 0, or beyond the last time when that one was censored.

    Source: `kaplan_meier_1958`, `greenwood_1926`.

    >>> restricted_mean([1.0, 2.0, 3.0], [False, False, False]).mean
    2.0
    """
    curve = kaplan_meier(times, not_reached, confidence=confidence)
    until = curve.last if until is None else float(until)
    if not (math.isfinite(until) and until > 0):
        raise ValueError(f"the horizon must be a finite number above 0, not {until}")
    if until > curve.last and (curve.survival.size == 0 or curve.survival[-1] > 0):
        raise ValueError(f"the curve is unknown beyond the last time {curve.last:g}, so also at {until:g}")
    from scipy.special import ndtri

    is_within = curve.times < until
    at = np.concatenate(([0.0], curve.times[is_within], [until]))
    areas = np.diff(at) * np.concatenate(([1.0], curve.survival[is_within]))
    mean = float(areas.sum())
    beyond = np.cumsum(areas[::-1])[::-1][1:]  # area right of each event
    at_risk, events = curve.at_risk[is_within], curve.events[is_within]
    is_left = at_risk > events  # where nobody is left, no area is left either
    parts = beyond[is_left] ** 2 * events[is_left] / (at_risk[is_left] * (at_risk[is_left] - events[is_left]))
    error = math.sqrt(float(parts.sum()))
    half = float(ndtri((1 + confidence) / 2)) * error
    return RestrictedMean(mean, error, max(mean - half, 0.0), min(mean + half, until), until, confidence)


@formula(
    "χ² = (O − E)ᵀV⁻(O − E), Eⱼ = Σdᵢnᵢⱼ/nᵢ, Vⱼₗ = Σdᵢ(nᵢ − dᵢ)/(nᵢ − 1)·(nᵢⱼ/nᵢ)(δⱼₗ − nᵢₗ/nᵢ)",
    source="mantel_1966",
    holds_when="independent observations; strongest where the hazards are proportional",
)
def log_rank(groups: Mapping[str, tuple[Sequence[float], Sequence[bool]]]) -> LogRank:
    """Test whether two or more groups (recipes, doses) share one survival curve.

    Parameters
    ----------
    groups : mapping of str to (times, not_reached)
        At least two groups, each as in `kaplan_meier`.

    Returns
    -------
    LogRank
        Chi-square with one degree of freedom less than groups. Without any event p is NaN and the note says so.

    Raises
    ------
    ValueError
        For fewer than two groups, and as in `kaplan_meier`.

    Source: `mantel_1966`.

    >>> test = log_rank({"A": ([1, 2, 3], [False] * 3), "B": ([1, 2, 3], [False] * 3)})
    >>> test.chi_square, test.p_value
    (0.0, 1.0)
    """
    if len(groups) < 2:
        raise ValueError(f"a comparison needs at least 2 groups, not {len(groups)}")
    observed = {name: _observed(*group) for name, group in groups.items()}
    every = [np.concatenate(parts) for parts in zip(*observed.values(), strict=True)]
    at, n, d = _risk_table(*every)
    shares = np.array([np.sum(times[:, None] >= at, axis=0) / n for times, _ in observed.values()])
    seen = np.array([int(np.sum(~censored)) for _, censored in observed.values()])
    expected = shares @ d
    spread = np.where(n > 1, d * (n - d) / np.maximum(n - 1, 1), 0.0)
    variance = np.diag(shares @ spread) - (shares * spread) @ shares.T
    free = len(groups) - 1
    counts = dict(zip(groups, seen.tolist(), strict=True)), dict(zip(groups, expected.tolist(), strict=True))
    if not np.any(spread):
        return LogRank(*counts, variance, math.nan, free, math.nan, "no event that could tell the groups apart")
    from scipy.special import chdtrc

    excess = seen - expected
    chi_square = max(float(excess @ np.linalg.pinv(variance, hermitian=True) @ excess), 0.0)
    return LogRank(*counts, variance, chi_square, free, float(chdtrc(free, chi_square)))


def _observed(times: Sequence[float], not_reached: Sequence[bool]) -> tuple[np.ndarray, np.ndarray]:
    numbers, censored = np.asarray(times, dtype=float), np.asarray(not_reached, dtype=bool)
    if numbers.ndim != 1 or numbers.size == 0:
        raise ValueError("no times")
    if not np.all(np.isfinite(numbers) & (numbers >= 0)):
        raise ValueError("a time must be a finite number of at least 0")
    if censored.shape != numbers.shape:
        raise ValueError(f"{censored.size} marks for {numbers.size} times")
    return numbers, censored


def _risk_table(numbers: np.ndarray, censored: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times with events, how many were at risk just before, and how many events there were."""
    at, events = np.unique(numbers[~censored], return_counts=True)
    at_risk = numbers.size - np.searchsorted(np.sort(numbers), at, side="left")
    return at, at_risk, events


def _limits(survival, error, interval: str, confidence: float) -> tuple[np.ndarray, np.ndarray]:
    from scipy.special import ndtri

    z = float(ndtri((1 + confidence) / 2))
    if interval == PLAIN:
        return np.maximum(survival - z * error, 0), np.minimum(survival + z * error, 1)
    if interval == LOG:
        return survival * np.exp(-z * error / survival), np.minimum(survival * np.exp(z * error / survival), 1)
    power = z * error / (survival * np.abs(np.log(survival)))
    return survival ** np.exp(power), survival ** np.exp(-power)


def _first_at_or_below(times: np.ndarray, values: np.ndarray, level: float) -> float:
    close = np.isclose(values, level, rtol=1e-12, atol=0)
    places = np.flatnonzero((values <= level) | close)
    if places.size == 0:
        return math.inf
    first = places[0]
    if close[first] and first + 1 < times.size:  # a step that runs exactly at the level: its middle
        return float((times[first] + times[first + 1]) / 2)
    return float(times[first])
