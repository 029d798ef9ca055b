"""Censored readings against published examples, exact bounds and independent optimisation."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize, stats

from analysis.statistics.censoring import (
    censored_lognormal_fit,
    censored_normal_fit,
    median_with_censoring,
    proportion_lower_bound,
    proportion_upper_bound,
)
from tests.analysis.tables import table

# invented sliding angles: seven that moved, three that had not by 90° (numbers computed apart, scipy 1.17)
SLIDING = [12, 18, 25, 31, 44, 57, 73, 90, 90, 90]
STAYED = [value == 90 for value in SLIDING]
# invented demo data, batch D-B coupon 3: two of five drops not moved by 30°
COUPON_3 = [30, 30, 11.8, 18.8, 9.4]
COUPON_3_STAYED = [True, True, False, False, False]


@pytest.mark.parametrize(
    ("count", "total", "bound", "digits"),
    [
        (0, 10, 0.258866, 6),  # hand: 1 − 0.05^(1/10)
        (0, 30, 0.0950, 4),  # hand: 1 − 0.05^(1/30)
        (0, 60, 0.0487, 4),  # hand: 1 − 0.05^(1/60)
        (5, 5, 1.0, 12),  # limit
    ],
)
def test_upper_bound_of_a_count(count, total, bound, digits):
    assert round(proportion_upper_bound(count, total), digits) == bound


def test_bounds_solve_the_binomial_tail():
    # limit: at the exact upper bound, seeing 3 or fewer of 30 has probability 5 %, and so for the lower bound
    assert_allclose(stats.binom.cdf(3, 30, proportion_upper_bound(3, 30)), 0.05, rtol=1e-9)
    assert_allclose(stats.binom.sf(2, 30, proportion_lower_bound(3, 30)), 0.05, rtol=1e-9)


def test_two_sided_bounds_of_three_of_ten():
    # independent: exact 95 % interval 0.066740 to 0.652453 (scipy binomtest, read off a one-sided 97.5 %)
    limits = proportion_lower_bound(3, 10, 0.975), proportion_upper_bound(3, 10, 0.975)
    assert_allclose(limits, (0.066740, 0.652453), atol=5e-7)


@pytest.mark.parametrize(("count", "total"), [(0, 0), (4, 3), (-1, 3)])
def test_bound_refuses_an_impossible_count(count, total):
    with pytest.raises(ValueError, match="count of drops"):
        proportion_upper_bound(count, total)


def test_median_keeps_drops_that_did_not_move():
    # hand: 9.4, 11.8, 18.8, beyond, beyond; deleting the two would give 11.8
    assert median_with_censoring(COUPON_3, COUPON_3_STAYED) == 18.8


def test_median_lies_beyond_the_stage_limit_when_most_drops_stayed():
    assert median_with_censoring([30, 30, 11.8, 30, 9.4], [True, True, False, True, False]) == math.inf
    assert median_with_censoring([30, 9.4], [True, False]) == math.inf  # even: the mean with infinity
    assert median_with_censoring([30], [True]) == math.inf


def test_drops_that_moved_on_placing_rank_below_all():
    # hand: 0, 0, 2.0 | 3.0 | with one not moved: order 0, 0, 2.0, 3.0, beyond
    on_placing = [True, False, True, False, False]
    stayed = [False, False, False, False, True]
    assert median_with_censoring([0, 2.0, 0, 3.0, 30], stayed, on_placing) == 2.0


def test_median_without_censoring_is_the_usual_one():
    values = [3.5, 5.7, 4.0, 4.5]
    assert median_with_censoring(values) == np.median(values)  # independent: numpy


def test_median_is_not_given_when_a_limit_lies_below_it():
    # a drop stopped at 10° may rank anywhere among 20°, 25° and 30°
    assert median_with_censoring([10, 20, 25, 30], [True, False, False, False]) is None


@pytest.mark.parametrize(
    ("values", "not_moved"), [([], None), ([1.0, math.nan], None), ([1.0, 2.0], [True]), ([math.inf], [True])]
)
def test_median_refuses_nothing_nan_and_lost_marks(values, not_moved):
    with pytest.raises(ValueError):
        median_with_censoring(values, not_moved)


def test_a_drop_cannot_both_stay_and_move():
    with pytest.raises(ValueError, match="both"):
        median_with_censoring([1.0, 2.0], [True, False], [True, False])


def test_normal_fit_with_three_drops_not_moved():
    # independent: likelihood and profile computed apart (scipy 1.17); wrong answers are 53.0 (90 put in) and
    # 37.14 (the three deleted)
    fit = censored_normal_fit(SLIDING, STAYED)
    assert_allclose((fit.mu, fit.sigma), (60.0163, 40.3096), atol=5e-5)
    assert_allclose((fit.low, fit.high), (32.362, 95.589), atol=5e-4)
    assert_allclose(fit.log_likelihood, -38.760208, atol=5e-7)
    assert (fit.n, fit.n_measured, fit.note) == (10, 7, "")


def test_normal_fit_agrees_with_the_fit_of_scipy():
    moved = [value for value, stays in zip(SLIDING, STAYED, strict=True) if not stays]
    mu, sigma = stats.norm.fit(stats.CensoredData(uncensored=moved, right=[90, 90, 90]))
    fit = censored_normal_fit(SLIDING, STAYED)
    assert_allclose((fit.mu, fit.sigma), (mu, sigma), rtol=1e-3)  # independent: scipy.stats.norm.fit


def test_motorette_group_at_170_degrees():
    # data published (Nelson & Hahn 1972); fit independent: own profile likelihood, scipy 1.17
    data = table("motorette_170c")
    fit = censored_normal_fit(np.log10(data["hours"]), data["censored"] == 1)
    assert_allclose((fit.mu, fit.sigma), (3.635452, 0.202748), atol=5e-7)
    assert_allclose((fit.low, fit.high), (3.496418, 3.814090), atol=5e-7)


def test_lognormal_fit_is_the_normal_fit_of_the_logarithm():
    data = table("motorette_170c")
    fit = censored_lognormal_fit(data["hours"], data["censored"] == 1)
    assert_allclose(fit.mu / math.log(10), 3.635452, atol=5e-7)  # as above, natural logarithm
    measured = data["hours"][data["censored"] == 0]
    # independent: scipy.stats.lognorm at the same point
    frozen = stats.lognorm(fit.sigma, scale=math.exp(fit.mu))
    expected = frozen.logpdf(measured).sum() + 3 * frozen.logsf(5448)
    assert_allclose(fit.log_likelihood, expected, rtol=1e-12)


def test_fit_without_censoring_is_mean_and_standard_deviation():
    values = [3.5, 5.7, 4.0, 4.5, 3.7]
    fit = censored_normal_fit(values)
    assert_allclose((fit.mu, fit.sigma), (np.mean(values), np.std(values)), rtol=1e-7)  # limit
    # hand: profile of a complete sample: n·ln(1 + ((m − mean)/sd)²) = chi-square quantile
    half = fit.sigma * math.sqrt(math.expm1(stats.chi2.ppf(0.95, 1) / 5))
    assert_allclose((fit.low, fit.high), (fit.mu - half, fit.mu + half), rtol=1e-7)


def test_left_censored_readings_enter_from_below():
    values, on_placing = [0.0, 0.0, 1.5, 2.0, 3.5, 4.0], [True, True, False, False, False, False]

    def loss(point):
        mu, sigma = point[0], math.exp(point[1])
        measured = stats.norm.logpdf(values[2:], mu, sigma).sum()
        return -(measured + 2 * stats.norm.logcdf(0, mu, sigma))

    best = optimize.minimize(loss, [2, 0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12}).x
    fit = censored_normal_fit(values, moved_on_placing=on_placing)
    assert_allclose((fit.mu, fit.sigma), (best[0], math.exp(best[1])), rtol=1e-6)  # independent: scipy


def test_fit_scales_and_ignores_order():
    fit, order = censored_normal_fit(SLIDING, STAYED), [9, 3, 0, 7, 1, 8, 2, 6, 4, 5]
    again = censored_normal_fit([1000 * SLIDING[i] for i in order], [STAYED[i] for i in order])
    assert_allclose((again.mu, again.low, again.high), [1000 * x for x in (fit.mu, fit.low, fit.high)], rtol=1e-6)


@pytest.mark.parametrize(
    ("values", "not_moved", "words"),
    [
        ([30, 30, 11.8, 9.4], [True, True, False, False], "2 of 4 readings measured"),
        ([30], [True], "0 of 1 readings measured"),
        ([5, 5, 5, 30], [False, False, False, True], "equal"),
    ],
)
def test_fit_says_why_it_is_not_given(values, not_moved, words):
    fit = censored_normal_fit(values, not_moved)
    assert not fit.is_fitted
    assert (fit.mu, fit.sigma, fit.low, fit.high) == (None,) * 4
    assert words in fit.note


def test_fit_refuses_nan():
    with pytest.raises(ValueError, match="NaN"):
        censored_normal_fit([1.0, math.nan, 2.0])


def test_a_reading_above_the_limit_of_a_stopped_drop_leaves_the_median_open():
    # hand: the drop stopped at 30° may have moved anywhere above it, so the middle of 10, 40, >30 is unknown
    assert median_with_censoring([10, 40, 30], [False, False, True]) is None
