"""Bias of a measuring system against references, at one reference and over its range."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import within
from analysis.statistics.moments import finite_row, require_share, stable_mean
from analysis.statistics.regression import linear_fit


@dataclass(frozen=True, slots=True)
class GaugeBias:
    """Mean of repeated readings less the reference, with its interval and t test against no bias."""

    bias: float
    sd: float
    standard_error: float
    low: float
    high: float
    t: float | None  # None without any spread
    p: float | None
    confidence: float
    n: int


@dataclass(frozen=True, slots=True)
class GaugeLinearity:
    """Straight line of readings, or of their bias, against references."""

    intercept: float
    slope: float
    intercept_standard_error: float
    slope_standard_error: float
    intercept_t: float | None  # None, as the other three, where the line leaves no residual
    slope_t: float | None
    intercept_p: float | None
    slope_p: float | None
    r_squared: float | None
    residual_sd: float
    n: int
    mean_at_reference: dict[float, float]  # mean of what the line goes through, sets of one reference together
    line_at_reference: dict[float, float]
    lack_of_fit: LackOfFit | None  # None where no reference was read twice, or with two references


@dataclass(frozen=True, slots=True)
class LackOfFit:
    """Does a straight line do, judged by the repeatability at each reference?"""

    ss_repeat: float
    df_repeat: int
    ss_line: float
    df_line: int
    f: float | None
    f_critical: float  # at 95 %
    p: float | None
    u_repeat: float  # square root of the mean square within references
    u_line: float  # square root of the mean square of the references about the line


@formula(
    "b = x̄ − x_ref;  b ± t(n−1)·s/√n",
    source="aiag_msa",
    holds_when="independent readings of one reference; s is the ordinary standard deviation, not one from ranges",
    library="scipy.special.stdtrit",
)
def gauge_bias(readings: Sequence[float], reference: float, confidence: float = 0.95) -> GaugeBias:
    """Does a gauge read a reference too high or too low?

    Parameters
    ----------
    readings : sequence of float
        Repeated readings of one reference, any unit, at least two.
    reference : float
        Accepted value, unit of the readings.
    confidence : float
        Two-sided confidence [-], between 0 and 1.

    Returns
    -------
    GaugeBias
        Unit of the readings. An interval without 0 means a bias.

    Raises
    ------
    ValueError
        For NaN, an infinite value, fewer than two readings or a confidence outside 0 to 1.

    Source: `aiag_msa`.

    >>> found = gauge_bias([5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4, 6.3, 6.0, 6.1, 6.2, 5.6, 6.0], 6.0)
    >>> round(found.bias, 6), round(found.low, 4), round(found.high, 4)
    (0.006667, -0.1107, 0.1241)
    """
    numbers = finite_row(readings)
    require_share("confidence", confidence)
    accepted = within("reference", reference, has_nan=False).item()
    if numbers.size < 2:
        raise ValueError("a bias with its interval needs two readings or more")
    off = numbers - accepted
    bias, sd = float(off.mean()), float(off.std(ddof=1))
    error = sd / math.sqrt(numbers.size)
    from scipy.special import stdtrit

    reach = float(stdtrit(numbers.size - 1, (1 + confidence) / 2)) * error
    t, p = _t_test(bias, error, numbers.size - 1)
    return GaugeBias(bias, sd, error, bias - reach, bias + reach, t, p, confidence, numbers.size)


@formula(
    "x − x_ref = b₀ + b₁·x_ref + e",
    source="aiag_msa",
    holds_when="readings independent, the same spread at every reference",
    library="statsmodels.api.OLS scipy.special.stdtr",
)
def gauge_linearity(references: Sequence[float], readings: Sequence[ArrayLike]) -> GaugeLinearity:
    """Does the bias of a gauge change over its range?

    Parameters
    ----------
    references : sequence of float
        Accepted values, any unit, at least two that differ.
    readings : sequence of sequences, or array of shape (references, repeats)
        Readings of each reference, same unit; numbers of repeats may differ.

    Returns
    -------
    GaugeLinearity
        Line through the biases; a slope other than 0 means that the bias changes over the range.

    Raises
    ------
    ValueError
        For NaN, an infinite value, another number of references, references that do not differ, or fewer than
        three readings.

    Source: `aiag_msa`.

    >>> found = gauge_linearity([2, 4], [[2.5, 2.7], [4.1, 4.3]])
    >>> round(found.slope, 6), round(found.intercept, 6)
    (-0.2, 1.0)
    """
    places, groups = _series(references, readings)
    return _line(places, [group - place for place, group in zip(places, groups, strict=True)])


@formula(
    "x = b₀ + b₁·x_ref + e;  F = [SS_line/(g − 2)]/[SS_repeat/(N − g)]",
    source="iso_22514_7",
    holds_when="readings independent, the same spread at every reference",
    library="statsmodels.api.OLS scipy.special.fdtrc",
)
def reference_line(references: Sequence[float], readings: Sequence[ArrayLike]) -> GaugeLinearity:
    """Line of readings against references, and whether a straight line does.

    Parameters
    ----------
    references : sequence of float
        Accepted values, any unit, at least two that differ.
    readings : sequence of sequences, or array of shape (references, repeats)
        Readings of each reference; numbers of repeats may differ.

    Returns
    -------
    GaugeLinearity
        Line through the readings; with three references or more and repeats also the test for lack of fit, whose
        two mean squares give u_line (linearity) and u_repeat (repeatability on references).

    Raises
    ------
    ValueError
        As `gauge_linearity`.

    Source: `iso_22514_7`, Annex A.1.

    >>> found = reference_line([1, 2, 3], [[1.0, 1.2], [2.1, 2.1], [3.0, 3.2]])
    >>> round(found.slope, 6), round(found.lack_of_fit.u_repeat, 4)
    (1.0, 0.1155)
    """
    return _line(*_series(references, readings))


def _series(references: Sequence[float], readings: Sequence[ArrayLike]) -> tuple[np.ndarray, list[np.ndarray]]:
    places, groups = finite_row(references), [finite_row(group) for group in readings]
    if places.size != len(groups):
        raise ValueError(f"{places.size} references for {len(groups)} sets of readings")
    if np.ptp(places) == 0:
        raise ValueError("a line needs two references that differ")
    if sum(group.size for group in groups) < 3:
        raise ValueError("a line with its errors needs three readings or more")
    return places, groups


def _line(places: np.ndarray, groups: list[np.ndarray]) -> GaugeLinearity:
    x, y = np.repeat(places, [group.size for group in groups]), np.concatenate(groups)
    line = linear_fit(x, y)
    (intercept, slope), errors = line.coefficients, line.standard_errors
    (intercept_t, intercept_p), (slope_t, slope_p) = (
        _t_test(found, error, line.df) for found, error in zip(line.coefficients, errors, strict=True)
    )
    at_one = {
        one: np.concatenate([group for place, group in zip(places, groups, strict=True) if place == one])
        for one in dict.fromkeys(places.tolist())
    }
    return GaugeLinearity(
        intercept, slope, *errors, intercept_t, slope_t, intercept_p, slope_p,
        None if line.r_squared is None else max(line.r_squared, 0.0), line.residual_sd, line.n,
        {one: float(stable_mean(group)) for one, group in at_one.items()},
        {one: intercept + slope * one for one in at_one},
        _lack_of_fit(list(at_one.values()), line.residual_sd**2 * line.df),
    )  # fmt: skip


def _lack_of_fit(at_one: list[np.ndarray], ss_residual: float) -> LackOfFit | None:
    df_repeat, df_line = sum(group.size - 1 for group in at_one), len(at_one) - 2
    if df_repeat < 1 or df_line < 1:
        return None
    repeat = float(sum(np.sum((group - group.mean()) ** 2) for group in at_one))
    line = max(ss_residual - repeat, 0.0)
    from scipy.special import fdtrc, fdtri

    f = line / df_line / (repeat / df_repeat) if repeat else None
    p = None if f is None else float(fdtrc(df_line, df_repeat, f))
    critical = float(fdtri(df_line, df_repeat, 0.95))
    u_repeat, u_line = math.sqrt(repeat / df_repeat), math.sqrt(line / df_line)
    return LackOfFit(repeat, df_repeat, line, df_line, f, critical, p, u_repeat, u_line)


def _t_test(estimate: float, error: float, df: int) -> tuple[float | None, float | None]:
    if error == 0:
        return None, None
    from scipy.special import stdtr

    return estimate / error, 2 * float(stdtr(df, -abs(estimate / error)))
