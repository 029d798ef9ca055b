"""Limits of a proportion against hand calculations and scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import binomtest

from analysis.statistics import proportions


def test_three_of_ten_exact_and_wilson():
    # independent (scipy 1.17 binomtest): exact 0.066740 to 0.652453, Wilson 0.107791 to 0.603222
    exact, wilson = proportions.proportion_interval(3, 10), proportions.proportion_interval(3, 10, method="wilson")
    assert_allclose((exact.low, exact.high), (0.066740, 0.652453), atol=5e-7)
    assert_allclose((wilson.low, wilson.high), (0.107791, 0.603222), atol=5e-7)
    assert exact.share == 0.3
    assert (exact.method, wilson.method) == ("exact", "wilson")


@pytest.mark.parametrize("method", ["exact", "wilson"])
@pytest.mark.parametrize(("count", "total"), [(0, 1), (1, 1), (0, 10), (10, 10), (1, 7), (299, 1000)])
@pytest.mark.parametrize("confidence", [0.5, 0.95, 0.999])
def test_both_intervals_as_scipy_gives_them(method, count, total, confidence):
    found = proportions.proportion_interval(count, total, confidence, method)
    expected = binomtest(count, total).proportion_ci(confidence, method)  # independent: scipy 1.17
    assert_allclose((found.low, found.high), (expected.low, expected.high), rtol=1e-10, atol=1e-14)


def test_one_sided_bounds_as_scipy_gives_them_for_whole_arrays():
    counts = np.array([[0, 1, 2], [7, 29, 30]])
    upper, lower = proportions.proportion_upper_bound(counts, 30), proportions.proportion_lower_bound(counts, 30)
    assert upper.shape == lower.shape == (2, 3)
    for place, count in np.ndenumerate(counts):
        test = [binomtest(int(count), 30, alternative=side).proportion_ci(0.95) for side in ("less", "greater")]
        assert_allclose((upper[place], lower[place]), (test[0].high, test[1].low), rtol=1e-10)


@given(st.integers(1, 400), st.data())
def test_no_interval_leaves_zero_to_one_or_misses_the_share(total, data):
    count = data.draw(st.integers(0, total))
    for method in ("exact", "wilson"):
        found = proportions.proportion_interval(count, total, method=method)
        assert 0 <= found.low <= found.share <= found.high <= 1


@pytest.mark.parametrize(("count", "total"), [(0, 0), (4, 3), (-1, 3), (1.5, 3), (float("nan"), 3)])
def test_an_impossible_count_is_refused(count, total):
    with pytest.raises(ValueError, match="count of drops"):
        proportions.proportion_interval(count, total)


def test_another_method_is_refused():
    with pytest.raises(ValueError, match="exact or wilson"):
        proportions.proportion_interval(1, 3, method="wald")
