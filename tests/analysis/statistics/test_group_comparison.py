"""Several recipes compared: analysis of variance and all pairs, against the e-Handbook and the poison data."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.group_comparison import all_pairs, two_way_anova
from analysis.statistics.moments import one_way_anova
from tests.analysis.tables import table

# published: NIST/SEMATECH e-Handbook 7.4.3 (three groups) and 7.4.7.1 (four)
GROUPS = {
    "1": [6.9, 5.4, 5.8, 4.6, 4.0],
    "2": [8.3, 6.8, 7.8, 9.2, 6.5],
    "3": [8.0, 10.5, 8.1, 6.9, 9.3],
    "4": [5.8, 3.8, 6.1, 5.6, 6.2],
}


def test_three_groups():
    found = one_way_anova({key: GROUPS[key] for key in "123"})
    assert_allclose((found.between_square_sum, found.within_square_sum), (27.897333, 17.452), atol=6e-7)
    assert_allclose((found.f_ratio, found.p_value), (9.591107, 0.003248), atol=6e-7)


def test_four_groups():
    found = one_way_anova(GROUPS)
    assert_allclose((found.between_square_sum, found.within_square_sum), (38.820, 21.292), atol=6e-7)
    assert_allclose(found.within_mean_square, 1.33075, atol=6e-6)
    assert_allclose((found.f_ratio, found.p_value), (9.723840, 0.000684), atol=6e-7)


@pytest.mark.parametrize(
    ("first", "second", "difference", "low", "high", "p"),
    [  # published: e-Handbook 7.4.7.1; p independent: scipy 1.17.1
        ("3", "1", 3.22, 1.1326, 5.3074, 0.00221),
        ("2", "1", 2.38, 0.2926, 4.4674, 0.02279),
        ("3", "2", 0.84, -1.2474, 2.9274, 0.66446),
        ("1", "4", -0.16, -2.2474, 1.9274, 0.99612),
        ("2", "4", 2.22, 0.1326, 4.3074, 0.03515),
        ("3", "4", 3.06, 0.9726, 5.1474, 0.00345),
    ],
)
def test_tukey(first, second, difference, low, high, p):
    pairs = {(pair.first, pair.second): pair for pair in all_pairs(GROUPS)}
    pair, sign = (pairs[first, second], 1) if (first, second) in pairs else (pairs[second, first], -1)
    ends = sorted((sign * pair.low, sign * pair.high))
    assert_allclose((sign * pair.difference, *ends), (difference, low, high), atol=6e-5)
    assert_allclose(pair.p, p, atol=6e-6)
    assert (pair.outcome == "cannot tell yet") == (low < 0 < high)
    assert ("cannot be told yet" in pair.sentence) == (low < 0 < high)


def test_half_width_is_that_of_the_studentised_range():
    # published: q.95(4, 16) 4.046093, half-width 2.087368
    pair = all_pairs(GROUPS)[0]
    assert_allclose((pair.high - pair.low) / 2, 2.087368, atol=6e-7)
    assert_allclose((pair.high - pair.low) / 2, 4.046093 * math.sqrt(1.33075 / 5), rtol=1e-6)


def test_two_groups_are_a_t_test():
    one, two = [3.1, 2.9, 3.4, 3.0], [4.0, 4.4, 4.1]
    pair = all_pairs({"A": one, "B": two})[0]
    expected = stats.ttest_ind(one, two)  # independent: scipy, equal spreads
    interval = expected.confidence_interval()
    assert_allclose((pair.low, pair.high, pair.p), (*interval, expected.pvalue), rtol=1e-6)


POISONS = table("box_cox_poisons")


@pytest.mark.parametrize(
    ("power", "squares", "ratios"),
    [  # independent: numpy on the published data of Box & Cox (1964); F from unrounded squares
        (-1, (20.4143, 34.8771, 1.5708, 8.6431), (28.3431, 72.6347, 1.0904)),
        (1, (0.92121, 1.03301, 0.25014, 0.80073), None),
    ],
)
def test_poisons(power, squares, ratios):
    lines = two_way_anova(POISONS["hours10"] ** power, POISONS["treatment"], POISONS["poison"])
    assert [line.df for line in lines] == [3, 2, 6, 36]
    assert_allclose([line.sum_of_squares for line in lines], squares, rtol=5e-5)
    if ratios:
        assert_allclose([line.f for line in lines[:3]], ratios, atol=5.1e-5)


def test_recipes_without_any_spread_have_no_interval():
    with pytest.raises(ValueError, match="spread"):
        all_pairs({"A": [1.0, 1.0], "B": [2.0, 2.0]})


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: all_pairs({"A": [1.0, 2.0]}), "compared"),
        (lambda: all_pairs({"A": [1.0], "B": [2.0]}), "single coupon"),
        (lambda: all_pairs({"A": [1.0, 2.0], "B": []}), "no values"),
        (lambda: all_pairs({"A": [1.0, math.nan], "B": [1.0]}), "NaN"),
        (lambda: two_way_anova([1, 2, 3], "aab", "cd"), "levels for 3"),
        (lambda: two_way_anova([1, 2, 3, 4], "aabb", "cdcd"), "two coupons"),
        (lambda: two_way_anova([1, 2, 3, 4, 5], "aabba", "cdccc"), "each combination"),
        (lambda: two_way_anova([1, 1, 3, 3, 5, 5, 7, 7], "aaaabbbb", "ccddccdd"), "spread"),
    ],
)
def test_what_cannot_be_compared_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_a_large_common_part_costs_no_digits():
    """Limit: sums of squares do not change with a common part (exact in binary here)."""
    values = [1.0, 2, 3, 4, 6, 5, 9, 8]
    near, far = (two_way_anova([v + part for v in values], "aaaabbbb", "ccddccdd") for part in (0, 2**40))
    assert [line.sum_of_squares for line in far] == [line.sum_of_squares for line in near]
    assert_allclose([line.sum_of_squares for line in near], [40.5, 12.5, 0.5, 2.0])  # hand: from the four means


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: all_pairs({"A": [1.0, 2.0, 3.0], "B": [4.0], "C": [5.0]}), "single coupon of B, C"),
        (lambda: all_pairs({"A": [[1.0, 2.0], [3.0, 4.0]], "B": [4.0, 5.0]}), "one value a coupon is expected"),
        (lambda: two_way_anova([[1, 2], [3, 4]], "ab", "cd"), "one value a coupon is expected"),
        (lambda: two_way_anova([0.1 + 0.2, 0.3, 2, 2, 3, 3, 4, 4], "aaaabbbb", "ccddccdd"), "spread"),  # rounding
    ],
)
def test_what_cannot_be_compared_is_named(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_a_sentence_does_not_round_the_confidence_up():
    pair = all_pairs({"A": [1, 2, 3], "B": [14, 15.5]}, unit="mN/m", confidence=0.995)[0]
    assert "mN/m, 99.5% interval for all pairs at once" in pair.sentence


def test_unequal_groups_are_those_of_tukey_and_kramer():
    """Independent (scipy): quantile of the studentised range times √(MSE/2·(1/n + 1/m))."""
    groups = {"A": [6.9, 5.4, 5.8], "B": [8.3, 6.8, 7.8, 9.2, 6.5], "C": [8.0, 10.5]}
    mse = sum(sum((v - sum(g) / len(g)) ** 2 for v in g) for g in groups.values()) / 7
    q = stats.studentized_range.ppf(0.9, 3, 7)
    for pair in all_pairs(groups, 0.9):
        half = q * math.sqrt(mse / 2 * (1 / len(groups[pair.first]) + 1 / len(groups[pair.second])))
        assert_allclose((pair.high - pair.low) / 2, half, rtol=1e-6)


def test_unequal_cells_are_judged_by_sums_of_squares_of_type_ii():
    """Independent (numpy): each factor beside the other, the interaction beside both, by what is left over."""
    values = np.array([1.0, 2, 3, 4.5, 6, 5, 9, 4, 2.5])
    a, b = np.array([0, 0, 0, 0, 1, 1, 1, 1, 0]), np.array([0, 0, 1, 1, 0, 0, 1, 0, 0])

    def left(*columns):
        design = np.column_stack([np.ones(9), *columns])
        return np.sum((values - design @ np.linalg.lstsq(design, values)[0]) ** 2)

    both, full = left(a, b), left(a, b, a * b)
    found = two_way_anova(values, a, b)
    assert_allclose([line.sum_of_squares for line in found], [left(b) - both, left(a) - both, both - full, full])
