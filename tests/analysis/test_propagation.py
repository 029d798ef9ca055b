"""First-order propagation against rules of three and the uncertainties package."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from uncertainties import ufloat, umath

from analysis.propagation import first_order


def test_sum_and_difference_add_in_squares():
    assert_allclose(first_order(lambda a, b: a + b, {"a": (1.0, 3.0), "b": (2.0, 4.0)}), (3.0, 5.0))  # hand


def test_product_against_uncertainties():
    inputs = {"a": (72.0, 0.3), "b": (1.1, 0.002)}
    value, u = first_order(lambda a, b: a * math.cos(b), inputs)
    expected = ufloat(72.0, 0.3) * umath.cos(ufloat(1.1, 0.002))  # independent: uncertainties 3.2
    assert_allclose((value, u), (expected.nominal_value, expected.std_dev), rtol=1e-6)  # steps of one u, not of 0


def test_arrays_broadcast_and_keep_nan():
    value, u = first_order(
        lambda a, b: a * b, {"a": (np.array([[1.0], [2.0]]), 0.1), "b": ([3.0, math.nan], [0.0, 1.0])}
    )
    assert value.shape == u.shape == (2, 2)
    assert_allclose(u[:, 0], 0.3)
    assert np.isnan(u[:, 1]).all()


def test_constants_are_not_moved():
    calls = []

    def function(a, b):
        calls.append(b)
        return a + b

    assert first_order(function, {"a": (1.0, 0.5), "b": (2.0, 0.0)}) == (3.0, 0.5)
    assert set(calls) == {2.0}
    assert first_order(lambda a: a, {"a": (1.0, 0.0)}) == (1.0, 0.0)


def test_at_a_minimum_first_order_sees_nothing():
    # limit: the reason why `uncertainty_budget` looks at the curvature too
    assert first_order(lambda a: a**2, {"a": (0.0, 0.1)}) == (0.0, 0.0)


@pytest.mark.parametrize("uncertainty", [-0.1, math.nan, math.inf, [0.1, -0.2]])
def test_an_uncertainty_below_zero_is_refused(uncertainty):
    with pytest.raises(ValueError, match="standard uncertainty of a must be 0 or more"):
        first_order(lambda a: a, {"a": (1.0, uncertainty)})
