"""Correlation of readings with their neighbours in the order taken, and how many independent ones they are worth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.moments import finite_row, require_share, scaled_deviations


@dataclass(frozen=True, slots=True)
class Autocorrelation:
    """Correlation of the readings with those 1, 2, 3 … places later, and the band that chance stays in."""

    coefficients: tuple[float, ...]
    band: float  # ± this; two-sided, for one lag at a time
    confidence: float
    n: int


@formula(
    "rₖ = Σ(xᵢ − x̄)(xᵢ₊ₖ − x̄)/Σ(xᵢ − x̄)²;  band ±z/√n",
    source="nist_handbook_1_3_5_12",
    holds_when="the band: independent readings, one lag at a time",
)
def autocorrelation(values: Sequence[float], lags: int | None = None, confidence: float = 0.95) -> Autocorrelation:
    """Correlation of readings with the readings 1, 2, 3 … places later.

    Parameters
    ----------
    values : sequence of float
        Readings in order, any unit, at least two that differ.
    lags : int, optional
        How many lags, 1 to n − 1; left out: a quarter of the readings, at least 1 and at most 10.
    confidence : float
        Two-sided, of the band [-], between 0 and 1.

    Returns
    -------
    Autocorrelation
        Coefficients from lag 1 on.

    Raises
    ------
    ValueError
        For NaN, an infinite value, readings that are all equal, or lags that are no whole number from 1 to n − 1.

    Source: `nist_handbook_1_3_5_12`.

    >>> autocorrelation([1.0, 2.0, 1.0, 2.0], lags=2).coefficients
    (-0.75, 0.5)
    """
    numbers = finite_row(values)
    require_share("confidence", confidence)
    size = numbers.size
    if np.ptp(numbers) == 0:
        raise ValueError("readings that are all equal have no autocorrelation")
    wanted = min(max(size // 4, 1), 10) if lags is None else lags
    if not 1 <= wanted <= size - 1 or wanted != int(wanted):
        raise ValueError(f"lags must lie between 1 and {size - 1} and be whole, not {wanted}")
    off = scaled_deviations(numbers)[0]  # a large common part would cost digits
    squares = float(off @ off)
    from scipy.special import ndtri

    found = tuple(float(off[:-lag] @ off[lag:]) / squares for lag in range(1, int(wanted) + 1))
    return Autocorrelation(found, float(ndtri((1 + confidence) / 2)) / math.sqrt(size), confidence, size)


@formula(
    "n_eff = n(1 − r₁)/(1 + r₁)",
    source="common_practice",
    holds_when="readings whose correlation dies away as r₁ᵏ (first-order autoregression), n large against n/n_eff",
)
def effective_sample_size(n, lag_one):
    """How many independent readings would fix the mean as well as n correlated ones do.

    Parameters
    ----------
    n : float or array
        Number of readings [-], 1 or more.
    lag_one : float or array
        Autocorrelation at lag 1 [-], between −1 and 1, both excluded; negative means swinging, and then the
        mean is known better than n readings at random would say.

    Returns
    -------
    float or array
        Readings [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For n below 1 or a correlation outside −1 to 1.

    Source: `common_practice`; the usual correction of a first-order autoregression.

    >>> round(effective_sample_size(100, 0.535199668621283), 3)
    30.276
    """
    count = within("number of readings", n, at_least=1)
    share = within("autocorrelation at lag 1", lag_one, above=-1, below=1)
    return plain(count * (1 - share) / (1 + share))


@formula(
    "d = Σ(eᵢ₊₁ − eᵢ)²/Σeᵢ²,  e = x − x̄",
    source="durbin_watson_1950",
    holds_when="readings about their mean, or residuals of a fit with intercept",
)
def durbin_watson(values: Sequence[float]) -> float:
    """Durbin–Watson number of readings about their mean: near 2 when neighbours are not correlated.

    Parameters
    ----------
    values : sequence of float
        Readings in order, or residuals of a fit with intercept, any unit, at least two that differ.

    Returns
    -------
    float
        Between 0 (neighbours alike) and 4 (neighbours opposite) [-].

    Raises
    ------
    ValueError
        For NaN, an infinite value, or readings that are all equal.

    Source: `durbin_watson_1950`.

    >>> durbin_watson([1.0, 2.0, 1.0, 2.0])
    3.0
    """
    numbers = finite_row(values)
    if np.ptp(numbers) == 0:
        raise ValueError("readings that are all equal have no Durbin–Watson number")
    off = scaled_deviations(numbers)[0]
    return float(np.sum(np.diff(off) ** 2) / np.sum(off**2))
