"""Run rules by number: each pattern, the point before it, and other run lengths."""

import math

import numpy as np
import pytest

from analysis.statistics.run_rules import ALL_RULES, rule_texts, run_lengths, run_rules


def found(points, rule, **more):
    return [signal.position for signal in run_rules(points, rules=(rule,), **more)]


UP = [-2.5, -1.2, -0.3, 0.4, 0.9, 1.7, 1.6]
SAW = [0.1, 0.5] * 7


@pytest.mark.parametrize(
    ("rule", "points", "positions"),
    # hand: each pattern as the rule words it; positions count from 0
    [
        (1, [0, 3.1, -3.2, 3.0, 2.9], [1, 2]),
        (2, [0.2] * 9 + [-0.1], [8]),
        (2, [0.2] * 8 + [0.0] + [0.2] * 8, []),  # a point on the centre ends the run
        (2, [-0.2] * 10, [8, 9]),
        (3, UP, [5]),  # six rising points are five steps
        (3, UP[:5], []),
        (3, [-x for x in UP], [5]),
        (3, [1, 2, 3, 4, 4, 5, 6], []),
        (4, SAW, [13]),
        (4, SAW[:13], []),
        (5, [2.1, 0.0, 2.2], [2]),
        (5, [2.1, -2.2, 0.0, 2.3], []),  # both sides; then the pair is four points apart
        (5, [2.1, 2.2], [1]),
        (5, [2.1, 2.2, 0.0], [1]),  # the point that completes a pattern belongs to it
        (6, [1.1, 1.2, 0.0, 1.3, 1.4], [4]),
        (6, [1.1, 1.2, -1.3, 1.4], []),
        (7, [0.5, -0.5, 0.9] * 5, [14]),
        (7, [0.5, -0.5, 1.0] * 5, [14]),  # on the limit is within
        (7, [0.5] * 14, []),
        (8, [1.5, -1.5] * 4, [7]),
        (8, [1.5] * 8, []),  # all on one side: rule 6 speaks, not rule 8
        (8, [1.5] * 7 + [-1.2], [7]),
        (8, [1.5] * 10 + [-1.2], [10]),
        (8, [1.5, -1.5] * 3 + [0.9, 1.5], []),
    ],
)
def test_pattern(rule, points, positions):
    assert found(points, rule) == positions


def test_other_run_lengths():
    assert found([0.2] * 8, 2, lengths={2: 8}) == [7]
    assert found([2.1, 0, 0, 2.2], 5, lengths={5: (2, 4)}) == [3]
    assert found([1, 2, 3, 4], 3, lengths={3: 4}) == [3]
    assert "8 in a row" in rule_texts((2,), {2: 8})[0]


def test_each_rule_is_printed_with_its_length():
    texts = rule_texts()
    assert [text[0] for text in texts] == list("12345678")
    assert texts[4] == "5: 2 of 3 beyond 2σ on the same side"


def test_unit_centre_and_direction_change_nothing():
    points = np.random.default_rng(4).normal(size=300)
    plain = run_rules(points)
    assert {signal.rule for signal in plain} >= {1, 2, 5, 6, 7} or len(plain) > 5
    assert run_rules(7 - 0.01 * points, centre=7, sigma=0.01) == plain  # limit: mirrored and rescaled
    varying = np.linspace(1, 3, 300)
    zones = (1, 2, 5, 6, 7, 8)
    assert run_rules(points * varying, sigma=varying, rules=zones) == run_rules(points, rules=zones)


def test_signals_come_in_order():
    places = [(signal.position, signal.rule) for signal in run_rules(np.full(20, 3.5))]
    assert places == sorted(places)
    assert {rule for _, rule in places} == {1, 2, 5, 6}


def test_a_point_computed_onto_a_limit_is_not_beyond_it():
    assert found([0.1 + 0.2], 1, sigma=0.1) == []  # 0.30000000000000004
    assert found([0.9], 1, sigma=0.3) == []


def test_no_spread_at_all():
    assert run_rules([5, 5, 5], centre=5, sigma=0) == ()
    assert [signal.position for signal in run_rules([5, 5, 6], centre=5, sigma=0, rules=(1,))] == [2]


def test_one_point():
    assert run_rules([0.5]) == ()
    assert [signal.rule for signal in run_rules([-4.0])] == [1]


@pytest.mark.parametrize("points", [[], [1.0, math.nan], [math.inf]])
def test_points_must_be_numbers(points):
    with pytest.raises(ValueError):
        run_rules(points)


def test_sigma_below_zero_is_refused():
    with pytest.raises(ValueError, match="sigma must be at least 0"):
        run_rules([1.0], sigma=-1)


@pytest.mark.parametrize(
    ("rules", "lengths"),
    [((9,), {}), ((0, 1), {}), ((1,), {2: 8}), ((1,), {1: 2}), ((5,), {5: 2}), ((5,), {5: (4, 3)}), ((2,), {2: 1}),
     ((2,), {2: (3, 4)}), ((6,), {6: (0, 3)}), ((2,), {2: 8.5}), ((2,), {2: math.nan}), ((5,), {5: (1, 2, 3)}),
     ((5,), {5: (1.5, 3)}), ((2,), {2: ()})],
)  # fmt: skip
def test_rules_that_do_not_exist_are_refused(rules, lengths):
    with pytest.raises(ValueError, match="rule"):
        run_lengths(rules, lengths)


def test_run_lengths_may_come_as_a_list():
    assert run_lengths((5,), {5: [2, 4]}) == {5: (2, 4)}


def test_windows_longer_than_the_points_find_nothing_too_early():
    assert run_rules([2.5, 2.5], rules=(2, 7, 8), lengths={2: 100}) == ()
    assert [signal.position for signal in run_rules([2.5, 2.5], rules=(5,), lengths={5: (2, 50)})] == [1]


@pytest.mark.parametrize("arguments", [{"sigma": [1.0, 2.0]}, {"centre": [0.0, 1.0]}])
def test_centre_and_sigma_have_one_value_a_point(arguments):
    with pytest.raises(ValueError, match=r"must be one number or one a point \(3\)"):
        run_rules([1.0, 2.0, 3.0], **arguments)


def test_no_rule_finds_nothing():
    assert run_rules([9.0], rules=()) == ()
    assert run_lengths(ALL_RULES)[2] == (9, 9)
