"""Coupon values near an end of their range, where the product may go over to a transformed scale."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from analysis.coupon_interval import TRANSFORMED, coupon_interval
from analysis.quantities import QUANTITIES
from analysis.records import CouponValue
from tests.analysis.promises.simulation import SEED, Share

DISTANCE = 2.5  # of the true mean from 0, in standard deviations between coupons
SKEW = 0.6  # standard deviation of the logarithms of skewed coupon values


def normal_values(rng: np.random.Generator, size: tuple[int, int]) -> np.ndarray:
    """Normal but for the 0.6 % that would lie below 0, which are drawn again."""
    values = DISTANCE + rng.normal(size=size)
    while (values <= 0).any():
        values = np.where(values <= 0, DISTANCE + rng.normal(size=size), values)
    return values


def skewed_values(rng: np.random.Generator, size: tuple[int, int]) -> np.ndarray:
    return np.exp(SKEW * rng.normal(size=size))


def normal_centres() -> tuple[float, float]:
    """Mean and median of the normal values left above 0 (independent: scipy.stats.truncnorm)."""
    from scipy.stats import truncnorm

    law = truncnorm(-DISTANCE, math.inf, DISTANCE, 1)
    return float(law.mean()), float(law.median())


def skewed_centres() -> tuple[float, float]:
    """Mean and median of a lognormal distribution (hand: exp(σ²/2) and 1)."""
    return math.exp(SKEW**2 / 2), 1.0


def intervals(draw: Callable, coupons: int, replicates: int) -> Iterator[tuple[float, float, bool]]:
    """Low, high and whether the scale is the transformed one, from the product's own function."""
    rng = np.random.default_rng([SEED, coupons])
    for values in draw(rng, (replicates, coupons)):
        batch = [CouponValue(str(place), "treated", float(value), 5) for place, value in enumerate(values)]
        found = coupon_interval(batch, QUANTITIES["hysteresis"])
        yield found.low, found.high, found.formula == TRANSFORMED


def held(draw: Callable, centres: tuple[float, float], coupons: int, replicates: int) -> tuple[Share, Share]:
    """How often the interval holds the mean, and how often what it says that it is of (mean or median)."""
    mean, median = centres
    of_mean = of_own = 0
    for low, high, is_median in intervals(draw, coupons, replicates):
        of_mean += low <= mean <= high
        of_own += low <= (median if is_median else mean) <= high
    return Share(of_mean, replicates), Share(of_own, replicates)
