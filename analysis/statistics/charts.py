"""Control charts across batches: is the process still the one that the limits were set on?

Limits come from a base of points (phase 1), all points are then judged by them. A limit of a control chart says
what the process does, never what is wanted of it; it is no acceptance limit.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import within
from analysis.statistics.chart_constants import ChartConstants, chart_constants
from analysis.statistics.moments import finite_row
from analysis.statistics.run_rules import Signal, rule_texts, run_rules

Lengths = Mapping[int, int | tuple[int, int]]


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """One control chart: points, lines, the signals found and the run rules that were asked."""

    kind: str
    points: np.ndarray  # NaN where a point does not exist (first moving range)
    centre: np.ndarray  # one a point, as the limits
    lower: np.ndarray
    upper: np.ndarray
    sigma: float  # standard deviation of a single reading that the limits rest on
    signals: tuple[Signal, ...]
    rules: tuple[str, ...]  # in words with their run lengths, to be printed with the chart
    n_base: int  # points that the limits were set on, from the first


@dataclass(frozen=True, slots=True, eq=False)
class ChartPair:
    """A chart of the level and the chart of the spread beside it; the spread is read first."""

    level: Chart
    spread: Chart


@dataclass(frozen=True, slots=True, eq=False)
class CusumChart:
    """Upper and lower cumulative sums, and the first point at which either exceeds the decision interval."""

    high: np.ndarray
    low: np.ndarray
    target: float
    slack: float  # k, unit of the readings
    decision: float  # h, unit of the readings
    first_signal: int | None  # place from 0
    side: str  # "above", "below" or "" without a signal
    note: str


@formula(
    "x̄ ± 3·MR̄/d₂(2);  moving range: D₃·MR̄ to D₄·MR̄",
    source="nist_handbook_6_3_2 iso_7870_2",
    holds_when="independent, roughly normal readings, one a batch",
)
def individuals_chart(
    values: ArrayLike, base: int | None = None, rules: Sequence[int] = (1,), lengths: Lengths | None = None
) -> ChartPair:
    """Chart of single values, one a batch, with the chart of the differences of neighbours.

    Parameters
    ----------
    values : sequence of float
        One value a batch in order, any unit, at least two.
    base : int, optional
        The limits are set on the first so many values, 2 or more; left out: on all.
    rules, lengths
        Run rules of the level, as in `run_rules.run_lengths`.

    Returns
    -------
    ChartPair
        Level and moving range, in the unit of the values. The first moving range does not exist (NaN).

    Raises
    ------
    ValueError
        For NaN, an infinite value, a single value, a base that does not fit, and as `run_rules.run_lengths`.

    Source: `nist_handbook_6_3_2`, 6.3.2.2; with the exact d₂ in place of 1.128.

    >>> chart = individuals_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]).level
    >>> round(float(chart.upper[0]), 4), round(float(chart.lower[0]), 4)
    (55.8024, 45.8176)
    """
    numbers = finite_row(values)
    n_base = _base(base, numbers.size)
    ranges = np.abs(np.diff(numbers))
    constants = chart_constants(2)
    mean_range = float(ranges[: n_base - 1].mean())
    sigma = mean_range / constants.d2
    level = _chart("individuals", numbers, float(numbers[:n_base].mean()), sigma, sigma, n_base, rules, lengths)
    low, high = constants.d3_limit * mean_range, constants.d4_limit * mean_range
    moving = np.concatenate([[math.nan], ranges])
    return ChartPair(level, _spread_chart("moving range", moving, mean_range, low, high, sigma, n_base))


@formula(
    "x̿ ± A₂·R̄;  range: D₃·R̄ to D₄·R̄;  unequal subgroups: σ̂ = mean(Rᵢ/d₂(nᵢ)), limits by nᵢ",
    source="montgomery_sqc iso_7870_2",
    holds_when="independent, roughly normal readings; spread inside a subgroup is that of the process",
)
def mean_range_chart(
    subgroups: Sequence[ArrayLike],
    base: int | None = None,
    rules: Sequence[int] = (1,),
    lengths: Lengths | None = None,
) -> ChartPair:
    """Chart of batch means with the chart of the ranges inside the batches (X̄–R).

    Parameters
    ----------
    subgroups : sequence of sequences, or array of shape (batches, readings)
        Readings of each batch in order, any unit, at least two each; one value a coupon, never pooled drops.
    base : int, optional
        The limits are set on the first so many batches, 2 or more; left out: on all.
    rules, lengths
        Run rules of the level, as in `run_rules.run_lengths`.

    Returns
    -------
    ChartPair
        Level and range, in the unit of the readings.

    Raises
    ------
    ValueError
        For NaN, fewer than two batches, a batch with one reading, and as `run_rules.run_lengths`.

    Source: `montgomery_sqc`; constants integrated.

    >>> chart = mean_range_chart([[1.0, 3.0], [2.0, 4.0], [3.0, 3.0]])
    >>> round(float(chart.level.upper[0]), 4), round(float(chart.spread.upper[0]), 4)
    (5.1733, 4.3554)
    """
    groups, constants, n_base = _groups(subgroups, base)
    ranges = np.array([float(np.ptp(group)) for group in groups])
    sigma = float(np.mean([r / c.d2 for r, c in zip(ranges[:n_base], constants, strict=False)]))
    level = _level_chart("means, limits from ranges", groups, sigma, n_base, rules, lengths)
    centre, low, high = (sigma * np.array([getattr(c, name) for c in constants]) for name in ("d2", "d1", "d2_limit"))
    return ChartPair(level, _spread_chart("ranges", ranges, centre, low, high, sigma, n_base))


@formula(
    "x̿ ± A₃·s̄;  s: B₃·s̄ to B₄·s̄;  unequal subgroups: σ̂ = mean(sᵢ/c₄(nᵢ)), limits by nᵢ",
    source="montgomery_sqc iso_7870_2",
    holds_when="independent, roughly normal readings; spread inside a subgroup is that of the process",
)
def mean_sd_chart(
    subgroups: Sequence[ArrayLike],
    base: int | None = None,
    rules: Sequence[int] = (1,),
    lengths: Lengths | None = None,
) -> ChartPair:
    """Chart of batch means with the chart of the standard deviations inside the batches (X̄–S).

    Parameters
    ----------
    subgroups : sequence of sequences, or array of shape (batches, readings)
        Readings of each batch in order, any unit, at least two each; one value a coupon, never pooled drops.
    base : int, optional
        The limits are set on the first so many batches, 2 or more; left out: on all.
    rules, lengths
        Run rules of the level, as in `run_rules.run_lengths`.

    Returns
    -------
    ChartPair
        Level and standard deviation, in the unit of the readings.

    Raises
    ------
    ValueError
        For NaN, fewer than two batches, a batch with one reading, and as `run_rules.run_lengths`.

    Source: `montgomery_sqc`; constants integrated.

    >>> chart = mean_sd_chart([[1.0, 3.0], [2.0, 4.0], [3.0, 3.0]])
    >>> round(float(chart.level.upper[0]), 4), round(float(chart.spread.upper[0]), 4)
    (5.1733, 3.0797)
    """
    groups, constants, n_base = _groups(subgroups, base)
    sds = np.array([float(np.std(group, ddof=1)) for group in groups])
    sigma = float(np.mean([s / c.c4 for s, c in zip(sds[:n_base], constants, strict=False)]))
    level = _level_chart("means, limits from standard deviations", groups, sigma, n_base, rules, lengths)
    centre, low, high = (sigma * np.array([getattr(c, name) for c in constants]) for name in ("c4", "b5", "b6"))
    return ChartPair(level, _spread_chart("standard deviations", sds, centre, low, high, sigma, n_base))


@formula(
    "zᵢ = λxᵢ + (1 − λ)zᵢ₋₁;  limits ± L·σ·√{λ/(2−λ)·[1 − (1−λ)²ⁱ]}, asymptotic without the bracket",
    source="nist_handbook_6_3_2 lucas_saccucci_1990",
    holds_when="independent readings; robust against a distribution that is not normal when λ is small",
)
def ewma_chart(
    values: ArrayLike,
    weight: float = 0.2,
    width: float = 3.0,
    *,
    centre: float | None = None,
    sigma: float | None = None,
    base: int | None = None,
    is_asymptotic: bool = False,
) -> Chart:
    """Chart of an average that forgets slowly (EWMA): finds small lasting shifts sooner than single points do.

    Parameters
    ----------
    values : sequence of float
        One value a batch in order, any unit, at least two.
    weight : float
        λ, the weight of the newest value [-], above 0 and at most 1.
    width : float
        L, distance of the limits in standard deviations of the average [-], above 0.
    centre, sigma : float, optional
        Known level, from which the average starts, and standard deviation of a value; left out: mean and mean
        moving range over d₂ of the base.
    base : int, optional
        Values that level and spread are taken from, from the first, 2 or more; left out: all.
    is_asymptotic : bool
        One pair of limits for all points, instead of limits that widen with the number of points.

    Returns
    -------
    Chart
        In the unit of the values. The signals are the points beyond the limits: run rules are not for points
        that hang together as these do.

    Raises
    ------
    ValueError
        For NaN, an infinite value, no values, and for weight, width, centre, sigma or base out of range.

    Source: `nist_handbook_6_3_2`, 6.3.2.4.

    >>> chart = ewma_chart([52.0, 47.0, 53.0], 0.3, centre=50, sigma=2.0539, is_asymptotic=True)
    >>> chart.points.round(2).tolist(), round(float(chart.upper[0]), 4)
    ([50.6, 49.52, 50.56], 52.5884)
    """
    numbers = finite_row(values)
    lam = within("weight", weight, above=0, at_most=1, has_nan=False).item()
    reach = within("width", width, above=0, has_nan=False).item()
    n_base = _base(base, numbers.size, 1 if None not in (centre, sigma) else 2)
    start = float(numbers[:n_base].mean()) if centre is None else within("centre", centre, has_nan=False).item()
    if sigma is None:
        sigma = float(np.abs(np.diff(numbers[:n_base])).mean()) / chart_constants(2).d2
    sigma = within("sigma", sigma, at_least=0, has_nan=False).item()
    averages = accumulate(numbers, lambda last, new: lam * new + (1 - lam) * last, initial=start)
    points = np.array(list(averages)[1:])
    share = np.ones(numbers.size) if is_asymptotic else 1 - (1 - lam) ** (2 * np.arange(1, numbers.size + 1))
    spread = sigma * np.sqrt(lam / (2 - lam) * share)
    kind = f"EWMA, λ = {lam:g}, L = {reach:g}, {'asymptotic' if is_asymptotic else 'widening'} limits"
    text = f"1: one point beyond {reach:g}σ of the average"
    # one rule, one point beyond the limits: in units of a third of the width the limit is 3
    beyond = run_rules(points, start, spread * reach / 3, rules=(1,))
    signals = tuple(replace(signal, text=text) for signal in beyond)
    middle = np.full(numbers.size, start)
    limits = middle - reach * spread, middle + reach * spread
    return Chart(kind, points, middle, *limits, sigma, signals, (text,), n_base)


@formula(
    "S⁺ᵢ = max(0, S⁺ᵢ₋₁ + xᵢ − T − k);  S⁻ᵢ = max(0, S⁻ᵢ₋₁ + T − k − xᵢ);  signal when either exceeds h",
    source="nist_handbook_6_3_2 page_1954",
    holds_when="independent, roughly normal readings; k is usually half the shift to be found",
)
def cusum_chart(values: ArrayLike, target: float, slack: float, decision: float) -> CusumChart:
    """Cumulative sums of what exceeds the target by more than a slack: finds small lasting shifts (CUSUM).

    Parameters
    ----------
    values : sequence of float
        One value a batch in order, any unit.
    target : float
        T, the level that is held against, unit of the values.
    slack : float
        k, part of each deviation that is not summed, unit of the values, 0 or more.
    decision : float
        h, decision interval, unit of the values, above 0.

    Returns
    -------
    CusumChart
        Both sums, unit of the values, started at 0 and going on after a signal.

    Raises
    ------
    ValueError
        For NaN, an infinite value, no values, a slack below 0 or a decision interval of 0 or below.

    Source: `nist_handbook_6_3_2`, 6.3.2.3.

    >>> chart = cusum_chart([10.0, 12.0, 13.0, 12.5], target=10, slack=0.5, decision=4)
    >>> chart.high.tolist(), chart.first_signal, chart.side
    ([0.0, 1.5, 4.0, 6.0], 3, 'above')
    """
    numbers = finite_row(values)
    middle = within("target", target, has_nan=False).item()
    k = within("slack", slack, at_least=0, has_nan=False).item()
    h = within("decision interval", decision, above=0, has_nan=False).item()
    high, low = _sums(numbers - middle - k), _sums(middle - k - numbers)
    over = np.flatnonzero((high > h) | (low > h))
    if not over.size:
        return CusumChart(high, low, middle, k, h, None, "", f"No sum exceeds {h:g} in {numbers.size} points.")
    first = int(over[0])
    side = "above" if high[first] > h else "below"
    reached = max(high[first], low[first])
    note = f"Point {first + 1} is the first with a sum over {h:g} ({reached:.4g}): the level lies {side} the target."
    return CusumChart(high, low, middle, k, h, first, side, note)


def _sums(steps: np.ndarray) -> np.ndarray:
    return np.array(list(accumulate(steps, lambda last, new: max(0.0, last + new), initial=0.0))[1:])


def _base(base: int | None, size: int, fewest: int = 2) -> int:
    if size < fewest:
        raise ValueError(f"limits need at least {fewest} points, not {size}")
    wanted = size if base is None else base
    if not fewest <= wanted <= size or wanted != int(wanted):
        raise ValueError(f"base must be a whole number from {fewest} to {size} points, not {wanted}")
    return int(wanted)


def _groups(subgroups: Sequence[ArrayLike], base: int | None) -> tuple[list[np.ndarray], list[ChartConstants], int]:
    groups = [finite_row(group) for group in subgroups]
    return groups, [chart_constants(group.size) for group in groups], _base(base, len(groups))


def _level_chart(
    kind: str,
    groups: list[np.ndarray],
    sigma: float,
    n_base: int,
    rules: Sequence[int],
    lengths: Lengths | None,
) -> Chart:
    means = np.array([float(group.mean()) for group in groups])
    sizes = np.array([group.size for group in groups])
    centre = float(np.average(means[:n_base], weights=sizes[:n_base]))
    return _chart(kind, means, centre, sigma / np.sqrt(sizes), sigma, n_base, rules, lengths)


def _chart(
    kind: str,
    points: np.ndarray,
    centre: float,
    spread: float | np.ndarray,
    sigma: float,
    n_base: int,
    rules: Sequence[int],
    lengths: Lengths | None,
) -> Chart:
    middle, reach = np.full(points.size, centre), np.broadcast_to(3 * spread, points.shape)
    signals = run_rules(points, centre, spread, rules, lengths)
    texts = rule_texts(rules, lengths)
    return Chart(kind, points, middle, middle - reach, middle + reach, sigma, signals, texts, n_base)


def _spread_chart(
    kind: str, points: np.ndarray, centre: ArrayLike, low: ArrayLike, high: ArrayLike, sigma: float, n_base: int
) -> Chart:
    """A chart of spreads: its limits are not symmetric, and only a point beyond them is a signal."""
    lines = [np.array(np.broadcast_to(line, points.shape), dtype=float) for line in (centre, low, high)]
    text = "1: one point beyond the limits"
    slack = 1e-9 * np.abs(lines[2])  # a point computed to lie on a limit is not beyond it
    beyond = np.flatnonzero((points < lines[1] - slack) | (points > lines[2] + slack))
    signals = tuple(Signal(1, int(place), text) for place in beyond)
    return Chart(kind, points, *lines, sigma, signals, (text,), n_base)
