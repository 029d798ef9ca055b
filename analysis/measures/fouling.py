"""Fouling cover: share of the area that is covered, and its mean over coupons with an interval between 0 and 100 %."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within


@dataclass(frozen=True, slots=True)
class MeanCover:
    """Mean cover of coupons [%]; low and high are None where no interval can be given, and `note` says why."""

    mean: float
    u: float | None  # standard uncertainty of the mean [%]
    low: float | None
    high: float | None
    confidence: float
    n: int
    note: str = ""


@formula("C = 100·A(covered)/A(looked at)", source="common_practice", holds_when="edges and cut faces left out")
def cover_percent(covered: ArrayLike, looked_at: ArrayLike) -> float | np.ndarray:
    """Share of the area that fouling covers.

    Parameters
    ----------
    covered : array_like
        Covered area, or number of covered points or pixels, at least 0.
    looked_at : array_like
        The whole area in the same unit, above 0.

    Returns
    -------
    float or numpy.ndarray
        Cover [%]; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range, or more covered than looked at.

    Source: `common_practice`.

    >>> cover_percent(30, 120)
    25.0
    """
    part = within("covered area", covered, at_least=0)
    whole = within("area looked at", looked_at, above=0)
    part, whole = np.broadcast_arrays(part, whole)
    if (part > whole).any():
        worst = part > whole
        raise ValueError(f"covered area {part[worst].flat[0]:g} is above the area looked at, {whole[worst].flat[0]:g}")
    return plain(100 * part / whole)


@formula(
    "logit p̄ ± t(n − 1)·u(p̄)/[p̄(1 − p̄)], logit p = ln[p/(1 − p)]",
    source="fractional_logit",
    holds_when="coupons independent, at least 3; the interval is of the mean cover, and stays between 0 and 100 %",
    library="scipy.stats.t",
)
def mean_cover(covers_percent: ArrayLike, confidence: float = 0.95) -> MeanCover:
    """Mean cover of coupons with an interval that cannot leave 0 to 100 %.

    Parameters
    ----------
    covers_percent : array_like
        Cover of each coupon [%], 0 to 100; coupons at 0 or 100 count as they are.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    MeanCover
        Arithmetic mean; interval on the scale of the logit, to first order. None for one coupon, for coupons
        without spread, and where all are at 0 or 100 %.

    Raises
    ------
    ValueError
        For no coupon, a cover out of range, or NaN.

    Source: `fractional_logit`.

    >>> found = mean_cover([5, 10, 20, 5])
    >>> found.mean, round(found.low, 2), round(found.high, 2)
    (10.0, 3.08, 27.95)
    """
    from scipy.special import expit, logit
    from scipy.stats import t

    within("confidence", confidence, above=0, below=1, has_nan=False)
    covers = np.atleast_1d(within("cover", covers_percent, "%", at_least=0, at_most=100, has_nan=False)).ravel()
    if covers.size == 0:
        raise ValueError("at least one coupon is needed")
    mean = float(covers.mean())
    if covers.size == 1:
        return MeanCover(mean, None, None, None, confidence, 1, "one coupon: no interval")
    if np.ptp(covers) == 0:
        note = "coupons without spread: no interval; 0 or 100 % says only that nothing, or nothing else, was seen"
        return MeanCover(mean, 0.0, None, None, confidence, covers.size, note)
    u, share = float(covers.std(ddof=1)) / covers.size**0.5, mean / 100
    reach = t.ppf((1 + confidence) / 2, covers.size - 1) * u / 100 / (share * (1 - share))
    low, high = (100 * float(expit(logit(share) + side * reach)) for side in (-1, 1))
    return MeanCover(mean, u, low, high, confidence, covers.size)
