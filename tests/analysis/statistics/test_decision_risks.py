"""Probability of conformity and risks against worked numbers, quadrature and simulation."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, stats
from scipy.special import owens_t

from analysis.statistics.decision_risks import conformity_probability, global_risks, posterior, specific_risks

SIX = 5.1e-7  # the numbers are given with six decimals


@pytest.mark.parametrize(
    ("value", "u", "given", "expected"),
    # independent: computed apart (scipy.stats), JCGM 106 formulas
    [
        (9.4, 0.4, {"upper": 10}, 0.933193),
        (9.4, 0.4, {"upper": 10, "dof": 7}, 0.911351),
        (9.4, 0.4, {"upper": 10, "prior_mean": 8, "prior_sd": 1}, 0.983640),
        (151.8, 0.9, {"lower": 150}, 0.977250),
        (1.4, 0.3, {"lower": 0, "upper": 2}, 0.977248),
    ],
)
def test_conformity_probability(value, u, given, expected):
    assert_allclose(conformity_probability(value, u, **given), expected, atol=SIX)


def test_specific_risk():
    found = specific_risks(9.4, 0.4, upper=10)
    assert found.is_accepted is True
    assert_allclose(found.false_acceptance, 0.066807, atol=SIX)
    assert found.false_rejection == 0
    rejected = specific_risks(9.4, 0.4, upper=10, guard=0.8)
    assert rejected.is_accepted is False
    assert_allclose(rejected.false_rejection, 0.933193, atol=SIX)
    assert rejected.false_acceptance == 0


def test_a_small_risk_keeps_its_digits():
    # independent: scipy.stats.norm.sf
    assert_allclose(specific_risks(0.0, 1.0, upper=20).false_acceptance, stats.norm.sf(20), rtol=1e-10)


def test_posterior():
    found = posterior(9.4, 0.4, 8.0, 1.0)
    assert_allclose((found.mean, found.sd), (9.206897, 0.371391), atol=SIX)
    wide = posterior(9.4, 0.4, 8.0, 1e9)
    assert_allclose((wide.mean, wide.sd), (9.4, 0.4), rtol=1e-9)  # limit: nothing known of the process


@pytest.mark.parametrize(
    ("acceptance", "consumer", "producer"),
    # independent: quadrature and a simulation of 4 million, computed apart
    [(0.2, 0.018942, 0.037208), (0.1342, 0.001132, 0.194267), (0.12, 0.000469, 0.247670)],
)
def test_global_risks(acceptance, consumer, producer):
    found = global_risks(0.0, 0.12, 0.04, -0.2, 0.2, guard=0.2 - acceptance)
    assert_allclose((found.consumer, found.producer), (consumer, producer), atol=SIX)


def both_below(h, k, r):
    """Bivariate normal distribution function from Owen's T (independent: scipy.special)."""
    root = math.sqrt(1 - r * r)
    shift = 0.5 if h * k < 0 or (h * k == 0 and h + k < 0) else 0.0
    parts = owens_t(h, (k - r * h) / (h * root)) + owens_t(k, (h - r * k) / (k * root))
    return (stats.norm.cdf(h) + stats.norm.cdf(k)) / 2 - parts - shift


@pytest.mark.parametrize("u", [0.001, 0.05, 0.7, 3.0])
@pytest.mark.parametrize("limit", [-0.4, 0.9, 2.5])
@pytest.mark.parametrize("guard", [0.0, 0.3, -0.1])
def test_one_limit_against_the_bivariate_normal(u, limit, guard):
    total, r = math.hypot(1, u), 1 / math.hypot(1, u)
    accept = (limit - guard) / total
    conform_and_accept = both_below(limit, accept, r)
    found = global_risks(0.0, 1.0, u, upper=limit, guard=guard)
    assert_allclose(found.consumer, stats.norm.cdf(accept) - conform_and_accept, atol=1e-12)
    assert_allclose(found.producer, stats.norm.cdf(limit) - conform_and_accept, atol=1e-12)
    mirrored = global_risks(0.0, 1.0, u, lower=-limit, guard=guard)
    assert_allclose((mirrored.consumer, mirrored.producer), (found.consumer, found.producer), atol=1e-13)


def test_far_tail_keeps_its_digits():
    # independent: scipy.integrate.quad over the tail
    def integrand(x):
        return stats.norm.pdf(x) * stats.norm.cdf((7.0 - x) / 0.5)

    expected = integrate.quad(integrand, 8.0, 14.0, epsabs=0, epsrel=1e-10)[0]
    assert_allclose(global_risks(0.0, 1.0, 0.5, upper=8.0, guard=1.0).consumer, expected, rtol=1e-8)


def test_simulation_agrees():
    rng = np.random.default_rng(17)
    true = rng.normal(1.0, 0.8, 400_000)
    seen = true + rng.normal(0, 0.3, true.size)
    bad, accepted = (true < 0) | (true > 2), (seen > 0.2) & (seen < 1.8)
    found = global_risks(1.0, 0.8, 0.3, 0.0, 2.0, guard=0.2)
    for share, risk in ((np.mean(bad & accepted), found.consumer), (np.mean(~bad & ~accepted), found.producer)):
        assert abs(share - risk) < 4 * math.sqrt(risk * (1 - risk) / true.size)


def test_a_perfect_measurement():
    found = global_risks(0.0, 1.0, 0.0, -1.0, 1.0)
    assert_allclose((found.consumer, found.producer), 0.0, atol=1e-15)
    guarded = global_risks(0.0, 1.0, 0.0, -1.0, 1.0, guard=0.25)
    # hand: conforming items between the acceptance and the tolerance limits
    assert_allclose(guarded.producer, 2 * (stats.norm.cdf(1) - stats.norm.cdf(0.75)), rtol=1e-9)
    assert conformity_probability([0.9, 1.0, 1.1], 0.0, upper=1.0).tolist() == [1.0, 1.0, 0.0]


def test_guard_bands_that_leave_nothing():
    found = global_risks(0.0, 1.0, 0.1, -1.0, 1.0, guard=1.5)
    assert found.consumer == 0
    assert_allclose(found.producer, stats.norm.cdf(1) - stats.norm.cdf(-1), rtol=1e-9)


def test_t_becomes_normal():
    wide = conformity_probability(9.4, 0.4, upper=10, dof=[1, 10, 1e8, math.inf])
    assert (np.diff(wide) > 0).all()
    assert_allclose(wide[2], wide[3], atol=1e-8)


def test_arrays_keep_shape_and_nan():
    found = conformity_probability([[9.4, math.nan]], 0.4, upper=[[10], [11]])
    assert found.shape == (2, 2)
    assert np.isnan(found[:, 1]).all()
    risks = global_risks([0.0, math.nan, 0.5], 0.12, 0.04, -0.2, 0.2)
    assert np.isnan(risks.consumer).tolist() == [False, True, False]
    one = specific_risks([9.4, math.nan], 0.4, upper=10)
    assert one.is_accepted.tolist() == [True, False]
    assert np.isnan(one.false_rejection).tolist() == [False, True]
    assert type(global_risks(0, 1, 0.1, upper=2).consumer) is float
    assert global_risks(np.zeros(700), 1.0, 0.1, upper=2).producer.shape == (700,)
    assert global_risks([], 1.0, 0.1, upper=2).producer.shape == (0,)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: conformity_probability(1, 0.1), "needs a limit"),
        (lambda: conformity_probability(1, -0.1, upper=2), "standard uncertainty"),
        (lambda: conformity_probability(1, 0.1, upper=2, dof=0), "degrees of freedom"),
        (lambda: conformity_probability(1, 0.1, upper=2, prior_mean=1), "both its mean"),
        (lambda: conformity_probability(1, 0.1, upper=2, dof=5, prior_mean=1, prior_sd=1), "known uncertainty"),
        (lambda: conformity_probability(1, 0.0, upper=2, prior_mean=1, prior_sd=1), "must be above 0"),
        (lambda: specific_risks(1, 0.1, 3, 2), "lower limit must be below"),
        (lambda: global_risks(0, 0, 0.1, upper=1), "process standard deviation must be above 0"),
        (lambda: global_risks(0, 1, 0.1), "needs a limit"),
        (lambda: posterior(1, 0, 1, 1), "standard uncertainty must be above 0"),
    ],
)
def test_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_a_small_chance_keeps_its_digits():
    # independent: scipy 1.17, upper tails; the limit 10 lies 12 standard uncertainties below the value
    assert_allclose(conformity_probability(14.8, 0.4, upper=10.0), stats.norm.sf(12), rtol=1e-10)
    assert_allclose(conformity_probability(-4.8, 0.4, 0.0, 10.0), stats.norm.sf(12), rtol=1e-10)
    assert_allclose(specific_risks(14.8, 0.4, 0.0, 10.0).false_rejection, stats.norm.sf(12), rtol=1e-10)
    assert_allclose(conformity_probability(1010.0, 1.0, upper=10.0, dof=4), stats.t.sf(1000, 4), rtol=1e-9)
    narrow = stats.norm.sf(10) - stats.norm.sf(11)  # both limits on one side of the value
    assert_allclose(conformity_probability([0.0, 21.0], 1.0, 10.0, 11.0), narrow, rtol=1e-10)


@pytest.mark.parametrize("unit", [1e-200, 1.0, 1e200])
def test_posterior_in_any_unit(unit):
    found = posterior(9.4 * unit, 0.4 * unit, 8.0 * unit, 1.0 * unit)
    assert_allclose((found.mean / unit, found.sd / unit), (9.206897, 0.371391), atol=SIX)
