"""Capability from readings: shapes that are not normal, natural limits, batches."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.capability import capability, fitted_percentiles, percentile_indices, share_outside
from analysis.statistics.capability_indices import smaller_index


def test_skewed_characteristic():
    # independent: lognormal μ 0, σ 0.5, upper limit 5: percentile form 1.148868, normal theory would claim 2.134376
    shape = stats.lognorm(0.5)
    low, median, high = shape.ppf([stats.norm.cdf(-3), 0.5, stats.norm.cdf(3)])
    found = percentile_indices(low, median, high, upper=5)
    assert_allclose(found.k, 1.148868, atol=5e-7)
    assert (found.p, found.lower) == (None, None)
    assert_allclose(smaller_index(shape.mean(), shape.std(), upper=5), 2.134376, atol=5e-7)
    # the true share above 5 is 6.43e-4; normal theory makes less than 1e-9 of it
    assert share_outside(shape.mean(), shape.std(), upper=5) < 1e-9 < 6e-4 < shape.sf(5)


def test_percentiles_of_normal_readings_give_the_ordinary_indices():
    # limit: X0.135 and X99.865 are mean ∓ 3σ
    found = percentile_indices(16 - 6, 16, 16 + 6, 8, 20)
    assert_allclose((found.p, found.upper, found.lower, found.k), (1.0, 2 / 3, 4 / 3, 2 / 3))


def test_fitted_percentiles():
    values = [1.2, 1.9, 2.2, 3.1, 0.8, 1.4]
    logs = np.log(values)
    found = fitted_percentiles(values, "lognormal")
    assert_allclose(found.high, math.exp(logs.mean() + 3 * logs.std(ddof=1)))  # hand
    assert_allclose(fitted_percentiles(values).median, np.mean(values))
    weibull = fitted_percentiles(stats.weibull_min(2, scale=3).ppf((np.arange(2000) + 0.5) / 2000), "weibull")
    # limit: evenly spaced quantiles of a known Weibull give its own percentiles back
    assert_allclose(weibull.median, 3 * math.log(2) ** 0.5, rtol=2e-3)
    assert_allclose(weibull.high, 3 * (-math.log(0.00135)) ** 0.5, rtol=5e-3)
    counted = fitted_percentiles(np.arange(10001.0), "none")
    assert_allclose((counted.low, counted.median, counted.high), (13.5, 5000, 9986.5), atol=1)


@pytest.mark.parametrize(
    ("values", "shape", "words"),
    [
        ([1.0, 2.0], "round", "shape must be one of"),
        ([1.0, 1.0], "normal", "no spread"),
        ([1.0], "normal", "no spread"),
        ([0.0, 1.0], "lognormal", "above 0"),
        ([-1.0, 1.0], "weibull", "above 0"),
        (range(740), "none", "fewer than 741"),
        ([1.0, math.nan], "normal", "NaN"),
    ],
)
def test_readings_without_a_shape_are_refused(values, shape, words):
    with pytest.raises(ValueError, match=words):
        fitted_percentiles(values, shape)


def test_share_outside():
    assert_allclose(share_outside(0, 1, -3, 3), 0.002699796, rtol=1e-6)  # published: normal table
    assert_allclose(share_outside([0, math.nan], 1, upper=0), [0.5, math.nan])
    assert share_outside(0, 1) == 0


def test_batches_within_and_overall():
    batches = [[1.0, 1.2, 1.1], [2.0, 2.1], [3.0, 3.3, 3.2, 3.1]]
    found = capability(batches, lower=-1, upper=6)
    every = np.concatenate(batches)
    inside = math.sqrt((0.02 + 0.005 + 0.05) / 6)  # hand: squares about the means of the batches
    assert_allclose((found.sd_within, found.sd_overall), (inside, every.std(ddof=1)))
    assert_allclose((found.cp, found.pp), (7 / (6 * inside), 7 / (6 * found.sd_overall)))
    assert_allclose(found.cpk, min(found.cpl, found.cpu))
    assert found.cpk > found.ppk  # batches that differ
    assert found.ppk_interval.method == "normal approximation"
    assert found.n == 9


def test_single_values_take_the_moving_range():
    values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    found = capability(values, upper=60)
    assert_allclose(found.sd_within, 1.8778 / 1.12838, rtol=3e-5)  # published: e-Handbook 6.3.2.2
    assert found.ppk_interval.method == "noncentral t"
    assert (found.cp, found.cpl, found.pp, found.pp_interval) == (None, None, None, None)


def test_a_natural_limit_is_left_out_and_said():
    found = capability([2.1, 2.4, 1.9, 2.2, 2.0], lower=0, upper=5, natural_lower=0, natural_upper=180)
    assert found.cp is found.pp is found.cpl is None
    assert "natural end" in found.note
    angle = capability([150.0, 152.0, 149.0], lower=140, upper=180, natural_lower=0, natural_upper=180)
    assert angle.pp is None
    assert "upper limit is the natural end" in angle.note


@pytest.mark.parametrize(
    ("values", "limits", "words"),
    [
        ([1.0], {"upper": 2}, "two readings"),
        ([], {"upper": 2}, "no values"),
        ([1.0, 1.0], {"upper": 2}, "without spread"),
        ([[1.0, 1.0], [2.0, 2.0]], {"upper": 3}, "without spread"),
        ([1.0, 2.0], {}, "needs a limit"),
        ([1.0, 2.0], {"lower": 0, "natural_lower": 0}, "needs a limit"),
        ([1.0, 2.0], {"lower": 3, "upper": 1}, "lower limit must be below"),
        ([1.0, math.nan], {"upper": 3}, "NaN"),
        ([1.0, 2.0], {"upper": math.nan}, "upper limit must be a finite number"),
        ([[[1.0, 2.0], [3.0, 4.0]]], {"upper": 9}, "one row of values"),
    ],
)
def test_what_has_no_capability_is_refused(values, limits, words):
    with pytest.raises(ValueError, match=words):
        capability(values, **limits)


@pytest.mark.parametrize(("low", "median", "high"), [(1, 1, 2), (1, 3, 2), (2, 1, 3)])
def test_percentiles_must_ascend(low, median, high):
    with pytest.raises(ValueError, match="ascending"):
        percentile_indices(low, median, high, upper=5)
    with pytest.raises(ValueError, match="needs a limit"):
        percentile_indices(0, 1, 2)
    with pytest.raises(ValueError, match="lower limit must be below"):
        percentile_indices(0, 1, 2, 5, 4)


def test_share_outside_needs_limits_in_order():
    with pytest.raises(ValueError, match="lower limit must be below the upper limit, not 3 against -3"):
        share_outside(0.0, 1.0, 3.0, -3.0)


def test_three_readings_far_from_their_limit_have_an_interval():
    found = capability([1.0, 2.0, 3.0], upper=9.0)
    assert_allclose(found.ppk, 7 / 3, rtol=1e-12)
    t = math.sqrt(3) * 7  # hand: (9 − 2)/(1/√3); both limits are noncentralities of t with 2 degrees of freedom
    ends = [stats.nct.cdf(t, 2, 3 * math.sqrt(3) * end) for end in (found.ppk_interval.low, found.ppk_interval.high)]
    assert_allclose(ends, [0.975, 0.025], atol=1e-9)  # independent: scipy 1.17


@pytest.mark.parametrize("apart", [0.5, 1e-3, 1e-9])
def test_weibull_of_two_readings(apart):
    # hand: ln x = ±a about their middle; the likelihood is largest at k·a·tanh(k·a) = 1, k·a = 1.1996786403
    ka = 1.199678640257734
    found = fitted_percentiles([math.exp(-apart), math.exp(apart)], "weibull")
    k, log_scale = ka / apart, math.log(math.cosh(ka)) / (ka / apart)
    # two readings 1e-9 apart leave their logarithm nine digits
    assert_allclose(math.log(found.median) / apart, (log_scale + math.log(math.log(2)) / k) / apart, atol=1e-6)
    assert_allclose(math.log(found.high) / apart, (log_scale + math.log(-math.log(0.00135)) / k) / apart, atol=1e-6)


def test_weibull_lies_no_lower_than_the_search_of_scipy():
    values = np.array([12.0, 19.0, 7.0, 15.0, 11.0, 16.0, 9.0, 14.0])
    found, (shape, _, scale) = fitted_percentiles(values, "weibull"), stats.weibull_min.fit(values, floc=0)
    k = math.log(math.log(2) / -math.log(0.00135)) / math.log(found.median / found.high)
    own = stats.weibull_min.logpdf(values, k, scale=found.median / math.log(2) ** (1 / k)).sum()
    assert own >= stats.weibull_min.logpdf(values, shape, scale=scale).sum()  # independent: scipy 1.17
    assert_allclose(k, shape, rtol=1e-3)


def test_percentiles_beyond_a_double_are_refused():
    with pytest.raises(ValueError, match="leave the range of a double"):
        fitted_percentiles([1e-300, 1e300], "lognormal")
    assert_allclose(fitted_percentiles([1e300, -1e300]).high, 3 * math.sqrt(2) * 1e300, rtol=1e-12)
