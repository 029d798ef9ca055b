"""Control charts against worked examples of the handbook and of a textbook."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.statistics.chart_constants import c4, d2
from analysis.statistics.charts import (
    cusum_chart,
    ewma_chart,
    individuals_chart,
    mean_range_chart,
    mean_sd_chart,
)
from tests.analysis.tables import table

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
EWMA = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW]
CUSUM = [
    324.93, 324.68, 324.73, 324.35, 325.35, 325.23, 324.13, 324.53, 325.23, 324.60,
    324.63, 325.15, 328.33, 327.25, 327.83, 328.50, 326.68, 327.78, 326.88, 328.35,
]  # fmt: skip


def rings():
    return 74 + table("piston_rings").drop(columns="sample").to_numpy() / 1000


def test_handbook_individuals():
    # published data: e-Handbook 6.3.2.2, which prints 55.8041 and 45.8159 with 1.128; independent: exact d2
    chart = individuals_chart(FLOW)
    assert_allclose(chart.level.centre, 50.81)
    assert_allclose(chart.spread.centre, 1.8778, atol=5e-5)
    assert_allclose((chart.level.upper[0], chart.level.lower[0]), (55.8024, 45.8176), atol=5e-5)
    printed = chart.level.centre[0] + np.array([3, -3]) * chart.spread.centre[0] / 1.128
    assert_allclose(printed, (55.8041, 45.8159), atol=1e-4)
    assert_allclose(chart.spread.upper[0], 6.1347, rtol=2e-4)  # printed with 3.267; exact 3.2665
    assert chart.level.signals == chart.spread.signals == ()
    assert np.isnan(chart.spread.points[0])
    assert chart.spread.points.size == 10


def test_handbook_ewma():
    # published data and z: e-Handbook 6.3.2.4, two decimals; limits independent
    chart = ewma_chart(EWMA, 0.3, 3, centre=50, sigma=2.0539, is_asymptotic=True)
    z = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
         50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]  # fmt: skip
    assert_allclose(chart.points, z, atol=0.00501)
    assert_allclose((chart.upper[0], chart.lower[-1]), (52.5884, 47.4116), atol=5e-5)
    assert chart.signals == ()
    widening = ewma_chart(EWMA, 0.3, 3, centre=50, sigma=2.0539)
    assert_allclose((widening.upper - 50)[:5], [1.8485, 2.2564, 2.4314, 2.5127, 2.5516], atol=5e-5)
    assert_allclose(widening.upper[-1], chart.upper[-1], rtol=1e-6)  # limit: after twenty points
    assert "0.3" in chart.kind


def test_ewma_signals_and_limits():
    steps = [0.0] * 5 + [2.0] * 12
    shifted = ewma_chart(steps, 0.2, 2.962, centre=0, sigma=1, is_asymptotic=True)
    # hand: after k points at 2 the average is 2(1 − 0.8ᵏ), 0.976 and 1.181; the limit is 2.962·√(0.2/1.8) = 0.9873
    assert shifted.signals[0].position == 8
    # hand: at the eighth point the widening limit is 0.9873·√(1 − 0.8¹⁶) = 0.9734
    assert ewma_chart(steps, 0.2, 2.962, centre=0, sigma=1).signals[0].position == 7
    assert shifted.signals[0].text == "1: one point beyond 2.962σ of the average"
    assert_allclose(ewma_chart(FLOW, 1.0).points, FLOW)  # limit: λ = 1 keeps the points
    assert_allclose(ewma_chart(FLOW, 1.0).upper, individuals_chart(FLOW).level.upper)


def test_handbook_cusum():
    # published data, k, h: e-Handbook 6.3.2.3
    chart = cusum_chart(CUSUM, 325, 0.3175, 4.1959)
    assert_allclose(chart.high[12:], [3.0125, 4.9450, 7.4575, 10.64, 12.0025, 14.465, 16.0275, 19.06], atol=1e-9)
    assert_allclose(chart.high[:12], [0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0], atol=1e-9)
    low = [0, 0.0025, 0, 0.3325, 0, 0, 0.5525, 0.7050, 0.1575, 0.2400, 0.2925, 0, 0]
    assert_allclose(chart.low[:13], low, atol=1e-9)
    assert (chart.first_signal, chart.side) == (13, "above")
    assert chart.note.startswith("Point 14 is the first")


def test_cusum_below_and_without_a_signal():
    below = cusum_chart(650 - np.array(CUSUM), 325, 0.3175, 4.1959)  # limit: mirrored about the target
    assert (below.first_signal, below.side) == (13, "below")
    assert_allclose(below.low, cusum_chart(CUSUM, 325, 0.3175, 4.1959).high, atol=1e-9)
    quiet = cusum_chart([325.0], 325, 0.3, 4)
    assert (quiet.first_signal, quiet.side) == (None, "")
    assert "No sum exceeds 4" in quiet.note


def test_textbook_piston_rings():
    # published data: Montgomery; limits independent (exact constants)
    by_range, by_sd = mean_range_chart(rings(), base=25), mean_sd_chart(rings(), base=25)
    for chart, upper, lower in ((by_range, 74.014304, 73.988048), (by_sd, 74.014364, 73.987988)):
        assert_allclose(chart.level.centre, 74.001176, atol=5e-7)
        assert_allclose((chart.level.upper[0], chart.level.lower[0]), (upper, lower), atol=5.1e-7)
        assert [signal.position + 1 for signal in chart.level.signals] == [37, 38, 39]
        assert chart.level.n_base == 25
        assert chart.level.points.size == 40
    assert_allclose((by_range.spread.centre[0], by_range.spread.upper[0]), (0.022760, 0.048126), atol=5.1e-7)
    assert_allclose((by_sd.spread.centre[0], by_sd.spread.upper[0]), (0.00924004, 0.019302), atol=5.1e-7)
    assert by_range.spread.lower[0] == by_sd.spread.lower[0] == 0
    assert by_range.level.rules == ("1: one point beyond 3σ",)


def test_unequal_batches_have_limits_of_their_own():
    groups = [[1.0, 3.0], [2.0, 4.0, 3.0], [3.0, 3.5, 2.0, 4.0], [2.0, 2.5]]
    chart, other = mean_range_chart(groups), mean_sd_chart(groups)
    sizes = np.array([2, 3, 4, 2])
    sigma = np.mean(np.array([2, 2, 2, 0.5]) / d2(sizes))  # hand: ranges over d2 of each size
    assert_allclose(chart.level.sigma, sigma)
    assert_allclose(chart.level.upper - chart.level.centre, 3 * sigma / np.sqrt(sizes))
    assert_allclose(chart.spread.centre, sigma * d2(sizes))
    assert_allclose(chart.level.centre, sum(map(sum, groups)) / 11)
    sds = np.array([np.std(group, ddof=1) for group in groups])
    assert_allclose(other.level.sigma, np.mean(sds / c4(sizes)))


def test_run_rules_are_asked_and_printed():
    steps = [0.0, 1.0] * 8 + [0.9] * 9
    chart = individuals_chart(steps, base=16, rules=(1, 2), lengths={2: 8}).level
    assert chart.rules == ("1: one point beyond 3σ", "2: 8 in a row on one side of the centre")
    assert chart.signals[0].rule == 2
    assert chart.signals[0].position == 15 + 7  # hand: the 1.0 before the level part belongs to the run


def test_spread_out_of_its_limits_is_a_signal():
    groups = [[0.0, 1.0, 2.0, 1.0]] * 10 + [[0.0, 9.0, 5.0, 1.0]]
    for chart in (mean_range_chart(groups, base=10), mean_sd_chart(groups, base=10)):
        assert [signal.position for signal in chart.spread.signals] == [10]


def test_equal_values_have_limits_on_the_centre():
    chart = individuals_chart([5.0, 5.0, 5.0])
    assert chart.level.sigma == 0
    assert chart.level.signals == chart.spread.signals == ()
    assert_allclose((chart.level.upper, chart.level.lower), 5.0)
    assert [s.position for s in individuals_chart([5.0, 5.0, 6.0], base=2).level.signals] == [2]


@pytest.mark.parametrize("factor", [1e-6, 1e6])
def test_charts_follow_the_unit(factor):
    chart, scaled = individuals_chart(FLOW).level, individuals_chart(np.array(FLOW) * factor).level
    assert_allclose(scaled.upper, chart.upper * factor)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: individuals_chart([1.0]), "at least 2 points, not 1"),
        (lambda: individuals_chart([1.0, 2.0], base=3), "base must be a whole number from 2 to 2 points, not 3"),
        (lambda: individuals_chart([1.0, math.nan]), "NaN"),
        (lambda: individuals_chart([1.0, 2.0, 3.0], base=2.5), "base must be a whole number"),
        (lambda: individuals_chart([[1.0, 2.0], [3.0, 4.0]]), "one row of values"),
        (lambda: mean_range_chart([[1.0, 2.0]]), "at least 2 points"),
        (lambda: mean_range_chart(np.ones((3, 2, 2))), "one row of values"),
        (lambda: ewma_chart([1.0, 2.0], centre=math.nan, sigma=1), "centre"),
        (lambda: mean_sd_chart([[1.0], [2.0]]), "subgroup size"),
        (lambda: mean_sd_chart([[1.0, 2.0], [2.0, math.nan]]), "NaN"),
        (lambda: mean_range_chart([[1.0, 2.0], []]), "no values"),
        (lambda: ewma_chart([1.0, 2.0], weight=0), "weight"),
        (lambda: ewma_chart([1.0, 2.0], width=0), "width"),
        (lambda: ewma_chart([1.0, 2.0], sigma=-1), "sigma"),
        (lambda: cusum_chart([1.0], 1, -1, 4), "slack"),
        (lambda: cusum_chart([1.0], 1, 1, 0), "decision interval"),
        (lambda: cusum_chart([], 1, 1, 4), "no values"),
    ],
)
def test_what_makes_no_chart_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_one_value_makes_an_ewma_when_level_and_spread_are_known():
    assert_allclose(ewma_chart([2.0], 0.5, centre=0, sigma=1).points, [1.0])
