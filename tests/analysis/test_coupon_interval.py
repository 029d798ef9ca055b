"""From coupon values to the batch: which mean, on which scale, and never outside the physical range."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.batch import analyse_batch
from analysis.coupon_interval import CENSORED, STUDENT, TRANSFORMED, coupon_interval, coupon_tolerance, in_range
from analysis.criteria import judge
from analysis.quantities import QUANTITIES
from analysis.records import CouponValue, Criterion
from analysis.statistics.nested_censoring import nested_censored_mean
from tests.analysis.runs import make_sliding

HYSTERESIS, SLIDING = QUANTITIES["hysteresis"], QUANTITIES["sliding_angle"]


def coupons(values):
    return [CouponValue(f"C{n}", "treated", value, 5) for n, value in enumerate(values)]


def sliding_runs(*drops, **changes):
    return [make_sliding(row, code=f"R{n}", coupon=f"C{n}", **changes) for n, row in enumerate(drops)]


def test_plain_values_take_students_t():
    values = [2.36, 1.88, 2.32, 1.66, 2.10, 1.48]
    found = coupon_interval(coupons(values), HYSTERESIS)
    sem = stats.sem(values)
    assert_allclose((found.low, found.high), stats.t.interval(0.95, 5, np.mean(values), sem), rtol=1e-12)  # independent
    assert (found.how, found.formula) == ("", STUDENT)


def test_values_near_an_end_take_the_transformed_scale_and_say_which_mean_it_is():
    """Published arithmetic of the check data for values near 0 (log scale): median 1.447 (0.665 to 3.149)."""
    values = [0.4, 0.6, 0.9, 1.1, 1.5, 2.2, 3.9, 6.3]
    assert coupon_interval(coupons(values), HYSTERESIS).formula == STUDENT  # t interval 0.416 to 3.809: inside
    found = coupon_interval(coupons(values[-3:]), HYSTERESIS)  # three coupons: t interval would begin below 0
    assert found.formula == TRANSFORMED
    assert "median" in found.how
    assert 0 < found.low < found.mean < found.high
    logit = np.log(np.array(values[-3:]) / (180 - np.array(values[-3:])))
    ends = stats.t.interval(0.95, 2, logit.mean(), stats.sem(logit))  # independent: scipy on the logit scale
    assert_allclose((found.low, found.high), [180 / (1 + math.exp(-end)) for end in ends], rtol=1e-9)


def test_a_value_on_the_end_itself_is_cut_there():
    found = coupon_interval(coupons([0.0, 0.0, 3.0]), HYSTERESIS)
    assert found.low == 0
    assert found.mean == pytest.approx(1.0)


def test_impossible_values_are_left_to_the_checks():
    assert coupon_interval(coupons([-1.0, 0.5, 2.0]), HYSTERESIS).formula == STUDENT


def test_one_coupon_has_a_mean_and_no_interval():
    found = coupon_interval(coupons([2.0]), HYSTERESIS)
    assert (found.mean, found.low, found.high) == (2.0, None, None)


def test_drops_that_did_not_move_enter_one_likelihood_over_coupons_and_drops():
    drops = ([12.0, 18.0, ">30"], [14.0, 16.0, 21.0], [19.0, ">30", ">30"], [11.0, 15.0, 17.0])
    [group] = analyse_batch(sliding_runs(*drops)).groups
    stated = group.statistic("sliding_angle_mean")
    read = {
        f"C{n}": ([30.0 if isinstance(x, str) else x for x in row], [isinstance(x, str) for x in row])
        for n, row in enumerate(drops)
    }
    expected = nested_censored_mean(read)
    assert (stated.value, stated.low, stated.high) == (expected.mean, expected.low, expected.high)
    assert stated.formulas == (CENSORED,)
    assert "not moved kept as censored" in stated.note
    deleted = np.mean([np.mean([x for x in row if not isinstance(x, str)]) for row in drops])
    assert stated.value > deleted  # to delete what never moved would flatter the batch


def test_criterion_holds_that_interval_against_the_limit():
    runs = sliding_runs([12.0, 18.0, ">30"], [14.0, 16.0, 21.0], [19.0, 22.0, ">30"], [11.0, 15.0, 17.0])
    [group] = analyse_batch(runs).groups
    high = group.statistic("sliding_angle_mean").high
    for limit, verdict in ((high + 0.1, "pass"), (high - 0.1, "inconclusive")):
        [found] = judge([Criterion("C1", "mean_interval", "sliding_angle", limit)], runs).outcomes
        assert found.verdict == verdict
        assert found.high == pytest.approx(high)


def test_a_coupon_that_never_moved_keeps_the_batch_from_passing():
    runs = sliding_runs([2.0, 2.5, 3.0], [2.0, 2.2, 2.4], [2.1, 2.3, 2.6], [2.0, 2.1, 2.2], [">30", ">30", ">30"])
    [found] = judge([Criterion("C1", "mean_interval", "sliding_angle", 89.0)], runs).outcomes
    assert found.verdict == "inconclusive"


def test_likelihood_interval_never_begins_below_zero():
    runs = sliding_runs([1.0, 2.0, ">30"], [0.5, 3.0, 2.0], [1.0, 9.0, ">30"])
    [group] = analyse_batch(runs).groups
    assert group.statistic("sliding_angle_mean").low >= 0


def test_tolerance_limit_inside_the_range_is_the_normal_one():
    """Published factor for n = 6, coverage and confidence 90 %: 2.4937."""
    values = [109.0, 110.0, 111.0, 110.5, 109.5, 110.0]
    found = coupon_tolerance(values, QUANTITIES["receding_angle"], 0.9, 0.9, "upper")
    assert found.limit == pytest.approx(np.mean(values) + 2.4937 * np.std(values, ddof=1), abs=1e-4)


def test_tolerance_limit_near_zero_takes_the_transformed_scale():
    """Published arithmetic of the check data: normal theory would give 8.58, the log scale 28.0388 (95/95, upper)."""
    values = [0.4, 0.6, 0.9, 1.1, 1.5, 2.2, 3.9, 6.3]
    endless = QUANTITIES["lubricant_mass"]  # from 0 without an upper end: the logarithm
    found = coupon_tolerance(values, endless, 0.95, 0.95, "upper")
    assert found.limit == pytest.approx(28.0388, abs=5e-4)
    assert "logarithm" in found.how
    assert found.other < found.limit


def test_no_end_of_a_censored_mean_leaves_the_range_of_the_angle():
    """A drop that holds at 90° would need more than a tilt can give: past it there is no number."""
    at_wall = [[76.2, ">90", 76.2, 82.7, 65.9, 66.1], [44.4, 60.3, 57.9, 77.2], [16.9, 5.0]]
    runs = sliding_runs(*at_wall)
    free = nested_censored_mean(
        {
            f"C{n}": ([90.0 if x == ">90" else x for x in row], [x == ">90" for x in row])
            for n, row in enumerate(at_wall)
        }
    )
    assert free.high > 90  # the normal model knows no end
    found = analyse_batch(runs).groups[0].statistic("sliding_angle_mean")
    assert_allclose(found.value, free.mean, rtol=1e-9)
    assert (found.low, found.high) == (0, math.inf)
    most = judge([Criterion("C1", "mean_interval", "sliding_angle", 90.0)], runs).outcomes[0]
    assert (most.verdict, most.high) == ("inconclusive", math.inf)
    assert "beyond the stage limit" in most.why
    assert "passes for no limit" in most.turns


def test_a_mean_past_the_range_is_beyond_and_no_number():
    runs = sliding_runs([">90", 78.2, ">90", ">90"], [49.7, 50.8, ">90", ">90"])
    group = analyse_batch(runs).groups[0]
    assert group.statistic("sliding_angle_censored_drops").value == math.inf
    for key in ("sliding_angle_mean", "sliding_angle_median", "sliding_angle_censored_coupons"):
        for end in (group.statistic(key).low, group.statistic(key).value, group.statistic(key).high):
            assert end is None or end == math.inf or 0 <= end <= 90


@pytest.mark.parametrize(
    ("value", "expected"),
    [(None, None), (-3.0, 0), (0.0, 0), (45.0, 45), (90.0, 90), (90.1, math.inf), (math.inf, math.inf)],
)
def test_ends_of_the_range(value, expected):
    assert in_range(value, SLIDING) == expected
    assert in_range(-3.0, QUANTITIES["log_reduction"]) == -3  # without a lower end
