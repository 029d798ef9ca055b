"""Drift against certified regressions and published trend tests."""

import math
from itertools import permutations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from analysis.statistics.drift import drift, rank_trend
from tests.analysis.tables import table


def test_certified_slope():
    data = table("strd_norris")
    found = drift(data["y"], data["x"])
    assert_allclose(found.slope, 1.00211681802045, rtol=1e-12)  # published: StRD Norris
    assert_allclose(found.slope_standard_error, 0.429796848199937e-03, rtol=1e-9)  # published: StRD Norris
    assert found.outcome == DOES_NOT_HOLD


def test_beam_deflections_swing_but_do_not_drift():
    # published data (StRD Lew); slope, its error, S and z computed apart (scipy 1.17, pymannkendall 1.4.3)
    found = drift(table("strd_lew")["deflection"])
    assert_allclose((found.slope, found.slope_standard_error), (0.00736593, 0.340522), rtol=5e-6)
    assert found.trend.s == 43
    assert_allclose(found.trend.z, 0.0444, atol=5e-5)
    assert found.outcome == HOLDS


def test_published_trend_of_sulfate():
    # published: USEPA Unified Guidance example 17-6 as printed by EnvStats: S 194, z 5.107322, p 3.267574e-7
    found = rank_trend(table("epa_sulfate")["sulfate"])
    assert (found.s, found.variance, found.is_exact) == (194, 1428, False)
    assert_allclose((found.z, found.p), (5.107322, 3.267574e-7), rtol=5e-7)


def test_small_exact_trend():
    # published: Hollander & Wolfe; S −6, exact two-sided p 0.233333
    found = rank_trend([1.26, 1.27, 1.12, 1.16, 1.03])
    assert (found.s, found.is_exact) == (-6, True)
    assert_allclose(found.p, 0.233333, atol=5e-7)


def test_trend_of_four_readings():
    # published: 10, 15, 14, 20 has S 4 and variance 8.6667; hand: 4 of 24 orders reach S ≥ 4, so p = 8/24
    found = rank_trend([10, 15, 14, 20])
    assert found.s == 4
    assert_allclose((found.variance, found.p), (26 / 3, 1 / 3), rtol=1e-12)


def test_exact_trend_with_ties_counts_every_order():
    values = np.array([3.0, 3.1, 3.1, 3.4, 3.4])

    def size(order):
        return abs(sum(np.sign(b - a) for i, a in enumerate(order) for b in order[i + 1 :]))

    every = [size(order) for order in permutations(values)]  # hand: all 120 orders
    assert_allclose(rank_trend(values).p, np.mean(np.array(every) >= size(values)), rtol=1e-12)


def test_exact_trend_without_ties_agrees_with_kendall():
    values = [2.1, 1.9, 2.4, 2.6, 2.5, 3.0, 2.8, 3.1, 2.9]
    expected = stats.kendalltau(range(9), values, method="exact").pvalue  # independent: scipy
    assert_allclose(rank_trend(values).p, expected, rtol=1e-12)


def test_rising_drops_drift():
    found = drift([3.0, 3.4, 3.9, 4.5, 4.9])
    expected = stats.linregress(range(1, 6), [3.0, 3.4, 3.9, 4.5, 4.9])  # independent: scipy
    assert found.outcome == DOES_NOT_HOLD
    assert_allclose((found.slope, found.slope_p), (expected.slope, expected.pvalue), rtol=1e-12)
    half = stats.t.ppf(0.975, 3) * expected.stderr
    assert_allclose((found.low, found.high), (found.slope - half, found.slope + half), rtol=1e-12)


def test_tests_that_disagree_cannot_tell():
    # four readings: no order has an exact two-sided p below 2/24, however steep the slope
    found = drift([1.0, 2.0, 3.0, 4.1])
    assert found.slope_p < 0.05 < found.trend.p
    assert found.outcome == CANNOT_TELL


@pytest.mark.parametrize("values", [[1.0], [1.0, 2.0], [1.0, 2.0, 3.0]])
def test_fewer_than_four_readings_cannot_tell(values):
    found = drift(values)
    assert found.outcome == CANNOT_TELL
    assert (found.slope, found.trend) == (None, None)
    assert "fewer than 4" in found.why


def test_equal_readings_do_not_drift():
    found = drift([5.0] * 5)
    assert (found.outcome, found.slope, found.slope_p, found.trend.p) == (HOLDS, 0, 1, 1)


def test_given_order_is_used_whatever_the_order_of_the_readings():
    values, order = [3.0, 3.4, 3.9, 4.5, 4.9], [1, 2, 3, 4, 5]
    mixed = [2, 0, 4, 1, 3]
    again = drift([values[i] for i in mixed], [order[i] for i in mixed])
    assert_allclose(again.slope, drift(values).slope, rtol=1e-12)
    assert again.trend.s == drift(values).trend.s


@pytest.mark.parametrize(
    ("values", "order"),
    [([], None), ([1.0, 2.0, 3.0, math.nan], None), ([1, 2, 3, 4], [1, 2]), ([1, 2, 3, 4], [1, 1, 1, 1])],
)
def test_drift_refuses_nan_and_an_order_that_is_none(values, order):
    with pytest.raises(ValueError):
        drift(values, order)
