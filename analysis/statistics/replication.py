"""Replication: what a handful of coupons, each with its drops, says about the batch.

The coupon is the unit of replication. Drops on one coupon share its surface and are never counted as
independent: an interval over pooled drops would be too narrow (`hurlbert_1984`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.moments import finite, require_share, sample_sd, stable_mean
from analysis.statistics.restricted_likelihood import nested_likelihood_fit


@dataclass(frozen=True, slots=True)
class MeanInterval:
    """A mean of n values with its two-sided interval; low, high and sd are None when n is 1."""

    mean: float
    low: float | None
    high: float | None
    confidence: float
    n: int
    sd: float | None


@dataclass(frozen=True, slots=True)
class VarianceComponents:
    """Spread between and within groups; None where the data cannot separate the two."""

    between_sd: float | None  # never negative: 0 where the estimate is negative
    within_sd: float | None
    between_variance: float | None  # as estimated: the moment estimate may be negative, and is kept
    within_variance: float | None
    n_groups: int
    n_readings: int
    method: str  # "moments" or "REML"
    note: str = ""


@formula(
    "x̄ ± t((1 + C)/2; n − 1)·s/√n",
    source="nist_handbook_1_3_5_2 hurlbert_1984",
    holds_when="independent normal values: coupons, not drops",
    library="scipy.special.stdtrit",
)
def mean_interval(values: Sequence[float], confidence: float = 0.95) -> MeanInterval:
    """Mean of independent values with its Student t interval on n − 1 degrees of freedom.

    Parameters
    ----------
    values : sequence of float
        One value a coupon, any unit; never the pooled drops.
    confidence : float
        Two-sided confidence [-], between 0 and 1.

    Returns
    -------
    MeanInterval
        In the unit of `values`. With one value there is a mean and no interval.

    Raises
    ------
    ValueError
        For no values, NaN, an infinite value, or a confidence outside 0 to 1.

    Source: `nist_handbook_1_3_5_2`.

    >>> interval = mean_interval([2.36, 1.88, 2.32, 1.66, 2.10, 1.48])
    >>> [round(number, 2) for number in (interval.mean, interval.low, interval.high)]
    [1.97, 1.59, 2.34]
    """
    numbers = finite(values)
    require_share("confidence", confidence)
    mean, count = stable_mean(numbers), numbers.size
    if count == 1:
        return MeanInterval(mean, None, None, confidence, 1, None)
    # The quantile itself: scipy.stats wraps the same function in argument checks that cost fifty times its time.
    from scipy.special import stdtrit

    sd = sample_sd(numbers)
    half_width = float(stdtrit(count - 1, (1 + confidence) / 2)) * sd / math.sqrt(count)
    return MeanInterval(mean, mean - half_width, mean + half_width, confidence, count, sd)


@formula(
    "σ_w² = MSW, σ_b² = (MSB − MSW)/n₀, n₀ = (N − Σnᵢ²/N)/(k − 1)",
    source="searle_1992",
    holds_when="independent coupons, independent drops of equal spread on each",
)
def variance_components(groups: Mapping[str, Sequence[float]], reml: bool = False) -> VarianceComponents:
    """Spread between coupons and between the drops of one coupon (one-way random model).

    Parameters
    ----------
    groups : mapping of str to sequence of float
        Readings of each coupon, any unit; unequal numbers are allowed, empty groups are passed over.
    reml : bool
        Restricted maximum likelihood in place of the method of moments.

    Returns
    -------
    VarianceComponents
        Moments: σw² = MSW, σb² = (MSB − MSW)/n0 with n0 = (N − Σnᵢ²/N)/(k − 1), which is the number of
        drops when it is the same on every coupon. A negative moment estimate is returned as it is and named
        in the note; its sd is 0 and the within part is not pooled again. REML keeps both at or above 0.
        With one coupon there is no between part; with one drop a coupon neither part can be given. More levels,
        intervals and the total are in `nested.nested_components`.

    Raises
    ------
    ValueError
        For NaN, an infinite value, or no readings at all.

    Source: `searle_1992`, chapter 3.

    >>> parts = variance_components({"A": [1.0, 3.0], "B": [5.0, 7.0]})
    >>> parts.within_variance, parts.between_variance
    (2.0, 7.0)
    """
    arrays = [finite(values) for values in groups.values() if len(values)]
    if not arrays:
        raise ValueError("no readings to describe")
    n_readings = sum(array.size for array in arrays)
    if n_readings == len(arrays):
        return _undecided(arrays, "one reading a coupon: between and within cannot be separated")
    if len(arrays) == 1:
        within = float(np.var(arrays[0], ddof=1))
        note = "one coupon: no spread between coupons"
        return VarianceComponents(None, math.sqrt(within), None, within, 1, n_readings, "moments", note)
    return _reml(arrays) if reml else _moments(arrays)


def _moments(arrays: list[np.ndarray]) -> VarianceComponents:
    sizes = np.array([array.size for array in arrays])
    total, count = int(sizes.sum()), len(arrays)
    grand_mean = stable_mean(np.concatenate(arrays))
    # Deviations from the grand mean, not raw values: a large common part would cost digits (StRD SmLs07).
    shifted = [array - grand_mean for array in arrays]
    means = np.array([array.mean() for array in shifted])
    square_sum_between = float(np.sum(sizes * (means - np.sum(sizes * means) / total) ** 2))
    square_sum_within = float(sum(np.sum((a - m) ** 2) for a, m in zip(shifted, means, strict=True)))
    within = square_sum_within / (total - count)
    effective_size = (total - float(np.sum(sizes**2)) / total) / (count - 1)
    between = (square_sum_between / (count - 1) - within) / effective_size
    note = ""
    if between < 0:
        note = f"the drops scatter more than the coupons: their variance comes out negative ({between:.4g}), taken as 0"
    return VarianceComponents(
        math.sqrt(max(between, 0)), math.sqrt(within), between, within, count, total, "moments", note
    )


def _reml(arrays: list[np.ndarray]) -> VarianceComponents:
    readings, sizes = np.concatenate(arrays), np.array([array.size for array in arrays])
    moments = _moments(arrays)
    starts = [max(moments.between_variance, 0.0), moments.within_variance]
    fit = nested_likelihood_fit(readings, [sizes], starts)
    if not fit.is_fitted:
        return _undecided(arrays, f"REML: {fit.note}", "REML")
    between, within = fit.variances
    note = "" if between > 0 else "no spread between coupons could be told from the spread within them"
    sds = math.sqrt(between), math.sqrt(within)
    return VarianceComponents(*sds, between, within, len(arrays), readings.size, "REML", note)


def _undecided(arrays: list[np.ndarray], note: str, method: str = "moments") -> VarianceComponents:
    size = sum(array.size for array in arrays)
    return VarianceComponents(None, None, None, None, len(arrays), size, method, note)
