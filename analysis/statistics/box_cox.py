"""The power of a reading on which groups have the same spread: Box and Cox."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.comparison import sample
from analysis.statistics.replication import require_share

EXACT_POWERS = 0.0, 1.0, 0.5, -1.0, -0.5, 2.0, -2.0, 1 / 3  # scales in use, tried for readings without any scatter
WIDEST = 8.0  # powers beyond ± this are not searched: no scale that anybody would use


@dataclass(frozen=True, slots=True)
class PowerTransformation:
    """Power of the readings with its profile interval; an end is None where it lies beyond the range searched."""

    power: float | None  # None where the likelihood has no maximum in the range searched
    low: float | None
    high: float | None
    confidence: float
    note: str = ""


@formula(
    "z(λ) = (y^λ − 1)/(λ·ẏ^(λ−1)), ẏ geometric mean;  L(λ) = −(n/2)·ln(RSS(z)/n);  interval: 2(L̂ − L(λ)) ≤ χ²",
    source="box_cox_1964",
    holds_when="readings above 0; one value a coupon, coupons independent",
    library="scipy.optimize",
)
def power_transformation(
    values: Sequence[float], *factors: Sequence, interaction: bool = False, confidence: float = 0.95
) -> PowerTransformation:
    """Which power of a reading (log, square root, reciprocal …) suits an analysis with equal spreads?

    Parameters
    ----------
    values : sequence of float
        Readings above 0, one a coupon, any unit.
    factors : sequence
        Any number of factors, each with its level for each coupon; main effects are fitted. None: only a mean.
    interaction : bool
        Fit a mean to each combination of levels in place of main effects.
    confidence : float
        Two-sided confidence of the profile likelihood interval [-].

    Returns
    -------
    PowerTransformation
        1: as it is; 0.5: square root; 0: logarithm; −1: reciprocal.

    Raises
    ------
    ValueError
        For a reading at or below 0, NaN, another length, or no more readings than parameters.

    Source: `box_cox_1964`.

    >>> round(power_transformation([1.1, 1.9, 2.7, 4.2, 6.3, 9.9, 17.0]).power, 2)
    -0.03
    """
    require_share("confidence", confidence)
    numbers = sample(values)
    if np.any(numbers <= 0):
        raise ValueError(f"readings must lie above 0, not {numbers.min():g}")
    design = _design(numbers.size, factors, interaction)
    if numbers.size <= np.linalg.matrix_rank(design):
        raise ValueError(f"{numbers.size} readings for {np.linalg.matrix_rank(design)} parameters show no spread")
    logs = np.log(numbers) - np.mean(np.log(numbers))  # of readings over their geometric mean: any unit will do

    def likelihood(power: float) -> float:
        transformed = np.expm1(power * logs) / power if abs(power) > 1e-8 else logs
        residuals = transformed - design @ np.linalg.lstsq(design, transformed)[0]
        rest = float(residuals @ residuals)
        if rest <= 1e-26 * max(float(transformed @ transformed), 1e-4):  # rounding
            return -math.inf
        return -0.5 * numbers.size * math.log(rest / numbers.size)

    if likelihood(0.0) == likelihood(1.0) == -math.inf:
        return PowerTransformation(None, None, None, confidence, "the readings show no spread within the groups")
    exact = [power for power in EXACT_POWERS if likelihood(power) == -math.inf]
    if exact:
        return PowerTransformation(exact[0], exact[0], exact[0], confidence, "on this scale nothing is left over")
    return _searched(likelihood, confidence)


def _searched(likelihood, confidence: float) -> PowerTransformation:
    from scipy.optimize import brentq, minimize_scalar
    from scipy.special import chdtri

    grid = np.linspace(-WIDEST, WIDEST, 65)
    best = int(np.argmax([likelihood(power) for power in grid]))
    if best in (0, grid.size - 1):
        note = f"the likelihood rises up to the end of the range searched, ±{WIDEST:g}"
        return PowerTransformation(None, None, None, confidence, note)
    bounds = float(grid[best - 1]), float(grid[best + 1])
    found = minimize_scalar(lambda x: -likelihood(x), bounds=bounds, method="bounded", options={"xatol": 1e-9})
    power = float(found.x)
    level = -float(found.fun) - 0.5 * float(chdtri(1, 1 - confidence))
    ends = [
        float(brentq(lambda x: likelihood(x) - level, *sorted((power, end)))) if likelihood(end) < level else None
        for end in (-WIDEST, WIDEST)
    ]
    note = "" if None not in ends else f"an end of the interval lies beyond ±{WIDEST:g}"
    return PowerTransformation(power, *ends, confidence, note)


def _design(n: int, factors: Sequence[Sequence], interaction: bool) -> np.ndarray:
    labels = [[str(level) for level in factor] for factor in factors]
    if any(len(factor) != n for factor in labels):
        raise ValueError(f"{', '.join(str(len(factor)) for factor in labels)} levels for {n} readings")
    if interaction and labels:
        labels = [["\x1f".join(levels) for levels in zip(*labels, strict=True)]]
    columns = [np.ones((n, 1))]
    for factor in labels:
        levels, place = np.unique(factor, return_inverse=True)
        columns.append(np.eye(levels.size)[place][:, 1:])
    return np.hstack(columns)
