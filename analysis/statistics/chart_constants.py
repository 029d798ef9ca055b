"""Constants of control charts, integrated exactly for any subgroup size instead of looked up."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within

LARGEST_SUBGROUP = 1000  # beyond it a range says next to nothing about the spread


@dataclass(frozen=True, slots=True)
class ChartConstants:
    """Constants of control charts for subgroups of n independent normal readings, all [-]."""

    n: int
    c4: float  # mean of the standard deviation over σ
    d2: float  # mean of the range over σ
    d3: float  # standard deviation of the range over σ
    a: float  # X̄ limits from a known σ: 3/√n
    a2: float  # X̄ limits from R̄
    a3: float  # X̄ limits from s̄
    b3: float  # s limits from s̄
    b4: float
    b5: float  # s limits from a known σ
    b6: float
    d1: float  # R limits from a known σ; d1 and d2_limit are printed D1 and D2
    d2_limit: float
    d3_limit: float  # R limits from R̄; printed D3 and D4
    d4_limit: float
    e2: float  # limits of individuals from a mean range of n readings: 3/d2


@formula(
    "c₄ = √(2/(n−1))·Γ(n/2)/Γ((n−1)/2)",
    source="iso_7870_2 common_practice",
    holds_when="independent normal readings",
    library="scipy.special.poch",
)
def c4(n: ArrayLike):
    """Mean of the standard deviation of n normal readings, over the true one.

    Parameters
    ----------
    n : int or array
        Readings in a subgroup [-], a whole number from 2.

    Returns
    -------
    float or array
        Between 0.797 and 1 [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For n below 2 or not whole; a single reading has no standard deviation.

    Source: `iso_7870_2`.

    >>> round(c4(5), 4)
    0.94
    """
    size = within("subgroup size", n, at_least=2)
    _require_whole(size)
    from scipy.special import poch

    half = (size - 1) / 2  # Γ(½ + half)/Γ(half) in one piece: the difference of two logarithms loses digits for large n
    return plain(poch(half, 0.5) / np.sqrt(half))


@formula(
    "d₂ = ∫[1 − Φ(x)ⁿ − (1 − Φ(x))ⁿ]dx",
    source="tippett_1925",
    holds_when="independent normal readings",
)
def d2(n: ArrayLike):
    """Mean range of n normal readings, over their standard deviation.

    Parameters
    ----------
    n : int or array
        Readings in a subgroup [-], a whole number from 2 to 1000.

    Returns
    -------
    float or array
        Above 1 [-].

    Raises
    ------
    ValueError
        For n that is NaN, no whole number or out of range.

    Source: `tippett_1925`.

    >>> round(d2(2), 7) == round(2 / math.pi**0.5, 7)
    True
    """
    return plain(np.vectorize(lambda size: _range_moments(size)[0], otypes=[float])(_whole(n)))


@formula(
    "d₃² = E(W²) − d₂²,  E(W²) = 2∫w·P(W > w)dw,  P(W ≤ w) = n∫φ(x)[Φ(x+w) − Φ(x)]ⁿ⁻¹dx",
    source="tippett_1925",
    holds_when="independent normal readings",
)
def d3(n: ArrayLike):
    """Standard deviation of the range of n normal readings, over their standard deviation.

    Parameters
    ----------
    n : int or array
        Readings in a subgroup [-], a whole number from 2 to 1000.

    Returns
    -------
    float or array
        Below 0.9 [-].

    Raises
    ------
    ValueError
        For n that is NaN, no whole number or out of range.

    Source: `tippett_1925`.

    >>> round(d3(5), 4)
    0.8641
    """
    return plain(np.vectorize(lambda size: _range_moments(size)[1], otypes=[float])(_whole(n)))


@formula(
    "A = 3/√n; A₂ = A/d₂; A₃ = A/c₄; b = 3√(1−c₄²); B₃ = 1 − b/c₄, B₄ = 1 + b/c₄; B₅ = c₄ − b, B₆ = c₄ + b; "
    "D₁ = d₂ − 3d₃, D₂ = d₂ + 3d₃; D₃ = D₁/d₂, D₄ = D₂/d₂; E₂ = 3/d₂",
    source="iso_7870_2 tippett_1925",
    holds_when="independent normal readings; a lower limit below 0 is 0",
)
def chart_constants(n: int) -> ChartConstants:
    """All constants of a control chart for subgroups of n readings.

    Parameters
    ----------
    n : int
        Readings in a subgroup [-], 2 to 1000.

    Returns
    -------
    ChartConstants
        Unrounded [-]; printed tables keep three or four decimals.

    Raises
    ------
    ValueError
        For n that is no whole number or out of range.

    Source: `iso_7870_2`; integrated after `tippett_1925`.

    >>> round(chart_constants(5).a2, 4)
    0.5768
    """
    if np.ndim(n) != 0:
        raise ValueError(f"subgroup size must be one number, not an array of shape {np.shape(n)}")
    size = int(_whole(n))
    mean, spread = _range_moments(size)
    mean_sd = c4(size)
    reach, range_reach = 3 * math.sqrt(1 - mean_sd**2), 3 * spread
    a = 3 / math.sqrt(size)
    return ChartConstants(
        n=size, c4=mean_sd, d2=mean, d3=spread, a=a, a2=a / mean, a3=a / mean_sd,
        b3=max(1 - reach / mean_sd, 0.0), b4=1 + reach / mean_sd, b5=max(mean_sd - reach, 0.0), b6=mean_sd + reach,
        d1=max(mean - range_reach, 0.0), d2_limit=mean + range_reach,
        d3_limit=max(1 - range_reach / mean, 0.0), d4_limit=1 + range_reach / mean, e2=3 / mean,
    )  # fmt: skip


def _whole(n: ArrayLike) -> np.ndarray:
    size = within("subgroup size", n, at_least=2, at_most=LARGEST_SUBGROUP, has_nan=False)
    _require_whole(size)
    return size.astype(int)


def _require_whole(size: np.ndarray) -> None:
    wrong = np.isfinite(size) & (size != np.round(size))
    if wrong.any():
        raise ValueError(f"subgroup size must be a whole number, not {size[wrong].flat[0]:g}")


@lru_cache
def _range_moments(size: int) -> tuple[float, float]:
    """Mean and standard deviation of the range of `size` standard normal readings.

    Gauss–Legendre sums over ±9 and over ranges to 16: what lies outside is below 1e-15 for up to 1000 readings.
    """
    from scipy.special import ndtr

    node, weight = np.polynomial.legendre.leggauss(200)
    x, x_weight = 9 * node, 9 * weight
    mean = float(x_weight @ (1 - ndtr(x) ** size - ndtr(-x) ** size))
    w, w_weight = 8 * (node + 1), 8 * weight
    density = np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi)
    inside = ndtr(-x) - ndtr(-x - w[:, None])  # Φ(x+w) − Φ(x), written so that no digits are lost on the right
    exceeded = 1 - size * (inside ** (size - 1)) @ (x_weight * density)
    square = float(2 * w_weight @ (w * exceeded))
    return mean, math.sqrt(square - mean**2)
