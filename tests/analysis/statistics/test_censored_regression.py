"""Fits to partly censored readings against published examples and independent libraries."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import optimize, stats

from analysis.statistics.censored_regression import censored_bounds, censored_fit
from analysis.statistics.censoring import censored_lognormal_fit, censored_normal_fit
from tests.analysis.tables import table

SLIDING = [12, 18, 25, 31, 44, 57, 73, 90, 90, 90]  # invented angles, three "> 90"
STAYED = [value == 90 for value in SLIDING]


def bounds(frame, column):
    return censored_bounds(frame[column], frame["censored"] == 1)


def test_weibull_lifetimes_stopped_at_a_time():
    fit = censored_fit(*bounds(table("weibull_lifetimes"), "hours"), "weibull")
    # published in the handbook (8.4.1.3, read in a public copy): scale 606.5280, shape 1.7208; its last digits
    # come from looser convergence, hence rtol
    assert_allclose(fit.scale.value, 606.5280, rtol=1e-6)
    assert_allclose(fit.shape.value, 1.7208, atol=5e-5)
    # independent: lifelines 0.30.3
    assert_allclose((fit.scale.value, fit.shape.value), (606.5275, 1.720797), rtol=3e-7)
    assert_allclose(fit.log_likelihood, -75.134618, atol=5e-7)
    errors = fit.coefficients[0].standard_error, fit.spread.standard_error / fit.spread.value
    assert_allclose(errors, (0.2059, 0.2918), atol=5e-5)  # of ln scale and ln shape
    assert_allclose(fit.shape.standard_error / fit.shape.value, 0.2918, atol=5e-5)


def test_weibull_lifetimes_stopped_at_a_failure():
    fit = censored_fit(*bounds(table("component_lifetimes"), "hours"), "weibull")
    assert_allclose((fit.scale.value, fit.shape.value), (2.273, 1.417), atol=5e-4)  # from memory: Lawless
    # independent: scipy 1.17, lifelines 0.30.3; u and b of the extreme value distribution
    assert_allclose((fit.scale.value, fit.shape.value), (2.2732, 1.4175), atol=5.1e-5)
    assert_allclose((fit.coefficients[0].value, fit.spread.value), (0.82117, 0.70549), atol=5e-6)
    assert_allclose(fit.log_likelihood, -17.633524, atol=5e-7)


def test_motorette_life_against_inverse_temperature():
    data = table("motorettes")
    ends = np.log10(bounds(data, "hours"))
    fit = censored_fit(*ends, covariates=1000 / (data["temperature_c"] + 273.2))
    intercept, slope = fit.coefficients
    # from memory (Schmee & Hahn 1979): −6.0195, 4.3113, 0.2592, iterated to fewer digits there
    assert_allclose((intercept.value, slope.value, fit.spread.value), (-6.0195, 4.3113, 0.2592), atol=3e-4)
    # independent: scipy 1.17 optimisation
    assert_allclose((intercept.value, slope.value), (-6.019250, 4.311247), atol=5e-7)
    assert_allclose((intercept.standard_error, slope.standard_error), (0.94679, 0.43667), atol=5e-6)
    assert_allclose(fit.spread.value, 0.259183, atol=5e-7)
    assert_allclose(fit.log_likelihood, -12.965455, atol=5e-7)


def test_motorette_life_as_weibull_on_temperature():
    data = table("motorettes")
    fit = censored_fit(*bounds(data, "hours"), "weibull", covariates=data["temperature_c"])
    intercept, slope = (estimate.value for estimate in fit.coefficients)
    # published: output of the R package MASS prints 16.31852, −0.04531, 0.334, −147.4
    assert (round(intercept, 5), round(slope, 5), round(fit.spread.value, 3)) == (16.31852, -0.04531, 0.334)
    assert_allclose(fit.log_likelihood, -147.4, atol=0.05)
    # independent: scipy 1.17
    assert_allclose((intercept, slope, fit.spread.value), (16.318519, -0.045307, 0.334325), atol=5e-7)
    assert_allclose(fit.log_likelihood, -147.3651, atol=5e-5)


def test_motorettes_at_170_degrees_have_their_profile_interval():
    fit = censored_fit(*np.log10(bounds(table("motorette_170c"), "hours")))
    assert_allclose((fit.coefficients[0].value, fit.spread.value), (3.635452, 0.202748), atol=5e-7)
    # independent: own profile likelihood with scipy 1.17
    assert_allclose((fit.coefficients[0].low, fit.coefficients[0].high), (3.496418, 3.814090), atol=5e-7)


def test_tobit_of_household_purchases():
    data = table("tobin")
    fit = censored_fit(
        np.where(data["durable"] == 0, -np.inf, data["durable"]),
        data["durable"],
        covariates=data[["age", "quant"]],
        at=data.loc[0, ["age", "quant"]].to_numpy(float),
    )
    # independent: scipy 1.17; the first fitted value is printed in the output of the R package survival
    estimates = [estimate.value for estimate in fit.coefficients]
    assert_allclose(estimates, (15.144866, -0.129059, -0.045542), atol=5e-7)
    assert_allclose((fit.spread.value, fit.log_likelihood), (5.572540, -28.940133), atol=5e-7)
    assert_allclose(fit.quantile.value, -3.04968679, atol=5e-9)


def test_remission_as_weibull_regression_and_as_exponential():
    data = table("remission_times")
    ends = bounds(data, "weeks")
    fit = censored_fit(*ends, "weibull", covariates=data["group"] == "control")
    # published: MASS prints 3.516, −1.267, 0.732, −106.6; independent to more digits: lifelines 0.30.3
    assert_allclose([e.value for e in fit.coefficients], (3.515687, -1.267335), atol=5e-7)
    assert_allclose([e.standard_error for e in fit.coefficients], (0.2518, 0.3106), atol=5e-5)
    assert_allclose(fit.spread.value, 0.732194, atol=5e-7)
    assert_allclose(fit.log_likelihood, -106.5795, atol=5e-5)
    for group, events, total in (("treated", 9, 359), ("control", 21, 182)):
        rows = (data["group"] == group).to_numpy()
        found = censored_fit(ends[0][rows], ends[1][rows], "exponential")
        assert_allclose(1 / found.scale.value, events / total, rtol=1e-12)  # hand: events over total time
        assert_allclose(found.coefficients[0].standard_error, 1 / math.sqrt(events), rtol=1e-9)  # hand
        assert found.spread is None


def test_sliding_angles_with_three_that_stayed():
    # independent: likelihood and profile computed apart with scipy 1.17
    fit = censored_fit(*censored_bounds(SLIDING, STAYED))
    assert_allclose((fit.quantile.value, fit.spread.value), (60.0163, 40.3096), atol=5e-5)
    assert_allclose((fit.quantile.low, fit.quantile.high), (32.362, 95.589), atol=5e-4)
    assert_allclose(fit.log_likelihood, -38.760208, atol=1e-6)  # the check value ends in …2080 or …2090


@pytest.mark.parametrize("distribution", ["normal", "lognormal"])
def test_the_short_functions_give_the_same(distribution):
    short = {"normal": censored_normal_fit, "lognormal": censored_lognormal_fit}[distribution](SLIDING, STAYED)
    fit = censored_fit(*censored_bounds(SLIDING, STAYED), distribution)
    mu = fit.coefficients[0]
    assert (short.mu, short.low, short.high, short.log_likelihood) == (mu.value, mu.low, mu.high, fit.log_likelihood)


@pytest.mark.parametrize("distribution", ["normal", "lognormal", "weibull", "exponential"])
def test_every_kind_of_censoring_agrees_with_a_direct_search(distribution):
    # independent: distribution functions and simplex search of scipy
    low = np.array([0.0, 1.0, 2.2, 3.1, 3.1, 4.4, 5.0, 6.0])
    high = np.array([1.0, 1.0, 2.2, 3.4, 3.1, 4.4, 9.0, math.inf])
    if distribution == "normal":
        low[0] = -math.inf

    def frozen(point):
        location, spread = point[0], math.exp(point[1])
        return {
            "normal": lambda: stats.norm(location, spread),
            "lognormal": lambda: stats.lognorm(spread, scale=math.exp(location)),
            "weibull": lambda: stats.weibull_min(1 / spread, scale=math.exp(location)),
            "exponential": lambda: stats.expon(scale=math.exp(location)),
        }[distribution]()

    def loss(point):
        law, exact = frozen(point), low == high
        between = law.cdf(high[~exact]) - law.cdf(low[~exact])
        return -(law.logpdf(low[exact]).sum() + np.log(between).sum())

    options = {"xatol": 1e-10, "fatol": 1e-13, "maxiter": 5000}
    best = optimize.minimize(loss, [1.5, 0.0], method="Nelder-Mead", options=options)
    fit = censored_fit(low, high, distribution)
    assert_allclose(fit.log_likelihood, -best.fun, rtol=1e-10)
    assert_allclose(fit.coefficients[0].value, best.x[0], rtol=1e-6)
    if distribution != "exponential":
        assert_allclose(fit.spread.value, math.exp(best.x[1]), rtol=1e-6)
    assert_allclose(fit.quantile.value, frozen(best.x).median(), rtol=1e-6)


@pytest.mark.parametrize(("distribution", "share"), [("normal", 0.9), ("weibull", 0.1), ("lognormal", 0.5)])
def test_profile_limits_lie_where_the_likelihood_ratio_says(distribution, share):
    low, high = bounds(table("weibull_lifetimes"), "hours")
    fit = censored_fit(low, high, distribution, share=share)
    score = {"weibull": math.log(-math.log1p(-share))}.get(distribution, stats.norm.ppf(share))
    laws = {"normal": stats.norm, "lognormal": stats.norm, "weibull": stats.gumbel_l}
    y = low if distribution == "normal" else np.log(low)
    seen, jacobian = np.isfinite(high), 0 if distribution == "normal" else np.log(low[np.isfinite(high)]).sum()

    def loss(spread, quantile):
        place = quantile - score * spread
        law = laws[distribution](place, spread)
        return -(law.logpdf(y[seen]).sum() + law.logsf(y[~seen]).sum() - jacobian)

    for end in (fit.quantile.low, fit.quantile.high):
        held = end if distribution == "normal" else math.log(end)
        found = optimize.minimize_scalar(
            loss, args=(held,), bounds=(fit.spread.value / 20, fit.spread.value * 20), options={"xatol": 1e-10}
        )
        # limit: the definition, with the profile searched independently by scipy
        assert_allclose(2 * (fit.log_likelihood + found.fun), stats.chi2.ppf(0.95, 1), rtol=1e-6)


def test_a_complete_exponential_sample_has_the_textbook_profile():
    times = np.array([1.0, 2.0, 4.0, 9.0])
    fit = censored_fit(times, times, "exponential")
    mean = times.mean()
    assert_allclose(fit.scale.value, mean, rtol=1e-12)  # hand
    for end in (fit.scale.low, fit.scale.high):  # hand: 2n(mean/end − 1 − ln(mean/end)) = chi-square quantile
        assert_allclose(8 * (mean / end - 1 - math.log(mean / end)), stats.chi2.ppf(0.95, 1), rtol=1e-8)
    assert_allclose(fit.quantile.value, mean * math.log(2), rtol=1e-12)  # hand


@given(st.floats(0.01, 1000), st.floats(-1000, 1000), st.permutations(range(10)))
def test_unit_origin_and_order_of_the_readings_do_not_matter(scale, shift, order):
    fit = censored_fit(*censored_bounds(SLIDING, STAYED))
    moved = shift + scale * np.array(SLIDING, dtype=float)[order]
    again = censored_fit(*censored_bounds(moved, np.array(STAYED)[order]))
    for name in ("value", "low", "high"):
        expected = shift + scale * getattr(fit.quantile, name)
        assert_allclose(getattr(again.quantile, name), expected, rtol=1e-9, atol=1e-9 * (scale + abs(shift)))
    assert_allclose(again.spread.value, scale * fit.spread.value, rtol=1e-7)


@pytest.mark.parametrize(
    ("low", "high", "distribution", "covariates", "words"),
    [
        ([90, 90, 90], [math.inf] * 3, "normal", None, "0 of 3 readings measured: a fit needs at least 3"),
        ([5], [5], "normal", None, "1 of 1 readings measured"),
        ([5, 5, 5, 30], [5, 5, 5, math.inf], "normal", None, "equal"),
        ([4, 4, 4, 4], [5, 5, 5, 5], "normal", None, "did not converge"),  # σ shrinks to 0 inside the interval
        ([1, 2, 3, 4], [1, 2, 3, 4], "normal", [1, 2, 3, 4], "did not converge"),  # a perfect line has no σ
        ([-1, 2, 3], [-1, 2, 3], "weibull", None, "no place"),
        ([3, 4], [math.inf] * 2, "exponential", None, "0 of 2 readings measured: a fit needs at least 1"),
    ],
)
def test_a_fit_that_cannot_be_made_says_why(low, high, distribution, covariates, words):
    fit = censored_fit(low, high, distribution, covariates)
    assert not fit.is_fitted
    assert fit.log_likelihood is None
    assert words in fit.note


@pytest.mark.parametrize(
    ("low", "high", "more", "words"),
    [
        ([], [], {}, "limit for each reading"),
        ([1, 2], [1], {}, "limit for each reading"),
        ([math.nan], [1], {}, "NaN"),
        ([2], [1], {}, "above the upper"),
        ([-math.inf], [math.inf], {}, "says nothing"),
        ([1, 2, 3], [1, 2, 3], {"distribution": "gamma"}, "distribution is one of"),
        ([1, 2, 3], [1, 2, 3], {"confidence": 1}, "confidence"),
        ([1, 2, 3], [1, 2, 3], {"share": 0}, "share"),
        ([1, 2, 3], [1, 2, 3], {"covariates": [1, 2]}, "3 rows"),
        ([1, 2, 3], [1, 2, 3], {"covariates": [2, 2, 2]}, "same value"),
        ([1, 2, 3, 5], [1, 2, 3, 5], {"covariates": [1, 2, 3, 3], "at": [1, 2]}, "2 covariates asked for, 1 fitted"),
    ],
)
def test_what_makes_no_sense_is_refused(low, high, more, words):
    with pytest.raises(ValueError, match=words):
        censored_fit(low, high, **more)
