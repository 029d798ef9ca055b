"""Drift against certified regressions and published trend tests."""

import math
from itertools import permutations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from analysis.statistics.drift import drift, rank_trend, sen_slope
from analysis.statistics.regression import linear_fit
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
    assert_allclose(found.slope / found.slope_standard_error, 0.0216, atol=5e-5)
    line = linear_fit(np.arange(1, 201), table("strd_lew")["deflection"])
    assert_allclose((line.coefficients[0], line.standard_errors[0]), (-178.175276, 39.4675), rtol=2e-6)
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


def test_published_slope_of_sulfate_is_per_year():
    # published: USEPA Unified Guidance example 17-6 as printed by EnvStats: slope, intercept, interval and both τ
    data = table("epa_sulfate")
    found = sen_slope(data["sulfate"], data["year"])
    assert_allclose((found.slope, found.intercept), (26.666667, -1909.333333), rtol=5e-8)
    assert_allclose((found.low, found.high), (20.0, 35.71182), rtol=5e-7)
    trend = rank_trend(data["sulfate"])
    assert_allclose((trend.tau_a, trend.tau_b), (0.7667984, 0.7744897), rtol=5e-7)
    assert_allclose(sen_slope(data["sulfate"]).slope, 9.444444, rtol=5e-7)  # independent: pymannkendall, per index
    # traps: scipy 1.17 rounds the ranks of the limits, and its p has no correction for continuity
    assert_allclose(stats.theilslopes(data["sulfate"], data["year"]).high_slope, 35.849057, rtol=5e-8)
    assert_allclose(stats.kendalltau(data["year"], data["sulfate"]).pvalue, 2.840e-7, rtol=5e-4)


def test_small_published_slope():
    # published: Hollander & Wolfe; slope −0.05625, τ −0.6
    found = sen_slope([1.26, 1.27, 1.12, 1.16, 1.03])
    assert_allclose(found.slope, -0.05625, rtol=1e-12)
    assert_allclose(rank_trend([1.26, 1.27, 1.12, 1.16, 1.03]).tau_a, -0.6, rtol=1e-12)
    assert_allclose(rank_trend([10, 15, 14, 20]).tau_a, 0.6667, atol=5e-5)


def test_slope_needs_no_order_of_the_list_and_keeps_units():
    data = table("epa_sulfate")
    straight = sen_slope(data["sulfate"], data["year"])
    mixed = np.random.default_rng(5).permutation(len(data))
    again = sen_slope(data["sulfate"].to_numpy()[mixed], 365.25 * data["year"].to_numpy()[mixed])
    assert_allclose(
        np.array((again.slope, again.low, again.high)) * 365.25, (straight.slope, straight.low, straight.high)
    )


def test_tau_b_agrees_with_scipy_where_values_are_tied():
    values = [3, 3, 1, 4, 4, 4, 5, 2, 6]
    assert_allclose(rank_trend(values).tau_b, stats.kendalltau(range(9), values).statistic, rtol=1e-12)


def test_slope_passes_over_pairs_taken_at_the_same_time():
    found = sen_slope([1.0, 9.0, 3.0, 5.0], [0, 0, 1, 2])
    # hand: pairs (1,3) 2, (1,5) 2, (9,3) −6, (9,5) −2, (3,5) 2; median 2
    assert (found.slope, found.n_pairs) == (2, 5)


def test_few_readings_give_a_slope_without_limits():
    found = sen_slope([1.0, 2.0, 4.0])
    assert (found.slope, found.low, found.high) == (1.5, None, None)  # hand: slopes 1, 2, 1.5
    assert sen_slope([2.0, 2.0]).slope == 0


@pytest.mark.parametrize(
    ("values", "times"), [([1.0], None), ([1, 2], [3, 3]), ([1, 2], [1, 2, 3]), ([1, math.nan], None), ([], None)]
)
def test_slope_refuses_what_has_none(values, times):
    with pytest.raises(ValueError):
        sen_slope(values, times)


def test_readings_of_one_moment_form_no_pair():
    times, values = [1, 1, 2, 2, 3, 4, 4, 4], [3.0, 1.0, 2.0, 2.0, 5.0, 4.0, 6.0, 5.0]
    found = rank_trend(values, times)
    pairs = [(values[j] - values[i]) * (times[j] - times[i]) for i in range(8) for j in range(i)]
    assert found.s == sum(np.sign(pairs))  # hand: the definition
    expected = stats.kendalltau(times, values)  # independent: scipy 1.17, τ_b, and z without continuity correction
    assert_allclose(found.tau_b, expected.statistic, rtol=1e-12)
    assert_allclose(found.s / math.sqrt(found.variance), stats.norm.isf(expected.pvalue / 2), rtol=1e-9)


def test_exact_trend_with_tied_times_counts_every_order():
    times, values = [1, 1, 2, 2, 3], [1.0, 2.0, 3.0, 4.0, 5.0]

    def size(order):
        return abs(sum(np.sign((order[j] - order[i]) * (times[j] - times[i])) for i in range(5) for j in range(i)))

    every = [size(order) for order in permutations(values)]  # hand: all 120 orders
    found = rank_trend(values, times)
    assert_allclose(found.p, np.mean(np.array(every) >= size(values)), rtol=1e-12)
    assert drift(values, times).trend == found


def test_four_steady_readings_could_never_show_a_trend():
    found = drift([3.0, 3.1, 2.9, 3.0])
    assert found.outcome == CANNOT_TELL
    assert "not even a perfect trend" in found.why
    assert drift([3.0, 3.1, 2.9, 3.0], alpha=0.1).outcome == HOLDS  # 2/4! = 0.083


def test_an_order_without_any_difference_is_refused_whatever_the_readings():
    for values in ([1.0, 2.0, 3.0, 4.0], [2.0] * 4):
        with pytest.raises(ValueError, match="order must differ between readings, all are 7"):
            drift(values, [7] * 4)


@pytest.mark.parametrize("function", [drift, rank_trend, sen_slope])
def test_a_table_is_no_run(function):
    with pytest.raises(ValueError, match="one row of values"):
        function([[1.0, 2.0], [3.0, 5.0], [1.0, 2.0], [3.0, 5.0]])


def test_slope_of_huge_readings():
    values = [1.0, 3.0, 2.0, 5.0, 4.0]
    assert_allclose(drift([1e300 * value for value in values]).slope_p, drift(values).slope_p, rtol=1e-12)
