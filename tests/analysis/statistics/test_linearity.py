"""Bias and linearity of a gauge against published data sets."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.statistics.linearity import gauge_bias, gauge_linearity, reference_line
from tests.analysis.tables import groups

BIAS = [5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4, 6.3, 6.0, 6.1, 6.2, 5.6, 6.0]


def series(name):
    found = groups(name)
    return [float(key) for key in found], list(found.values())


def test_bias_at_one_reference():
    # published data: AIAG MSA; independent: with the ordinary s (the manual takes one from ranges)
    found = gauge_bias(BIAS, 6.0)
    assert_allclose((found.bias, found.sd), (0.006667, 0.212020), atol=5.1e-7)
    assert_allclose((found.t, found.low, found.high), (0.1218, -0.1107, 0.1241), atol=5.1e-5)
    assert found.p > 0.9


def test_linearity():
    # published: AIAG MSA and ISO 22514-7 Table 7 print 0.7367 and −0.1317; further digits independent
    found = gauge_linearity(*series("gauge_linearity"))
    assert_allclose(list(found.mean_at_reference.values()), [0.491667, 0.125, 0.025, -0.291667, -0.616667], atol=5.1e-7)
    assert_allclose((found.intercept, found.slope), (0.736667, -0.131667), atol=5.1e-7)
    errors = (found.intercept_standard_error, found.slope_standard_error)
    assert_allclose(errors, (0.072524, 0.010933), atol=5.1e-7)
    assert_allclose((found.intercept_t, found.slope_t), (10.158, -12.043), atol=5.1e-4)
    assert_allclose((found.r_squared, found.residual_sd), (0.714318, 0.239540), atol=5.1e-7)
    assert_allclose(found.line_at_reference[10.0], -0.58, atol=5.1e-5)
    assert found.slope_p < 1e-15


def test_iso_line_and_lack_of_fit():
    # published: ISO 22514-7 Annex A.1, as printed (u_LIN there 0.0533 from rounded squares)
    references, readings = series("gauge_linearity_iso")
    found = reference_line(references, readings)
    assert_allclose((np.mean(references), np.mean(readings)), (6.462, 6.614), atol=5.1e-4)
    assert_allclose((found.intercept, found.slope), (0.2358, 0.9870), atol=5.1e-5)
    fit = found.lack_of_fit
    assert (fit.df_repeat, fit.df_line, found.n) == (30, 8, 40)
    assert_allclose((fit.ss_repeat, fit.ss_line, found.residual_sd**2 * 38), (0.1235, 0.0228, 0.1462), atol=5.1e-5)
    assert_allclose((fit.u_repeat**2, fit.u_line**2), (0.0041, 0.0028), atol=5.1e-5)
    assert_allclose(fit.f, 0.6918, atol=5.1e-5)
    assert_allclose(fit.f_critical, 2.2661, atol=1e-4)  # printed cut, not rounded
    assert_allclose((fit.u_line, fit.u_repeat), (0.0534, 0.0641), atol=5.1e-5)
    assert fit.p > 0.05


def test_line_of_readings_and_of_biases_belong_together():
    references, readings = series("gauge_linearity")
    line, bias = reference_line(references, readings), gauge_linearity(references, readings)
    assert_allclose((line.slope - 1, line.intercept), (bias.slope, bias.intercept), atol=1e-12)
    assert_allclose(line.lack_of_fit.ss_line, bias.lack_of_fit.ss_line, rtol=1e-9)


def test_perfect_gauge():
    found = reference_line([1, 2, 3], [[1, 1], [2, 2], [3, 3]])
    assert_allclose((found.slope, found.intercept, found.r_squared), (1, 0, 1), atol=1e-12)
    assert found.lack_of_fit.f is None
    steady = gauge_bias([5.0, 5.0], 5.0)
    assert (steady.bias, steady.low, steady.high, steady.t, steady.p) == (0, 0, 0, None, None)


def test_without_repeats_there_is_no_test_of_the_line():
    assert reference_line([1, 2, 3], [[1.0], [2.1], [2.9]]).lack_of_fit is None
    assert gauge_linearity([1, 2], [[1.0, 1.1], [2.1, 2.0]]).lack_of_fit is None


def test_a_reference_given_twice_counts_once_for_lack_of_fit():
    once = reference_line([1, 2, 3], [[1.0, 1.2], [2.1, 2.2], [3.0, 3.3]])
    twice = reference_line([1, 1, 2, 3], [[1.0], [1.2], [2.1, 2.2], [3.0, 3.3]])
    assert_allclose(twice.lack_of_fit.f, once.lack_of_fit.f)
    assert_allclose(twice.mean_at_reference[1.0], 1.1)  # hand: (1.0 + 1.2)/2
    assert twice.mean_at_reference == once.mean_at_reference


@pytest.mark.parametrize(
    ("references", "readings", "words"),
    [
        ([1, 2], [[1.0]], "2 references for 1"),
        ([1, 1], [[1.0, 1.0], [1.0]], "two references that differ"),
        ([1, 2], [[1.0], [2.0]], "three readings"),
        ([1, 2], [[1.0, math.nan], [2.0]], "NaN"),
        ([1, 2], [[], [2.0, 1.0, 1.0]], "no values"),
    ],
)
def test_what_makes_no_line_is_refused(references, readings, words):
    for function in (gauge_linearity, reference_line):
        with pytest.raises(ValueError, match=words):
            function(references, readings)


@pytest.mark.parametrize(("readings", "reference"), [([5.0], 5.0), ([], 5.0), ([5.0, math.nan], 5), ([5, 6], math.nan)])
def test_bias_refuses_what_has_no_interval(readings, reference):
    with pytest.raises(ValueError):
        gauge_bias(readings, reference)


@pytest.mark.parametrize("bias", [0.0, 0.5])
def test_a_gauge_with_one_bias_and_no_scatter_has_no_errors_and_no_test(bias):
    found = gauge_linearity([1, 2, 3], [[1 + bias] * 2, [2 + bias] * 2, [3 + bias] * 2])
    assert_allclose((found.intercept, found.slope), (bias, 0), atol=1e-15)
    assert (found.intercept_standard_error, found.slope_standard_error, found.residual_sd) == (0, 0, 0)
    assert (found.intercept_t, found.slope_t, found.intercept_p, found.slope_p, found.r_squared) == (None,) * 5


def test_large_references_cost_no_digits():
    far_out, sets = 2.0**30, [[1.25, 1.5], [2.0, 2.5], [3.125, 3.0]]
    near = reference_line([1, 2, 3], sets)
    far = reference_line([far_out + place for place in (1, 2, 3)], [[far_out + x for x in row] for row in sets])
    assert_allclose(far.slope, near.slope, rtol=1e-9)
    assert_allclose((far.residual_sd, far.lack_of_fit.f), (near.residual_sd, near.lack_of_fit.f), rtol=1e-6)


def test_tables_and_plain_numbers_are_no_sets_of_readings():
    with pytest.raises(ValueError, match="one row of values"):
        reference_line([1, 2, 3], [1.0, 2.0, 3.0])
    with pytest.raises(ValueError, match="one row of values"):
        gauge_bias([[1.0, 2.0]], 1.0)
