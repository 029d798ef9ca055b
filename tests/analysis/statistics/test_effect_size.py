"""Size of an effect, and coupons that it takes to see one."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.effect_size import coupons_needed, hedges_g
from tests.analysis.statistics.test_comparison import SLEEP


def test_effect_of_the_sleep_data():
    found = hedges_g(*SLEEP)
    # independent: numpy and scipy 1.17.1; the approximation 1 − 3/(4m − 1) would give −0.797019
    assert_allclose((found.d, found.g, found.correction), (-0.832181, -0.796935, 0.957646), atol=6e-7)


@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.999])
@pytest.mark.parametrize("shift", [0.0, 0.5, 4.0, 60.0])
def test_interval_is_that_of_the_noncentral_t(confidence, shift):
    one, two = np.array([1.0, 1.7, 0.4, 2.2, 1.4]) + shift, [1.1, 0.8, 1.9, 0.6]
    found = hedges_g(one, two, confidence)
    t, factor = stats.ttest_ind(one, two).statistic, math.sqrt(1 / 5 + 1 / 4)
    # limit: at the ends the observed t is the quantile of the noncentral t that the confidence says (scipy)
    shares = stats.nct.cdf(t, 7, np.array([found.low, found.high]) / factor)
    assert_allclose(shares, [(1 + confidence) / 2, (1 - confidence) / 2], rtol=1e-6)


def test_a_negative_effect_mirrors_a_positive_one():
    one, two = [1.0, 1.7, 0.4, 2.2], [4.1, 3.8, 4.9, 3.6]
    there, back = hedges_g(one, two), hedges_g(two, one)
    assert_allclose((there.g, there.low, there.high), (-back.g, -back.high, -back.low), rtol=1e-8)


@pytest.mark.parametrize(("one", "two"), [([1.0], [2.0, 3.0]), ([1.0, 1.0], [2.0, 2.0])])
def test_no_spread_no_effect_size(one, two):
    assert hedges_g(one, two).g is None


def test_handbook_sample_size():
    # published: NIST/SEMATECH e-Handbook 7.2.2.2: (zα + zβ)² = 8.567 with rounded z, 11 with t
    found = coupons_needed(1, 1, alpha=0.05, power=0.9, sides=1, groups=1)
    assert_allclose(found.normal_approximation, 8.5638, atol=5e-5)
    assert math.ceil(found.normal_approximation) == 9
    assert found.n == 11


def test_two_groups_of_26_see_an_effect_of_0_8():
    # independent: statsmodels solve_power gives 25.52 for α 0.05, power 0.8
    assert coupons_needed(0.8, 1, power=0.8).n == 26
    assert coupons_needed(8, 10, power=0.8).n == 26


@pytest.mark.parametrize("sides", [1, 2])
@pytest.mark.parametrize("groups", [1, 2])
@pytest.mark.parametrize("effect", [0.3, 0.9, 2.5, 12.0])
def test_n_is_the_smallest_that_reaches_the_power(effect, groups, sides):
    found = coupons_needed(effect, 1, sides=sides, groups=groups)

    def power(n):  # independent: scipy's noncentral t
        df, shift = groups * (n - 1), effect * math.sqrt(n / groups)
        limit = stats.t.isf(0.05 / sides, df)
        other = stats.nct.cdf(-limit, df, shift) if sides == 2 else 0  # NaN where it is too small for scipy
        return stats.nct.sf(limit, df, shift) + np.nan_to_num(other)

    assert power(found.n) >= 0.9
    assert_allclose(found.power, power(found.n), rtol=1e-6)
    assert found.n == 2 or power(found.n - 1) < 0.9


def test_a_tiny_difference_takes_many_coupons():
    found = coupons_needed(1e-3, 1)
    assert found.n == math.ceil(found.normal_approximation) > 1e7


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"difference": 0, "sd": 1}, "difference"),
        ({"difference": 1, "sd": -1}, "standard deviation"),
        ({"difference": 1, "sd": 1, "power": 0.01}, "power"),
        ({"difference": 1, "sd": 1, "alpha": 0}, "alpha"),
        ({"difference": 1, "sd": 1, "groups": 3}, "groups"),
        ({"difference": math.nan, "sd": 1}, "difference"),
    ],
)
def test_input_that_is_none_is_refused(arguments, words):
    with pytest.raises(ValueError, match=words):
        coupons_needed(**arguments)


@pytest.mark.parametrize("gap", [1e3, 1e4, 8e4, 1e5, 1e6, 1e9])
def test_interval_of_a_huge_effect(gap):
    """Independent (scipy): far out t is the effect over √(χ²/df), so the ends are d·√(χ² quantile/df)."""
    spread = np.array([0.0, 1.0, 2.0, 0.5])
    found = hedges_g(spread + gap, spread)
    ends = found.d * np.sqrt(stats.chi2.ppf([0.025, 0.975], 6) / 6)
    assert_allclose((found.low, found.high), ends, rtol=1e-5)
    mirrored = hedges_g(spread, spread + gap)
    assert_allclose((mirrored.low, mirrored.high), (-found.high, -found.low), rtol=1e-12)


def test_anything_but_one_value_a_coupon_is_refused():
    with pytest.raises(ValueError, match="one value a coupon is expected"):
        hedges_g([[1.0, 2.0], [3.0, 4.0]], [1.0, 2.0])


@pytest.mark.parametrize("sides", [1, 2])
@pytest.mark.parametrize("groups", [1, 2])
def test_a_huge_effect_takes_two_coupons(sides, groups):
    found = coupons_needed(1e6, 1, sides=sides, groups=groups)
    assert (found.n, found.power) == (2, 1.0)


@pytest.mark.parametrize(
    ("sides", "groups", "expected"),
    [  # hand, from tabled quantiles: k·(z + 1.281552)², z = 1.644854 or 1.959964
        (1, 1, 8.563847),
        (1, 2, 17.127695),
        (2, 1, 10.507423),
        (2, 2, 21.014846),
    ],
)
def test_normal_approximation(sides, groups, expected):
    found = coupons_needed(1, 1, sides=sides, groups=groups)
    assert_allclose(found.normal_approximation, expected, rtol=1e-6)
