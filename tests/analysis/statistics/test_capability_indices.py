"""Capability indices and their intervals against handbook and textbook examples."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.capability_indices import (
    off_centre,
    one_sided_index,
    one_sided_index_interval,
    smaller_index,
    smaller_index_interval,
    two_sided_index,
    two_sided_index_interval,
)


def test_handbook_example():
    # published: e-Handbook 6.1.6: limits 8 and 20, mean 16, s 2
    assert two_sided_index(2, 8, 20) == 1.0
    assert_allclose(one_sided_index(16, 2, 20, "upper"), 0.6667, atol=5e-5)
    assert_allclose(one_sided_index(16, 2, 8, "lower"), 1.3333, atol=5e-5)
    assert_allclose(smaller_index(16, 2, 8, 20), 0.6667, atol=5e-5)
    assert_allclose(off_centre(16, 8, 20), 0.3333, atol=5e-5)


def test_textbook_example():
    # published: Montgomery: limits 38 and 62, s 1.75
    assert_allclose(two_sided_index(1.75, 38, 62), 2.2857, atol=5e-5)


@pytest.mark.parametrize(
    ("function", "index", "n", "confidence", "low", "high"),
    [
        (two_sided_index_interval, 1.0, 50, 0.95, 0.8025, 1.1971),  # independent: computed apart, data of 6.1.6
        (smaller_index_interval, 2 / 3, 50, 0.95, 0.5056, 0.8278),
        (two_sided_index_interval, 24 / 10.5, 20, 0.95, 1.5649, 3.0056),  # independent: data of Montgomery
        (smaller_index_interval, 1.33, 20, 0.95, 0.8826, 1.7774),
        (one_sided_index_interval, 1.33, 20, 0.95, 0.8839, 1.7719),
        (one_sided_index_interval, 1.33, 20, 0.90, 0.9487, 1.6949),  # low: the 95 % lower bound
    ],
)
def test_interval(function, index, n, confidence, low, high):
    found = function(index, n, confidence)
    assert_allclose((found.low, found.high), (low, high), atol=5.1e-5)


@pytest.mark.parametrize("index", [-1.0, 0.0, 0.3, 2.5, 8.0])
@pytest.mark.parametrize("n", [2, 6, 40, 500])
def test_exact_interval_is_a_round_trip(index, n):
    # limit: at the limits of the index the noncentral t distribution has the tails asked for (scipy.stats.nct)
    found = one_sided_index_interval(index, n, 0.9)
    t, root = 3 * math.sqrt(n) * index, 3 * math.sqrt(n)
    assert_allclose(stats.nct.sf(t, n - 1, root * found.low), 0.05, rtol=1e-6)
    assert_allclose(stats.nct.cdf(t, n - 1, root * found.high), 0.05, rtol=1e-6)


def test_exact_interval_covers():
    # limit: simulated normal readings, true one-sided index 1; 1000 intervals at 90 % cover it within 3 errors
    rng = np.random.default_rng(9)
    readings = rng.normal(0, 1, size=(1000, 8))
    index = one_sided_index(readings.mean(axis=1), readings.std(axis=1, ddof=1), 3.0, "upper")
    found = one_sided_index_interval(index, 8, 0.90)
    assert abs(np.mean((found.low < 1) & (found.high > 1)) - 0.90) < 3 * math.sqrt(0.9 * 0.1 / 1000)


@pytest.mark.parametrize(
    ("lower", "upper", "natural"),
    [(0, 5, {"natural_lower": 0}), (-1, 5, {"natural_lower": 0}), (150, 180, {"natural_upper": 180})],
)
def test_no_two_sided_index_against_a_natural_limit(lower, upper, natural):
    with pytest.raises(ValueError, match="natural limit, no tolerance"):
        two_sided_index(0.5, lower, upper, **natural)


def test_limits_off_the_natural_ones_are_tolerances():
    assert two_sided_index(0.5, 1, 4, natural_lower=0) == 1.0


def test_arrays_keep_shape_and_nan():
    found = smaller_index([[1.0, math.nan]], 0.5, None, [[4.0], [2.5]])
    assert_allclose(found, [[2.0, math.nan], [1.0, math.nan]])
    interval = two_sided_index_interval([1.0, math.nan], 10)
    assert np.isnan(interval.low).tolist() == [False, True]
    assert np.isnan(one_sided_index_interval([1.0, math.nan], 10).high).tolist() == [False, True]
    assert type(one_sided_index_interval(1.0, 10).low) is float
    assert type(smaller_index(1, 1, 0)) is float


def test_a_mean_beyond_the_limit_has_a_negative_index():
    assert one_sided_index(6.0, 1.0, 3.0, "upper") == -1.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: two_sided_index(0, 1, 2), "standard deviation must be above 0"),
        (lambda: two_sided_index(1, 2, 2), "lower limit must be below"),
        (lambda: one_sided_index(1, 1, 2, "left"), "side"),
        (lambda: smaller_index(1, 1), "needs a limit"),
        (lambda: smaller_index(1, 1, 3, 2), "lower limit must be below"),
        (lambda: two_sided_index_interval(0, 9), "index must be above 0"),
        (lambda: smaller_index_interval(1, 1), "number of readings must be at least 2"),
        (lambda: one_sided_index_interval(1, 9, 1.0), "confidence"),
    ],
)
def test_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


@pytest.mark.parametrize(("index", "n"), [(2.3333333333333335, 3), (50.0, 2), (-17.3, 3), (1e6, 4), (1.33, 10**6)])
def test_exact_interval_far_out(index, n):
    """Indices as far out as three readings far from their limit give them."""
    found = one_sided_index_interval(index, n)
    assert found.low < index < found.high
    # limit: where the mean is known against the distance, the index scatters as 1/s does: C·√(χ²/(n−1))
    ratios = np.sqrt(stats.chi2.ppf([0.025, 0.975], n - 1) / (n - 1))
    if abs(index) > 1e5:
        assert_allclose((found.low, found.high), index * ratios, rtol=1e-9)


@pytest.mark.parametrize("n", [2, 5, 100])
def test_exact_interval_of_a_mean_on_the_limit(n):
    found = one_sided_index_interval([0.0, 1e-12], n)
    reach = stats.norm.ppf(0.975) / (3 * math.sqrt(n))  # hand: t = 0 leaves Φ(−3√n·C) alone
    assert_allclose((found.low[0], found.high[0]), (-reach, reach), rtol=1e-9)
    assert_allclose(found.high[1], reach, rtol=1e-6)


@pytest.mark.parametrize(("index", "n"), [(0.8, 2), (-0.4, 7), (1.33, 20), (3.0, 60), (0.05, 400)])
@pytest.mark.parametrize("confidence", [0.8, 0.99])
def test_exact_interval_agrees_with_scipy(index, n, confidence):
    found, root = one_sided_index_interval(index, n, confidence), 3 * math.sqrt(n)
    tails = [stats.nct.sf(root * index, n - 1, root * found.low), stats.nct.cdf(root * index, n - 1, root * found.high)]
    assert_allclose(tails, (1 - confidence) / 2, rtol=1e-8)  # independent: scipy 1.17, noncentral t of Boost
