"""Ratio of two groups of coupons by their logarithms: how many times one is above the other, with an interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import within


@dataclass(frozen=True, slots=True)
class LogRatio:
    """Ratio of geometric means [-] with its uncertainty; None where the groups are too small to give one."""

    ratio: float
    u_ln: float | None  # standard uncertainty of ln(ratio), close to the relative one of the ratio while small
    degrees_of_freedom: float | None
    low: float | None
    high: float | None
    confidence: float
    n_above: int
    n_below: int

    @property
    def log10(self) -> float:
        """Decimal logarithm of the ratio [-]."""
        return float(np.log10(self.ratio))


@formula(
    "ln R = mean ln x − mean ln y, u² = s²(ln x)/n + s²(ln y)/m, R·exp(±t·u), t by Welch–Satterthwaite",
    source="welch_satterthwaite",
    holds_when="coupons independent; values of either group near lognormal",
    library="scipy.stats.t",
)
def log_ratio(above: ArrayLike, below: ArrayLike, confidence: float = 0.95) -> LogRatio:
    """How many times one group of coupons lies above another, with the interval of that factor.

    Parameters
    ----------
    above, below : array_like
        One value a coupon, both groups in the same unit, above 0.
    confidence : float
        Two-sided confidence [-], between 0 and 1.

    Returns
    -------
    LogRatio
        Factor with interval: above 0, and from 0 to infinity where few coupons meet a confidence so high that no
        number can hold its ends. Without an interval for one coupon in a group, or when no group has any spread.

    Raises
    ------
    ValueError
        For an empty group, a value not above 0, NaN, or a confidence out of range.

    Source: `welch_satterthwaite`.

    >>> round(log_ratio([8, 8, 8], [1, 2, 4]).ratio, 9)
    4.0
    """
    from scipy.stats import t

    within("confidence", confidence, above=0, below=1, has_nan=False)
    logs = [np.log(_group(name, values)) for name, values in (("first group", above), ("second group", below))]
    middle = logs[0].mean() - logs[1].mean()
    ratio = float(np.exp(middle))
    sizes = [len(group) for group in logs]
    if min(sizes) < 2:
        return LogRatio(ratio, None, None, None, None, confidence, *sizes)
    variances = [float(group.var(ddof=1)) / len(group) for group in logs]
    u = float(np.sqrt(sum(variances)))
    if u < 1e-14 * max(1.0, *(float(np.abs(group).max()) for group in logs)):  # nothing but round-off
        return LogRatio(ratio, 0.0, None, None, None, confidence, *sizes)
    free = u**4 / sum(variance**2 / (size - 1) for variance, size in zip(variances, sizes, strict=True))
    reach = t.ppf((1 + confidence) / 2, free) * u
    with np.errstate(over="ignore"):  # few coupons at a high confidence: the interval has no upper end
        low, high = (float(end) for end in np.exp([middle - reach, middle + reach]))
    return LogRatio(ratio, u, float(free), low, high, confidence, *sizes)


def _group(name: str, values: ArrayLike) -> np.ndarray:
    numbers = np.atleast_1d(within(f"value of the {name}", values, above=0, has_nan=False))
    if numbers.ndim != 1 or numbers.size == 0:
        raise ValueError(f"the {name} needs one value a coupon, not an array of shape {numbers.shape}")
    return numbers
