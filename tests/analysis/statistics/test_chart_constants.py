"""Constants of control charts against tables, closed forms and another distribution function."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate
from scipy.stats import chi, studentized_range

from analysis.statistics.chart_constants import c4, chart_constants, d2, d3
from tests.analysis.tables import table

TABLE = table("chart_constants").set_index("n")


@pytest.mark.parametrize("name", TABLE.columns)
@pytest.mark.parametrize("n", TABLE.index)
def test_constants(n, name):
    # independent: see the head of the table; four decimals
    assert_allclose(getattr(chart_constants(int(n)), name), TABLE.loc[n, name], atol=5.1e-5)


def test_closed_forms():
    # limit: n = 2 and 3 have closed forms
    assert_allclose(d2(2), 2 / math.sqrt(math.pi), rtol=1e-13)
    assert_allclose(d3(2), math.sqrt(2 - 4 / math.pi), rtol=1e-11)
    assert_allclose(d2(3), 3 / math.sqrt(math.pi), rtol=1e-13)
    assert_allclose(c4([2, 3]), [math.sqrt(2 / math.pi), math.sqrt(math.pi) / 2], rtol=1e-13)


@pytest.mark.parametrize("n", [2, 5, 25, 300])
def test_c4_is_the_mean_of_chi(n):
    assert_allclose(c4(n), chi.mean(n - 1) / math.sqrt(n - 1), rtol=1e-10)  # independent: scipy.stats.chi


@pytest.mark.parametrize("n", [4, 20])
def test_range_moments_from_the_studentized_range(n):
    # independent: scipy.stats.studentized_range with infinite degrees of freedom, its survival integrated
    def exceeded(w):
        return studentized_range.sf(w, n, np.inf)

    mean = integrate.quad(exceeded, 0, 12, epsabs=1e-7)[0]
    square = integrate.quad(lambda w: 2 * w * exceeded(w), 0, 12, epsabs=1e-7)[0]
    assert_allclose((d2(n), d3(n)), (mean, math.sqrt(square - mean**2)), rtol=2e-6)


def test_arrays_keep_their_shape():
    assert d2([[2, 3], [4, 5]]).shape == (2, 2)
    assert d3(np.array([2])).shape == (1,)
    assert type(d2(7)) is type(d3(7)) is type(c4(7)) is float
    assert np.isnan(c4([2, math.nan])).tolist() == [False, True]


def test_large_subgroups_are_integrated_too():
    # independent: a quadrature of 1 − Φⁿ − (1 − Φ)ⁿ
    from scipy.special import ndtr

    expected = integrate.quad(lambda x: 1 - ndtr(x) ** 1000 - ndtr(-x) ** 1000, -12, 12, points=[-3, 0, 3])[0]
    assert_allclose(d2(1000), expected, rtol=1e-10)


@pytest.mark.parametrize("function", [d2, d3, chart_constants])
@pytest.mark.parametrize("n", [1, 0, -3, 2.5, math.nan, 1001])
def test_sizes_that_make_no_subgroup_are_refused(function, n):
    with pytest.raises(ValueError, match="subgroup size"):
        function(n)


def test_c4_refuses_a_single_reading():
    with pytest.raises(ValueError, match="subgroup size must be at least 2"):
        c4(1)


def test_c4_of_large_subgroups_keeps_its_digits():
    sizes = np.array([100.0, 1e4, 1e8, 1e12, 1e17])
    x = sizes - 1  # hand: c4 = 1 − 1/(4x) + 1/(32x²) + 5/(128x³), x = n − 1
    assert_allclose(c4(sizes), 1 - 1 / (4 * x) + 1 / (32 * x**2) + 5 / (128 * x**3), rtol=3e-9)
    assert np.all(c4(sizes[1:]) <= 1)


@pytest.mark.parametrize("n", [2.5, 1, math.inf])
def test_c4_refuses_what_is_no_subgroup(n):
    with pytest.raises(ValueError, match="subgroup size must"):
        c4(n)


def test_constants_are_for_one_size():
    with pytest.raises(ValueError, match="subgroup size must be one number"):
        chart_constants([2, 3])
