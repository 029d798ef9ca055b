"""Comparison by ranks: exact tests, the shift and its interval."""

import math
from itertools import combinations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.rank_comparison import rank_comparison

# published: Hollander & Wolfe, permeability of membranes
PERMEABILITY = (
    [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46],
    [1.15, 0.88, 0.90, 0.74, 1.21],
)


def test_permeability():
    found = rank_comparison(*PERMEABILITY)
    assert (found.u, found.is_exact) == (35, True)
    assert_allclose((found.p, found.p / 2), (0.254412, 0.127206), atol=6e-7)  # published; one-sided 0.127206
    assert_allclose(found.shift, 0.305, atol=1e-12)
    assert found.outcome == "cannot tell yet"
    assert found.low < 0 < found.high


@pytest.mark.parametrize(("n", "m"), [(3, 4), (4, 4), (5, 3), (6, 5)])
@pytest.mark.parametrize("confidence", [0.8, 0.9, 0.95])
def test_interval_leaves_out_what_the_listed_orders_say(n, m, confidence):
    """Hand: U of every order of n + m ranks, listed; k is the most that the tail allows."""
    every = np.array([sum(chosen) - n * (n - 1) // 2 for chosen in combinations(range(n + m), n)])
    tail = (1 - confidence) / 2 * (1 + 1e-12)  # 1 − 0.8 in binary is a little less than 0.2, which 4 and 4 just reach
    k = sum(np.mean(every <= u) <= tail for u in range(n * m))
    random = np.random.default_rng(n + 10 * m)
    one, two = random.normal(1, 1, n), random.normal(0, 1, m)
    found = rank_comparison(one, two, confidence)
    if k == 0:
        assert (found.low, found.high, found.confidence_reached) == (None, None, None)
        return
    differences = np.sort([a - b for a in one for b in two])
    assert_allclose((found.low, found.high), (differences[k - 1], differences[-k]), rtol=1e-14)
    assert_allclose(found.confidence_reached, 1 - 2 * np.mean(every <= k - 1), rtol=1e-12)
    assert found.confidence_reached >= confidence * (1 - 1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_interval_and_test_agree(seed):
    random = np.random.default_rng(seed)
    one, two = random.normal(1, 1, 7), random.normal(0, 1, 6)
    found = rank_comparison(one, two)
    assert (found.p < 0.05) == (not found.low < 0 < found.high)
    assert (found.outcome == "cannot tell yet") == (found.p >= 0.05)


def test_ties_take_the_normal_approximation_of_scipy():
    one, two = [1, 2, 2, 3, 5, 8], [2, 4, 4, 6, 9, 9, 10]
    found = rank_comparison(one, two)
    expected = stats.mannwhitneyu(one, two, method="asymptotic")  # independent: scipy
    assert not found.is_exact
    assert_allclose((found.u, found.p), (expected.statistic, expected.pvalue), rtol=1e-12)


def test_large_groups_take_the_normal_approximation():
    random = np.random.default_rng(2)
    found = rank_comparison(random.normal(1, 1, 60), random.normal(0, 1, 50))
    assert not found.is_exact
    assert found.low < found.shift < found.high
    assert found.outcome == "higher"


def test_three_and_three_cannot_reach_95_percent():
    found = rank_comparison([1.0, 2.0, 3.0], [11.0, 12.0, 13.0])
    assert (found.low, found.outcome) == (None, "cannot tell yet")
    assert_allclose(found.p, 0.1, rtol=1e-12)  # hand: 2 of 20 orders
    assert "too few coupons" in found.sentence


@pytest.mark.parametrize(("one", "two"), [([1.0], [2.0]), ([5.0, 5.0, 5.0], [5.0, 5.0]), ([1.0], [1.0])])
def test_nothing_to_rank_cannot_tell(one, two):
    assert rank_comparison(one, two).outcome == "cannot tell yet"


def test_ranks_do_not_see_the_scale():
    one, two = np.array(PERMEABILITY[0]), np.array(PERMEABILITY[1])
    plain, logs = rank_comparison(one, two), rank_comparison(np.log(one), np.log(two))
    assert (plain.u, plain.p) == (logs.u, logs.p)


@pytest.mark.parametrize(("one", "two"), [([], [1.0]), ([1.0, math.nan], [1.0]), ([math.inf], [1.0])])
def test_input_that_is_none_is_refused(one, two):
    with pytest.raises(ValueError):
        rank_comparison(one, two)


@pytest.mark.parametrize(
    ("n", "confidence", "p"),
    [
        (3, 0.9, 2 / 20),  # hand: two of the orders of 3 + 3 are the outermost ones
        (2, 2 / 3, 2 / 6),
        (4, 1 - 2 / 70, 2 / 70),
    ],
)
def test_a_confidence_that_is_just_reached_is_reached(n, confidence, p):
    """The chance of the outermost order is exactly the tail; 1 − 0.9 in binary is a little less than 0.1."""
    one, two = np.arange(n, dtype=float), np.arange(n) + 10.0
    found = rank_comparison(one, two, confidence)
    assert_allclose((found.p, found.confidence_reached), (p, confidence), rtol=1e-12)
    assert (found.low, found.high) == (one[0] - two[-1], one[-1] - two[0])
    assert found.outcome == "lower"  # as the interval says, which leaves out 0


@pytest.mark.parametrize("values", [([[1.0, 2.0]], [[3.0, 4.0]]), (1.0, 2.0)])
def test_anything_but_one_value_a_coupon_is_refused(values):
    with pytest.raises(ValueError, match="one value a coupon is expected"):
        rank_comparison(*values)


def test_interval_of_large_groups_by_hand():
    # hand: 1500 − 1.959964·√(3000·111/12) = 1173.5, so the differences number 1173 from both ends
    random = np.random.default_rng(2)
    one, two = random.normal(1, 1, 60), random.normal(0, 1, 50)
    differences = np.sort(np.subtract.outer(one, two), axis=None)
    found = rank_comparison(one, two)
    assert (found.low, found.high) == (differences[1172], differences[-1173])


def test_interval_of_ties_is_that_of_all_differences():
    # hand: 18 − 1.959964·√(36·13/12) = 5.8, so the fifth of 36 differences from both ends
    one, two = [1, 2, 2, 3, 5, 8], [4, 4, 6, 9, 9, 10]
    differences = sorted(a - b for a in one for b in two)
    found = rank_comparison(one, two)
    assert (found.low, found.high) == (differences[4], differences[-5])
