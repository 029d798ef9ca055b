"""The product's rules for many batches at once. `test_promises` holds each of them against the product's own function.

Where the product has a function for many samples it is called; only what it does batch by batch stands here again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from analysis.statistics.censoring import calibrated_confidence
from analysis.statistics.many_runs import CensoredFits, censored_normal_fits
from analysis.statistics.nested_censoring import nested_censored_means

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Batches:
    """Readings of batches × coupons × drops; NaN: no drop; a drop that did not move carries the stage limit."""

    values: np.ndarray
    stays: np.ndarray
    stage_limit: float

    @property
    def sizes(self) -> np.ndarray:
        return (~np.isnan(self.values)).sum(axis=2)


@dataclass(frozen=True, slots=True)
class Judged:
    """Intervals of many batches, NaN where there is none, and the coupon values behind them."""

    low: np.ndarray
    high: np.ndarray
    coupons: np.ndarray | None = None  # given where coupons that never moved have a say of their own
    stage_limit: float = math.inf

    @property
    def has_interval(self) -> np.ndarray:
        return ~np.isnan(self.low)

    def verdict(self, limit: float, side: str) -> np.ndarray:
        """1 pass, −1 fail, 0 inconclusive."""
        inside, outside = self.high <= limit, self.low > limit
        if side == "at_least":
            inside, outside = self.low >= limit, self.high < limit
        verdict = np.where(inside, 1, np.where(outside, -1, 0))
        if self.coupons is None:
            return verdict
        never_moved = np.isinf(self.coupons).any(axis=1)
        if side == "at_most":
            verdict[never_moved & (verdict > 0)] = 0
        verdict[never_moved & ~self.has_interval & self.half_beyond(limit, side)] = -1
        return verdict

    def half_beyond(self, limit: float, side: str) -> np.ndarray:
        """`verdicts.half_beyond`: at least half of the coupons that have a value are known to lie beyond the limit."""
        beyond = self.coupons < limit
        if side == "at_most":
            beyond = np.where(np.isinf(self.coupons), self.stage_limit >= limit, self.coupons > limit)
        return 2 * beyond.sum(axis=1) >= (~np.isnan(self.coupons)).sum(axis=1)


def student(values: np.ndarray, confidence: float = CONFIDENCE) -> tuple[np.ndarray, np.ndarray]:
    """`replication.mean_interval` of each row."""
    n = values.shape[1]
    mean = values.mean(axis=1)
    half = stdtrit(n - 1, (1 + confidence) / 2) * values.std(axis=1, ddof=1) / math.sqrt(n)
    return mean - half, mean + half


def plain_means(batches: Batches) -> np.ndarray:
    """Mean of each coupon's readings, whatever they are."""
    return np.nansum(batches.values, axis=2) / batches.sizes


def coupon_means(batches: Batches) -> np.ndarray:
    """`coupon_values.coupon_mean`: infinite where no drop moved, NaN where no value can be given."""
    is_there = ~np.isnan(batches.values)
    stays = batches.stays.sum(axis=2)
    means = plain_means(batches)
    some = (stays > 0) & (stays < batches.sizes)
    if some.any():
        kept = is_there[some]
        offsets = np.concatenate(([0], np.cumsum(kept.sum(axis=1))))
        means[some] = _fits(batches.values[some][kept], batches.stays[some][kept], offsets, "wald").mu
    means[stays == batches.sizes] = math.inf
    return means


def coupon_medians(batches: Batches) -> np.ndarray:
    """`coupon_values.coupon_median`: infinite where it lies beyond the stage limit."""
    ranked = np.sort(np.where(batches.stays, math.inf, batches.values), axis=2)  # NaN is sorted to the end
    sizes = batches.sizes
    middle = [np.take_along_axis(ranked, place[..., None], axis=2)[..., 0] for place in ((sizes - 1) // 2, sizes // 2)]
    return (middle[0] + middle[1]) / 2


def by_means(batches: Batches) -> Judged:
    """`criteria.mean_within` on coupon means: Student, and with drops that did not move the likelihood over all."""
    low, high = student(plain_means(batches))
    some = batches.stays.any(axis=(1, 2))
    if some.any():
        found = nested_censored_means(batches.values[some], batches.stays[some], confidence=CONFIDENCE)
        low[some], high[some] = found.low, found.high
    return Judged(low, high, coupon_means(batches), batches.stage_limit)


def by_medians(batches: Batches) -> Judged:
    """`criteria.mean_within` on coupon medians: Student, and with medians beyond the limit a censored normal."""
    coupons = coupon_medians(batches)
    beyond = np.isinf(coupons)
    never_moved = beyond.any(axis=1)
    low, high = np.full(len(coupons), math.nan), np.full(len(coupons), math.nan)
    low[~never_moved], high[~never_moved] = student(coupons[~never_moved])
    if never_moved.any():
        limits = np.where(beyond, batches.stage_limit, coupons)[never_moved]
        confidence = calibrated_confidence(CONFIDENCE, coupons.shape[1])
        fits = _fits(limits, beyond[never_moved], None, "profile", confidence)
        low[never_moved], high[never_moved] = fits.low, fits.high
    return Judged(low, high, coupons, batches.stage_limit)


def pooled(batches: Batches) -> Judged:
    """The wrong way, as a contrast: Student's t over all drops as if each were a coupon. Complete batches only."""
    return Judged(*student(batches.values.reshape(len(batches.values), -1)))


def limit_for_the_drop(batches: Batches) -> Judged:
    """The wrong way, as a contrast: the stage limit written in the place of a drop that did not move."""
    return Judged(*student(plain_means(batches)))


def _fits(values, stays, offsets, interval: str, confidence: float = CONFIDENCE) -> CensoredFits:
    return censored_normal_fits(values, stays, offsets=offsets, confidence=confidence, interval=interval)
