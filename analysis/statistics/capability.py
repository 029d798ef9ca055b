"""Capability of a process from its readings: within batches, overall, and by percentiles for skewed readings.

An index is a statement about a process that a control chart has shown to be steady.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.capability_indices import (
    IndexInterval,
    one_sided_index,
    one_sided_index_interval,
    require_order,
    smaller_index,
    smaller_index_interval,
    two_sided_index,
    two_sided_index_interval,
)
from analysis.statistics.chart_constants import chart_constants
from analysis.statistics.moments import finite, finite_row, sample_sd, stable_mean

FEWEST_FOR_TAILS = 741  # readings: with fewer than 1/0.00135 none is expected beyond the outer percentiles
_TAILS = (0.00135, 0.5, 0.99865)
_SHAPES = ("normal", "lognormal", "weibull", "none")


@dataclass(frozen=True, slots=True)
class Percentiles:
    """The three percentiles that stand for mean ± 3σ, and the shape that was assumed for them."""

    low: float  # 0.135 %
    median: float
    high: float  # 99.865 %
    shape: str
    n: int


@dataclass(frozen=True, slots=True)
class PercentileIndices:
    """Capability from three percentiles instead of mean and σ; None for a side without a limit."""

    p: float | np.ndarray | None  # (U − L)/(X99.865 − X0.135)
    lower: float | np.ndarray | None
    upper: float | np.ndarray | None
    k: float | np.ndarray  # the smaller of the two sides


@dataclass(frozen=True, slots=True)
class Capability:
    """Indices of one characteristic: within batches (C) and overall (P); None where one does not apply."""

    mean: float
    sd_within: float
    sd_overall: float
    cp: float | None
    cpl: float | None
    cpu: float | None
    cpk: float
    pp: float | None
    ppk: float
    pp_interval: IndexInterval | None
    ppk_interval: IndexInterval
    share_outside: float  # of normal readings with the overall mean and σ [-]
    n: int
    note: str


@formula(
    "P = (U − L)/(X₉₉.₈₆₅ − X₀.₁₃₅);  Pu = (U − X₅₀)/(X₉₉.₈₆₅ − X₅₀);  Pl = (X₅₀ − L)/(X₅₀ − X₀.₁₃₅)",
    source="iso_22514_2",
    holds_when="steady process, any shape; as good as the percentiles are",
)
def percentile_indices(
    low: ArrayLike, median: ArrayLike, high: ArrayLike, lower: ArrayLike | None = None, upper: ArrayLike | None = None
) -> PercentileIndices:
    """Capability of readings that are not normal, from their 0.135 %, 50 % and 99.865 % points.

    Parameters
    ----------
    low, median, high : float or array
        Percentiles, unit of the readings, in ascending order (`fitted_percentiles`).
    lower, upper : float or array, optional
        Limits, unit of the readings; at least one. Leave out a natural limit.

    Returns
    -------
    PercentileIndices
        Indices [-]; for normal readings the ordinary Pp and Ppk. NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For no limit, percentiles not in ascending order, or lower not below upper.

    Source: `iso_22514_2`.

    >>> import math
    >>> round(percentile_indices(math.exp(-1.5), 1.0, math.exp(1.5), upper=5.0).k, 3)
    1.149
    """
    if lower is None and upper is None:
        raise ValueError("an index needs a limit")
    bottom, middle, top = (within(n, v) for n, v in (("low", low), ("median", median), ("high", high)))
    if np.any(bottom >= middle) or np.any(middle >= top):
        raise ValueError("the three percentiles must be in ascending order")
    floor = None if lower is None else within("lower limit", lower)
    ceiling = None if upper is None else within("upper limit", upper)
    below = None if floor is None else plain((middle - floor) / (middle - bottom))
    above = None if ceiling is None else plain((ceiling - middle) / (top - middle))
    if below is None or above is None:
        return PercentileIndices(None, below, above, above if below is None else below)
    require_order(floor, ceiling)
    return PercentileIndices(plain((ceiling - floor) / (top - bottom)), below, above, plain(np.minimum(below, above)))


@formula(
    "x̄ − 3s, x̄, x̄ + 3s; lognormal: exp of the same of ln x; Weibull: by maximum likelihood; none: as counted",
    source="iso_22514_2 common_practice",
    holds_when="the shape fits; counted percentiles need 741 readings or more",
    library="scipy.optimize.brentq numpy.quantile",
)
def fitted_percentiles(values: Sequence[float], shape: str = "normal") -> Percentiles:
    """The 0.135 %, 50 % and 99.865 % points of readings under an assumed shape.

    Parameters
    ----------
    values : sequence of float
        Readings of a steady process, any unit, at least two that differ; above 0 for lognormal and Weibull.
    shape : str
        "normal", "lognormal", "weibull", or "none": counted in the readings themselves.

    Returns
    -------
    Percentiles
        Unit of the readings.

    Raises
    ------
    ValueError
        For NaN, an infinite value, equal readings or a single one, readings of 0 or below where the shape has none,
        another shape, fewer than 741 readings without a shape, or percentiles beyond the largest double.

    Source: `iso_22514_2`.

    >>> found = fitted_percentiles([1.0, 2.0, 4.0], "lognormal")
    >>> round(found.low, 4), round(found.median, 4), round(found.high, 4)
    (0.25, 2.0, 16.0)
    """
    numbers = finite_row(values)
    if shape not in _SHAPES:
        raise ValueError(f"shape must be one of {', '.join(_SHAPES)}, not {shape!r}")
    if np.ptp(numbers) == 0:
        raise ValueError("equal readings, or a single one, have no spread")
    if shape in ("lognormal", "weibull") and numbers.min() <= 0:
        raise ValueError(f"a {shape} shape needs readings above 0, not {numbers.min():g}")
    if shape == "none" and numbers.size < FEWEST_FOR_TAILS:
        raise ValueError(
            f"the outer percentiles cannot be counted in fewer than {FEWEST_FOR_TAILS} readings, here {numbers.size}"
        )
    with np.errstate(over="ignore"):  # told in words below
        points = _three_points(numbers, shape)
    if not np.all(np.isfinite(points)):
        raise ValueError(
            f"the percentiles of a {shape} shape leave the range of a double, readings to {numbers.max():g}"
        )
    return Percentiles(*points, shape, numbers.size)


def _three_points(numbers: np.ndarray, shape: str) -> tuple[float, ...]:
    if shape == "none":
        found = np.quantile(numbers, _TAILS, method="median_unbiased")
    elif shape == "weibull":
        slope, log_scale = _weibull(np.log(numbers))
        found = np.exp(log_scale + np.log(-np.log1p(-np.array(_TAILS))) / slope)
    else:
        scale = np.log(numbers) if shape == "lognormal" else numbers
        found = stable_mean(scale) + sample_sd(scale) * np.array([-3.0, 0.0, 3.0])
        found = np.exp(found) if shape == "lognormal" else found
    return tuple(float(number) for number in found)


def _weibull(logs: np.ndarray) -> tuple[float, float]:
    """Shape and logarithm of the scale by maximum likelihood, from the logarithms of the readings.

    A root instead of scipy.stats.weibull_min.fit, whose search stops far from the maximum when readings lie close.
    """
    unit = sample_sd(logs)
    if unit == 0:
        raise ValueError("the logarithms of the readings are equal, but for rounding: no Weibull shape")
    off = (logs - logs.max()) / unit
    from scipy.optimize import brentq

    def slope_equation(k: float) -> float:
        weights = np.exp(k * off)
        return float(weights @ off / weights.sum() - off.mean()) - 1 / k

    high = 1.0
    while slope_equation(high) < 0:
        high *= 2
    k = brentq(slope_equation, 1e-3, high, xtol=1e-12, rtol=1e-13)
    return k / unit, float(logs.max() + unit * math.log(np.mean(np.exp(k * off))) / k)


@formula(
    "share = Φ((L − x̄)/σ) + Φ((x̄ − U)/σ)",
    source="montgomery_sqc",
    holds_when="normal readings; in the far tails of other shapes badly wrong",
    library="scipy.special.ndtr",
)
def share_outside(mean: ArrayLike, sd: ArrayLike, lower: ArrayLike | None = None, upper: ArrayLike | None = None):
    """Share of normal readings that lies outside the limits.

    Parameters
    ----------
    mean : float or array
        Mean, unit of the readings.
    sd : float or array
        Standard deviation, unit of the readings, above 0.
    lower, upper : float or array, optional
        Limits, unit of the readings, lower below upper; without any nothing lies outside.

    Returns
    -------
    float or array
        0 to 1 [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For an sd of 0 or below, or lower not below upper.

    Source: `montgomery_sqc`.

    >>> round(share_outside(0.0, 1.0, -3.0, 3.0), 4)
    0.0027
    """
    middle, spread = within("mean", mean), within("standard deviation", sd, above=0)
    if lower is not None and upper is not None:
        require_order(within("lower limit", lower), within("upper limit", upper))
    from scipy.special import ndtr

    below = 0.0 if lower is None else ndtr((within("lower limit", lower) - middle) / spread)
    above = 0.0 if upper is None else ndtr((middle - within("upper limit", upper)) / spread)
    return plain(below + above + 0 * (middle + spread))


@formula(
    "σ within: √[Σ(nᵢ−1)sᵢ²/Σ(nᵢ−1)], or MR̄/d₂(2) for one value a batch; σ overall: s of all readings",
    source="iso_22514_2 montgomery_sqc",
    holds_when="steady process (control chart first), normal readings; skewed ones by `percentile_indices`",
)
def capability(
    values: Sequence,
    lower: float | None = None,
    upper: float | None = None,
    natural_lower: float | None = None,
    natural_upper: float | None = None,
    confidence: float = 0.95,
) -> Capability:
    """All capability indices of one characteristic over its batches, with intervals.

    Parameters
    ----------
    values : sequence of float, or sequence of sequences
        One value a batch in order, or the coupon values of each batch; any unit; never pooled drops.
    lower, upper : float, optional
        Limits of the tolerance, unit of the readings; at least one.
    natural_lower, natural_upper : float, optional
        Where the quantity ends by nature (0 for hysteresis). A tolerance limit there is no limit: it is left out,
        and the note says so.
    confidence : float
        Two-sided, of the intervals [-], between 0 and 1.

    Returns
    -------
    Capability
        Ppk has the exact interval with one limit, the normal approximation with two. Without any spread inside
        the batches the indices within would be infinite: ValueError.

    Raises
    ------
    ValueError
        For NaN or an infinite value in readings or limits, fewer than two readings or no spread, no limit that is
        left, lower not below upper, or a confidence outside 0 to 1.

    Source: `iso_22514_2`; `montgomery_sqc`.

    >>> found = capability([2.1, 2.4, 1.9, 2.2, 2.0], lower=0, upper=5, natural_lower=0)
    >>> found.pp, round(found.ppk, 2), found.note
    (None, 4.99, 'The lower limit is the natural end of the quantity and is left out.')
    """
    notes = []
    for name, limit in (("lower limit", lower), ("upper limit", upper)):
        if limit is not None:
            within(name, limit, has_nan=False).item()
    if lower is not None and natural_lower is not None and lower <= natural_lower:
        lower, notes = None, ["The lower limit is the natural end of the quantity and is left out."]
    if upper is not None and natural_upper is not None and upper >= natural_upper:
        upper = None
        notes.append("The upper limit is the natural end of the quantity and is left out.")
    groups = [finite_row(np.atleast_1d(group)) for group in values]
    numbers = finite(np.concatenate(groups) if groups else [])
    if numbers.size < 2:
        raise ValueError("a capability needs two readings or more")
    mean, overall, inside = float(stable_mean(numbers)), float(sample_sd(numbers)), _sd_within(groups)
    if 0 in (overall, inside):
        raise ValueError("readings without spread have no capability")
    both = lower is not None and upper is not None
    ppk = smaller_index(mean, overall, lower, upper)
    pp = two_sided_index(overall, lower, upper) if both else None
    return Capability(
        mean=mean, sd_within=inside, sd_overall=overall,
        cp=two_sided_index(inside, lower, upper) if both else None,
        cpl=None if lower is None else one_sided_index(mean, inside, lower, "lower"),
        cpu=None if upper is None else one_sided_index(mean, inside, upper, "upper"),
        cpk=smaller_index(mean, inside, lower, upper), pp=pp, ppk=ppk,
        pp_interval=two_sided_index_interval(pp, numbers.size, confidence) if both else None,
        ppk_interval=(smaller_index_interval if both else one_sided_index_interval)(ppk, numbers.size, confidence),
        share_outside=share_outside(mean, overall, lower, upper), n=numbers.size, note=" ".join(notes),
    )  # fmt: skip


def _sd_within(groups: list[np.ndarray]) -> float:
    if all(group.size == 1 for group in groups):
        ranges = np.abs(np.diff(np.concatenate(groups)))
        return float(ranges.mean()) / chart_constants(2).d2
    df = sum(group.size - 1 for group in groups)
    return math.sqrt(sum(float(np.sum((group - group.mean()) ** 2)) for group in groups) / df)
