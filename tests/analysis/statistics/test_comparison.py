"""Two recipes compared: differences and equivalence against published data and scipy."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.comparison import equivalence, paired_difference, welch_difference

SLEEP = (
    [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0],
    [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4],
)  # published: Student (1908)


def test_welch_of_the_sleep_data():
    found = welch_difference(*SLEEP)
    # independent: scipy 1.17.1; the values are printed in many textbooks
    assert_allclose((found.statistic, found.df, found.p), (-1.860813, 17.776474, 0.079394), atol=6e-7)
    assert_allclose((found.low, found.high), (-3.365483, 0.205483), atol=6e-7)
    assert found.outcome == "cannot tell yet"
    assert "cannot be told yet" in found.sentence


def test_pairs_of_the_sleep_data():
    found = paired_difference(*SLEEP)
    assert_allclose((found.statistic, found.p), (-4.062128, 0.002833), atol=6e-7)  # independent: scipy 1.17.1
    assert found.outcome == "lower"
    assert found.sentence.startswith("The first is lower than the second (−1.58, 95% interval −2.46 to −0.70")


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
def test_agrees_with_scipy(seed, confidence):
    random = np.random.default_rng(seed)
    one, two = random.normal(10, 1, 4 + seed), random.normal(11, 3, 7)
    found, expected = welch_difference(one, two, confidence), stats.ttest_ind(one, two, equal_var=False)
    interval = expected.confidence_interval(confidence)  # independent: scipy
    assert_allclose((found.low, found.high, found.p), (interval.low, interval.high, expected.pvalue), rtol=1e-10)
    found, expected = paired_difference(one[:4], two[:4], confidence), stats.ttest_rel(one[:4], two[:4])
    interval = expected.confidence_interval(confidence)
    assert_allclose((found.low, found.high, found.p), (interval.low, interval.high, expected.pvalue), rtol=1e-10)


def test_a_large_common_part_costs_no_digits():
    one, two = np.array([0.125, 0.25, 0.5]), np.array([0.5, 0.75, 0.875])  # exact in binary, also with 2⁴⁰
    near, far = welch_difference(one, two), welch_difference(one + 2**40, two + 2**40)
    assert_allclose((far.difference, far.low, far.high), (near.difference, near.low, near.high), rtol=1e-12)


def test_exchange_of_the_groups_turns_the_sign():
    first, second = [3.1, 2.9, 3.4, 3.0], [4.0, 4.4, 4.1, 4.6]
    one, two = welch_difference(first, second), welch_difference(second, first)
    assert (one.outcome, two.outcome) == ("lower", "higher")
    assert_allclose((one.low, one.high), (-two.high, -two.low), rtol=1e-12)


@pytest.mark.parametrize(
    ("one", "two", "words"),
    [([3.0], [4.0, 4.1], "single coupon"), ([3.0, 3.0], [4.0, 4.0], "spread"), ([3.0], [4.0], "single coupon")],
)
def test_too_little_to_compare_cannot_tell_yet(one, two, words):
    found = welch_difference(one, two)
    assert (found.outcome, found.low, found.p) == ("cannot tell yet", None, None)
    assert words in found.sentence
    assert found.difference == pytest.approx(np.mean(one) - np.mean(two))


def test_one_group_without_spread_is_compared():
    found, expected = welch_difference([3.0, 3.0, 3.0], [4.0, 4.2, 4.1]), stats.t.interval(0.95, 2, 4.1, 0.1 / 3**0.5)
    # hand: the first group adds nothing, so ν = 2 and the interval is that of the second mean
    assert_allclose((found.low, found.high), (3 - expected[1], 3 - expected[0]), rtol=1e-9)


def test_pairs_with_equal_differences_cannot_tell_yet():
    assert paired_difference([2.0, 3.0, 4.0], [1.0, 2.0, 3.0]).outcome == "cannot tell yet"
    assert paired_difference([2.0], [1.0]).outcome == "cannot tell yet"


def test_equivalence_is_two_one_sided_tests():
    random = np.random.default_rng(5)
    one, two = random.normal(10, 0.5, 9), random.normal(10.1, 0.8, 7)
    found = equivalence(one, two, (-1, 1))
    # independent: scipy, each one-sided test with the margin subtracted
    above = stats.ttest_ind(one + 1, two, equal_var=False, alternative="greater").pvalue
    below = stats.ttest_ind(one - 1, two, equal_var=False, alternative="less").pvalue
    assert_allclose(found.p, max(above, below), rtol=1e-10)
    paired = equivalence(one[:7], two, (-1, 1), paired=True)
    above = stats.ttest_rel(one[:7] + 1, two, alternative="greater").pvalue
    below = stats.ttest_rel(one[:7] - 1, two, alternative="less").pvalue
    assert_allclose(paired.p, max(above, below), rtol=1e-10)


@pytest.mark.parametrize("half", [0.2, 0.5, 0.8, 1.1, 1.4, 3.0])
def test_equivalent_exactly_when_the_interval_lies_within_the_margins(half):
    found = equivalence([10.1, 9.6, 10.4, 9.9], [9.7, 10.2, 9.5, 10.0, 9.8], (-half, half))
    assert (found.outcome == "equivalent") == (-half < found.low and found.high < half)


def test_a_single_coupon_is_never_equivalent():
    found = equivalence([1.0], [1.0, 1.1], (-5, 5))
    assert (found.outcome, found.p) == ("cannot tell yet", None)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: welch_difference([], [1.0, 2.0]), "no values"),
        (lambda: welch_difference([1.0, math.nan], [1.0, 2.0]), "NaN"),
        (lambda: welch_difference([1.0, 2.0], [1.0, 2.0], confidence=0), "confidence"),
        (lambda: paired_difference([1.0, 2.0], [1.0, 2.0, 3.0]), "pairs"),
        (lambda: equivalence([1.0, 2.0], [1.0, 2.0], (1, -1)), "order"),
        (lambda: equivalence([1.0, 2.0], [1.0, 2.0], (-1, 1), alpha=0.5), "alpha"),
    ],
)
def test_input_that_is_none_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


@pytest.mark.parametrize("call", [welch_difference, paired_difference, lambda *a: equivalence(*a, (-1, 1))])
@pytest.mark.parametrize("values", [([[1.0, 2.0], [3.0, 4.0]], [[1.0, 2.0], [3.0, 4.0]]), (1.0, 2.0)])
def test_anything_but_one_value_a_coupon_is_refused(call, values):
    with pytest.raises(ValueError, match="one value a coupon is expected"):
        call(*values)


def test_a_sentence_does_not_round_the_confidence_up():
    assert "99.5% interval" in welch_difference([1, 2, 3], [7, 8, 9.5], 0.995).sentence
    assert "97.5% interval" in equivalence([1, 2, 3], [1, 2, 3.5], (-9, 9), alpha=0.0125).sentence
    assert " 95% interval" in welch_difference([1, 2, 3], [7, 8, 9.5]).sentence


def test_a_sentence_has_minus_signs():
    said = equivalence([1, 2, 3], [1, 2, 3.5], (-4, 4)).sentence
    assert said.startswith("The difference lies within −4.00 to 4.00 (−2.17 to 1.84")
    assert "−1.00 to 1.00" in equivalence([1, 1], [1, 1], (-1, 1)).sentence


def test_a_margin_may_be_open():
    """Limit: with one margin at infinity the other test alone decides (scipy, one-sided)."""
    one, two = [1.0, 2, 3], [1.0, 2, 3.5]
    found = equivalence(one, two, (-math.inf, 4))
    below = stats.ttest_ind(np.array(one) - 4, two, equal_var=False, alternative="less").pvalue
    assert_allclose(found.p, below, rtol=1e-10)
    assert found.outcome == "equivalent"
