"""Uncertain inputs: from readings, from limits, read together."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.uncertain_inputs import UncertainInput, joint_type_a, type_a, type_b

# published: GUM H.2, five sets of voltage [V], current [mA] and phase [rad]
H2 = {
    "voltage": [5.007, 4.994, 5.005, 4.990, 4.999],
    "current": [19.663, 19.639, 19.640, 19.685, 19.678],
    "phase": [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
}


def test_readings_taken_together():
    # published: GUM H.2, table H.2; four digits of r independent
    found = joint_type_a(H2)
    assert_allclose([known.value for known in found.inputs.values()], [4.9990, 19.6610, 1.04446], rtol=1e-9)
    assert_allclose([known.u for known in found.inputs.values()], [0.0032, 0.0095, 0.00075], rtol=0.01)
    expected = {("voltage", "current"): -0.3553, ("voltage", "phase"): 0.8576, ("current", "phase"): -0.6451}
    assert found.correlations.keys() == expected.keys()
    for pair, r in expected.items():
        assert_allclose(found.correlations[pair], r, atol=5.1e-5)
    assert {known.dof for known in found.inputs.values()} == {4}


def test_type_a_is_the_error_of_the_mean():
    found = type_a(H2["voltage"], "V")
    assert_allclose(found.u, stats.sem(H2["voltage"]), rtol=1e-10)  # independent: scipy
    assert (found.dof, found.shape, found.unit) == (4, "t", "V")


def test_a_large_common_part_costs_no_digits():
    assert_allclose(type_a([1e9 + 0.1, 1e9 + 0.3, 1e9 + 0.2]).u, 0.1 / math.sqrt(3), rtol=1e-6)


@pytest.mark.parametrize(
    ("shape", "sd"), [("rectangular", stats.uniform(-1, 2).std()), ("triangular", stats.triang(0.5, -1, 2).std()),
                      ("arcsine", stats.arcsine(-1, 2).std())]
)  # fmt: skip
def test_type_b_is_the_sd_of_its_shape(shape, sd):
    assert_allclose(type_b(3.0, 1.0, shape).u, sd, rtol=1e-12)  # independent: scipy.stats


def test_a_quantity_without_spread_has_no_correlation():
    found = joint_type_a({"a": [1.0, 2.0, 4.0], "b": [5.0, 5.0, 5.0]})
    assert found.correlations == {}
    assert found.inputs["b"].u == 0
    assert joint_type_a({"b": [5.0, 5.0]}).correlations == {}


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: type_a([1.0]), "two readings"),
        (lambda: type_a([]), "no values"),
        (lambda: type_a([1.0, math.nan]), "NaN"),
        (lambda: type_b(1.0, -0.1), "half width must be at least 0"),
        (lambda: type_b(1.0, 0.1, "normal"), "shape must be one of"),
        (lambda: joint_type_a({"a": [1, 2], "b": [1, 2, 3]}), "same number"),
        (lambda: UncertainInput(math.nan, 0.1), "value must be a finite number"),
        (lambda: UncertainInput(1.0, -0.1), "standard uncertainty must be at least 0"),
        (lambda: UncertainInput(1.0, 0.1, 0), "degrees of freedom must be above 0"),
        (lambda: UncertainInput(1.0, 0.1, math.nan), "degrees of freedom"),
        (lambda: UncertainInput(1.0, 0.1, shape="round"), "shape must be one of"),
        (lambda: UncertainInput(1.0, 0.1, shape="t"), "a t distribution needs"),
        (lambda: UncertainInput([1.0, 2.0], 0.1), "size 1"),
        (lambda: type_a([[1.0, 2.0], [3.0, 4.0]]), "one row of values"),
    ],
)
def test_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_zero_half_width_is_a_constant():
    assert np.isclose(type_b(2.0, 0.0).u, 0.0)


def test_correlation_of_readings_with_a_large_common_part():
    near = joint_type_a({"a": [1.0, 2.0, 4.0], "b": [10.0, 25.0, 40.0]}).correlations["a", "b"]
    far = joint_type_a({"a": [2.0**40 + x for x in (1, 2, 4)], "b": [-(2.0**40) + x for x in (10, 25, 40)]})
    assert_allclose(near, stats.pearsonr([1, 2, 4], [10, 25, 40]).statistic, rtol=1e-12)  # independent: scipy 1.17
    assert_allclose(far.correlations["a", "b"], near, rtol=1e-12)
