"""Tolerance limits of single drops: exact cases, the pivot by Monte Carlo, and the confidence that is reached."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.drop_tolerance import drop_tolerance_limit
from analysis.statistics.tolerance import tolerance_factor_one_sided, tolerance_limit

DROPS = {
    "A": [9.0, 9.4, 9.2, 9.5],
    "B": [10.1, 10.3, 9.9, 9.6],
    "C": [11.0, 10.6, 10.8, 11.1],
    "D": [9.9, 10.0, 9.4, 9.8],
}


@pytest.mark.parametrize(
    ("n", "coverage", "confidence", "digits"),
    [(2, 0.9, 0.95, 6), (3, 0.95, 0.95, 9), (4, 0.99, 0.99, 9), (6, 0.9, 0.9, 9), (30, 0.95, 0.99, 9)],
)
def test_one_drop_a_coupon_is_the_exact_limit(n, coverage, confidence, digits):
    # limit: independent values; scipy's noncentral t
    values = np.random.default_rng(n).normal(100, 5, n)
    found = drop_tolerance_limit({str(i): [value] for i, value in enumerate(values)}, coverage, confidence)
    exact = tolerance_limit(values, coverage, confidence)
    assert_allclose((found.limit - found.mean) / found.drop_sd, exact.factor, rtol=10**-digits)
    assert_allclose(found.limit, exact.limit, rtol=10**-digits)


def test_equal_drops_on_each_coupon_count_as_one():
    # limit: no spread within coupons
    found = drop_tolerance_limit({"A": [1.0] * 5, "B": [2.0] * 5, "C": [4.0] * 5})
    assert_allclose(found.limit, tolerance_limit([1.0, 2.0, 4.0]).limit, rtol=1e-9)


@pytest.mark.parametrize("side", ["upper", "lower"])
def test_limit_is_the_quantile_of_its_pivot(side):
    # independent: the pivot drawn 400 000 times (numpy, seed 11); its quantile is known to about 0.3 %
    rng = np.random.default_rng(11)
    means = np.array([np.mean(drops) for drops in DROPS.values()])
    between = np.sum((means - means.mean()) ** 2)
    within = sum(np.sum((np.array(d) - np.mean(d)) ** 2) for d in DROPS.values()) * 3 / 4
    u, w, z = rng.chisquare(3, 400_000), rng.chisquare(12, 400_000), rng.normal(size=400_000)
    pivot = z * np.sqrt(between / u / 4) + stats.norm.ppf(0.9) * np.sqrt(between / u + within / w)
    found = drop_tolerance_limit(DROPS, 0.90, 0.95, side)
    distance = found.limit - found.mean if side == "upper" else found.mean - found.limit
    assert_allclose(distance, np.quantile(pivot, 0.95), rtol=0.01)
    assert "approximate" in found.note


def test_drops_need_a_wider_limit_than_coupon_means():
    means = [float(np.mean(drops)) for drops in DROPS.values()]
    assert drop_tolerance_limit(DROPS).limit > tolerance_limit(means).limit


@pytest.mark.parametrize(("ratio", "lowest"), [(0.0, 0.94), (1.0, 0.925), (3.0, 0.925)])
def test_confidence_is_reached_for_unequal_drops(ratio, lowest):
    # independent: 500 batches of 5 coupons with 3 to 8 drops (numpy, seed 4), coupon spread `ratio` times drop spread;
    # the lowest allowed share is 0.95 less 2.5 standard errors of 1 %; wider than needed where coupons hardly differ
    rng, sizes = np.random.default_rng(4), (3, 8, 5, 4, 6)
    truth = stats.norm.ppf(0.9) * math.hypot(ratio, 1)
    held = 0
    for _ in range(500):
        data = {str(i): ratio * rng.normal() + rng.normal(size=size) for i, size in enumerate(sizes)}
        held += drop_tolerance_limit(data, 0.90, 0.95).limit >= truth
    assert held / 500 >= lowest


def test_limits_mirror_scale_and_ignore_order():
    upper = drop_tolerance_limit(DROPS)
    turned = {key: [-10 * value for value in DROPS[key][::-1]] for key in sorted(DROPS, reverse=True)}
    assert_allclose(drop_tolerance_limit(turned, side="lower").limit, -10 * upper.limit, rtol=1e-9)


@pytest.mark.parametrize(
    "data", [{"A": [0.1, 0.1], "B": [0.1, 0.1]}, {"A": [1.0, 3.0], "B": [1.0, 3.0]}, {"A": [1.0, 3.0], "B": [2.0]}]
)
def test_equal_and_few_drops_still_have_a_finite_limit(data):
    found = drop_tolerance_limit(data, 0.9, 0.9)
    assert math.isfinite(found.limit)
    assert found.limit >= found.mean


def test_coupons_without_any_difference():
    # hand: 2 within squares of 2 each, halved (1 − 1/2), χ² quantile of 2 degrees of freedom at 10 %: −2·ln 0.9
    found = drop_tolerance_limit({"A": [1.0, 3.0], "B": [1.0, 3.0]}, 0.9, 0.9)
    assert_allclose(found.limit - 2, stats.norm.ppf(0.9) * math.sqrt(2 / (-2 * math.log(0.9))), rtol=1e-9)


def test_a_factor_for_one_drop_each_counts_coupons():
    found = drop_tolerance_limit({"A": [1.0], "B": [2.0], "C": [4.0], "D": []})
    assert (found.n_coupons, found.n_drops) == (3, 3)
    factor = tolerance_factor_one_sided(3, 0.90, 0.95)
    assert_allclose(found.limit, found.mean + factor * found.drop_sd, rtol=1e-8)


@pytest.mark.parametrize(
    "call",
    [
        lambda: drop_tolerance_limit({}),
        lambda: drop_tolerance_limit({"A": [1.0, 2.0]}),
        lambda: drop_tolerance_limit({"A": [1.0], "B": [math.nan]}),
        lambda: drop_tolerance_limit({"A": [1.0], "B": [2.0]}, side="both"),
        lambda: drop_tolerance_limit({"A": [1.0], "B": [2.0]}, coverage=1.0),
    ],
)
def test_out_of_range_is_refused(call):
    with pytest.raises(ValueError):
        call()
