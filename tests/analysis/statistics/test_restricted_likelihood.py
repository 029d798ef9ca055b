"""Likelihood of nested readings against its matrix form and against statsmodels."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.statistics.restricted_likelihood import nested_likelihood_fit

RNG = np.random.default_rng(20)
UNEQUAL = [np.array([2, 3, 1, 4, 2, 5, 3]), np.array([3, 2, 2])]  # readings of 7 coupons, coupons of 3 batches
READINGS = np.repeat(np.repeat([0.0, 3.0, -2.0], UNEQUAL[1]) + RNG.normal(size=7), UNEQUAL[0]) + 0.5 * RNG.normal(
    size=20
)


def dense(values, members, variances, is_restricted):
    """hand: −2ℓ from the covariance matrix itself, as Harville (1977) writes it."""
    covariance = variances[-1] * np.eye(len(values))
    counts = np.ones(len(values), dtype=int)
    groups = np.arange(len(values))
    for sizes, variance in zip(members, variances[-2::-1], strict=True):
        groups = np.repeat(np.arange(len(sizes)), sizes)[groups]
        covariance = covariance + variance * (groups[:, None] == groups[None, :])
        counts = sizes
    assert len(counts) == len(members[-1])
    inverse, ones = np.linalg.inv(covariance), np.ones(len(values))
    weight = ones @ inverse @ ones
    mean = ones @ inverse @ values / weight
    rest = values - mean
    value = np.linalg.slogdet(covariance)[1] + rest @ inverse @ rest + len(values) * math.log(2 * math.pi)
    return value + (math.log(weight) - math.log(2 * math.pi) if is_restricted else 0), mean, 1 / weight


@pytest.mark.parametrize("is_restricted", [True, False])
@pytest.mark.parametrize("depth", [1, 2])
def test_likelihood_and_mean_equal_the_matrix_form(depth, is_restricted):
    fit = nested_likelihood_fit(READINGS, UNEQUAL[:depth], [1.0] * (depth + 1), is_restricted)
    value, mean, variance = dense(READINGS, UNEQUAL[:depth], fit.variances, is_restricted)
    found = fit.minus_two_log_likelihood, fit.mean, fit.mean_variance
    assert_allclose(found, (value, mean, variance), rtol=1e-11)


@pytest.mark.parametrize("is_restricted", [True, False])
@pytest.mark.parametrize("depth", [1, 2])
def test_no_neighbour_is_more_likely(depth, is_restricted):
    fit = nested_likelihood_fit(READINGS, UNEQUAL[:depth], [1.0] * (depth + 1), is_restricted)
    assert fit.is_fitted
    for place in range(depth + 1):
        for factor in (0.97, 1.03):
            other = list(fit.variances)
            other[place] *= factor
            value = dense(READINGS, UNEQUAL[:depth], other, is_restricted)[0]
            assert value > fit.minus_two_log_likelihood


@pytest.mark.parametrize("start", [[1.0, 1.0, 1.0], [1e-6, 1e3, 1.0], [1e6, 1e-6, 1e-3], [0.0, 0.0, 5.0]])
def test_the_start_does_not_matter(start):
    expected = nested_likelihood_fit(READINGS, UNEQUAL, [4.0, 1.0, 0.3]).variances
    assert_allclose(nested_likelihood_fit(READINGS, UNEQUAL, start).variances, expected, rtol=1e-7)


@pytest.mark.parametrize(("shift", "scale"), [(0, 1e-6), (1e6, 1.0), (-300.0, 1e5)])
def test_variances_follow_the_unit_and_ignore_the_origin(shift, scale):
    expected = np.array(nested_likelihood_fit(READINGS, UNEQUAL, [1.0, 1.0, 1.0]).variances)
    found = nested_likelihood_fit(shift + scale * READINGS, UNEQUAL, [scale**2] * 3)
    assert_allclose(found.variances, scale**2 * expected, rtol=1e-7)
    assert_allclose(found.mean, shift + scale * nested_likelihood_fit(READINGS, UNEQUAL, [1.0] * 3).mean, rtol=1e-8)


def test_readings_without_groups_have_their_plain_variance():
    fit = nested_likelihood_fit(READINGS, [], [1.0])
    assert_allclose(fit.variances, [np.var(READINGS, ddof=1)], rtol=1e-13)  # independent: numpy


def test_equal_readings_inside_groups_have_no_maximum():
    fit = nested_likelihood_fit(np.array([1.0, 1.0, 2.0, 2.0]), [np.array([2, 2])], [1.0, 1.0])
    assert not fit.is_fitted
    assert "no maximum" in fit.note


def test_members_that_do_not_add_up_are_refused():
    with pytest.raises(ValueError, match="account for all members"):
        nested_likelihood_fit(READINGS, [np.array([2, 2])], [1.0, 1.0])
