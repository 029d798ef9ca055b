"""Law of propagation, degrees of freedom and expanded uncertainty against the examples of the guide."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.uncertainty import (
    combined_uncertainty,
    correlation_matrix,
    coverage_factor,
    effective_degrees_of_freedom,
    expanded_uncertainty,
    grouped_uncertainty,
)

# published: GUM H.1, contributions [nm] and their degrees of freedom
GAUGE = [25, 9.7, 2.9, 16.6]
GAUGE_DOF = [18, 25.6, 50, 2]


def test_end_gauge():
    assert_allclose(combined_uncertainty([5.8, 3.9, 6.7]), 9.7, atol=0.05)
    of_difference = effective_degrees_of_freedom([5.8, 3.9, 6.7], [24, 5, 8], 9.7, is_truncated=False)
    assert_allclose(of_difference, 25.6, atol=0.05)  # with the rounded 9.7, as the guide does
    assert_allclose(combined_uncertainty(GAUGE), 31.7, atol=0.05)
    assert_allclose(effective_degrees_of_freedom(GAUGE, GAUGE_DOF, 31.7, is_truncated=False), 16.8, atol=0.06)
    # the rounded 32 gives 17.5 (a trap): the guide cuts the unrounded one to 16
    assert_allclose(effective_degrees_of_freedom(GAUGE, GAUGE_DOF, 32, is_truncated=False), 17.5, atol=0.06)
    assert effective_degrees_of_freedom(GAUGE, GAUGE_DOF) == 16
    assert_allclose(coverage_factor(0.99, 16), 2.92, atol=5e-3)
    assert_allclose(expanded_uncertainty(32, 0.99, 16), 93, atol=0.5)


def test_voltage_standard_over_ten_days():
    # published: GUM H.5, table H.9; F 2.25 there from rounded values, 2.26 unrounded
    microvolts = [172, 116, 13, 144, 106, 31, 60, 125, 163, 41]
    found = grouped_uncertainty(
        [10 + value * 1e-6 for value in microvolts],
        np.array([60, 77, 111, 101, 67, 93, 80, 73, 88, 86]) * 1e-6,
        readings_each=5,
    )
    assert_allclose(found.mean, 10.000097, atol=5e-7)
    sds = np.array([found.sd_of_means, found.sd_from_means, found.sd_within, found.between_sd]) * 1e6
    assert_allclose(sds, [57.09, 127.66, 84.89, 42.6], atol=0.051)
    assert_allclose((found.f, found.f_critical), (2.26, 2.12), atol=5.1e-3)
    assert grouped_uncertainty([0, 1], [1, 1], 5, alpha=0.025).f_critical > 2
    assert_allclose(stats.f.ppf(0.975, 9, 40), 2.45, atol=5.1e-3)
    assert 0.025 < found.p < 0.05
    assert_allclose((found.u * 1e6, found.u_without_effect * 1e6), (18, 13), atol=0.5)
    assert (found.dof, found.dof_without_effect) == (9, 49)


def test_grouped_without_spread_inside():
    found = grouped_uncertainty([1.0, 2.0], [0.0, 0.0], 3)
    assert (found.f, found.p) == (None, None)
    assert_allclose(found.u, 0.5)
    alike = grouped_uncertainty([1.0, 1.0], [1.0, 1.0], 4)
    assert alike.between_sd == 0
    assert alike.between_variance == -0.25  # hand: (0 − 1)/4


def test_correlation_adds_or_takes():
    full = [[1, 1], [1, 1]]
    assert combined_uncertainty([3.0, 4.0], full) == 7.0  # limit: fully correlated add plainly
    assert_allclose(combined_uncertainty([3.0, -3.0], full), 0.0, atol=1e-12)
    rows = np.array([[1.0, 2.0, 2.0], [2.0, 3.0, 6.0]])
    assert_allclose(combined_uncertainty(rows), [3.0, 7.0])
    assert_allclose(combined_uncertainty(rows, np.eye(3)), [3.0, 7.0])


def test_huge_and_tiny_contributions():
    assert_allclose(combined_uncertainty([3e200, 4e200]), 5e200)
    assert_allclose(combined_uncertainty([3e-200, 4e-200]), 5e-200, atol=0)
    assert_allclose(effective_degrees_of_freedom([1e-200, 1e-200], [4, 4]), 8)  # hand: 4/(1/4 + 1/4)


def test_degrees_of_freedom_limits():
    assert effective_degrees_of_freedom([1.0, 2.0], [math.inf, math.inf]) == math.inf
    assert effective_degrees_of_freedom([0.0, 2.0], [1, 7]) == 7  # limit: one contribution alone
    assert effective_degrees_of_freedom([0.0, 0.0], [1, 7]) == math.inf
    assert effective_degrees_of_freedom([2.0], [0.5]) == 0.5  # cut up to 1 it would claim more than is known
    assert effective_degrees_of_freedom([1e-200, 1e-200], [4, 4]) == 8  # hand: (2u²)²/(2u⁴/4), whatever the unit
    assert effective_degrees_of_freedom([1.0, 1e-200], [math.inf, 5]) == math.inf  # 5e800 is beyond a double
    rows = effective_degrees_of_freedom([[1.0, 1.0], [1.0, math.nan]], [4, 4])
    assert_allclose(rows, [8, math.nan])


@pytest.mark.parametrize("dof", [1, 2.5, 16, 1000])
@pytest.mark.parametrize("confidence", [0.5, 0.95, 0.9973])
def test_coverage_factor(dof, confidence):
    # independent: scipy.stats.t
    assert_allclose(coverage_factor(confidence, dof), stats.t.ppf((1 + confidence) / 2, dof), rtol=1e-9)


def test_coverage_factor_of_arrays():
    found = coverage_factor(0.95, [math.inf, math.nan, 10])
    assert_allclose(found, [1.959964, math.nan, 2.228139], rtol=1e-6)
    assert type(coverage_factor()) is float
    assert_allclose(expanded_uncertainty([1.0, math.nan]), [1.959964, math.nan], rtol=1e-6)


def test_matrix_of_named_quantities():
    # published: GUM H.2, rounded coefficients
    table = correlation_matrix("VIp", {("V", "I"): -0.36, ("p", "V"): 0.86, ("I", "p"): -0.65})
    assert_allclose(table, [[1, -0.36, 0.86], [-0.36, 1, -0.65], [0.86, -0.65, 1]])


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: combined_uncertainty([]), "no contributions"),
        (lambda: combined_uncertainty([1, 2], [[1, 2], [2, 1]]), "at most 1"),
        (lambda: combined_uncertainty([1, 2], [[1, 0.5], [0.4, 1]]), "symmetric"),
        (lambda: combined_uncertainty([1, 2], [[0.5, 0], [0, 1]]), "1 on its diagonal"),
        (lambda: combined_uncertainty([1, 2], np.eye(3)), "2 × 2"),
        (lambda: combined_uncertainty([1, 1, 1], [[1, 0.9, 0.9], [0.9, 1, -0.9], [0.9, -0.9, 1]]), "contradict"),
        (lambda: effective_degrees_of_freedom([1.0], [0]), "degrees of freedom must be above 0"),
        (lambda: effective_degrees_of_freedom([], []), "no contributions"),
        (lambda: coverage_factor(0.95, -1), "degrees of freedom"),
        (lambda: coverage_factor(1.0), "confidence"),
        (lambda: expanded_uncertainty(-1), "standard uncertainty"),
        (lambda: grouped_uncertainty([1.0], [1.0], 3), "two days"),
        (lambda: grouped_uncertainty([1.0, 2.0], [1.0], 3), "two days"),
        (lambda: grouped_uncertainty([1.0, 2.0], [1.0, -1.0], 3), "at least 0"),
        (lambda: grouped_uncertainty([1.0, 2.0], [1.0, 1.0], 1), "at least 2"),
        (lambda: correlation_matrix([], {}), "needs inputs"),
        (lambda: correlation_matrix(["a"], {("a", "b"): 0.1}), "'b' is correlated"),
        (lambda: correlation_matrix(["a"], {("a", "a"): 0.1}), "itself"),
        (lambda: correlation_matrix(["a", "a"], {}), "'a' stands twice"),
        (lambda: correlation_matrix(["a", "b"], {("a", "b"): 0.5, ("b", "a"): -0.5}), "two correlation coefficients"),
        (lambda: effective_degrees_of_freedom([1, 2, 3], [4, 5]), "2 degrees of freedom for 3"),
        (lambda: grouped_uncertainty([1.0, 2.0], [1.0, 1.0], 2.7), "must be whole, not 2.7"),
        (lambda: grouped_uncertainty([[1.0, 2.0]], [[1.0, 1.0]], 2), "one row of values"),
    ],
)
def test_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_correlated_contributions_of_any_size():
    half = [[1.0, 0.5], [0.5, 1.0]]
    for unit in (1.0, 1e300, 1e-300):
        # hand: 3² + 4² + 2·0.5·3·4 = 37
        assert_allclose(combined_uncertainty([3 * unit, 4 * unit], half), math.sqrt(37) * unit, rtol=1e-12)
    assert combined_uncertainty([3.0, 3.0], [[1, -1], [-1, 1]]) == 0  # limit: fully anti-correlated
    assert combined_uncertainty([1.0, 1.0, -2.0], np.ones((3, 3))) == 0  # limit: singular matrix
    assert_allclose(combined_uncertainty([[3, 4], [math.nan, 1]], half), [math.sqrt(37), math.nan])


def test_coverage_factor_close_to_certainty():
    confidence = 1 - 2.0**-43
    assert_allclose(coverage_factor(confidence), stats.norm.isf(2.0**-44), rtol=1e-12)  # independent: scipy 1.17
    assert_allclose(coverage_factor([0.9, 0.95], [5, math.inf]), [stats.t.isf(0.05, 5), stats.norm.isf(0.025)])
    assert math.isfinite(coverage_factor(math.nextafter(1, 0)))
