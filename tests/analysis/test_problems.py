"""What is wrong with readings before they are stored; each refusal names the value and the rule."""

import math

import pytest

from analysis.problems import reading_problems
from analysis.records import LOST, MOVED_ON_PLACING, NOT_MOVED, Reading

ANOTHER = "is not read by this method, which reads sliding_angle"
LOST_RULE = "needs a reason: the drop was lost"
LIMIT = {"stage_limit_deg": 30.0}


def problems(method, *readings, settings=LIMIT):
    return [(item.index, item.field, item.kind) for item in reading_problems(method, settings, readings)]


def sliding(value, qualifier="measured", **more):
    return Reading("sliding_angle", value, qualifier, **more)


@pytest.mark.parametrize(
    ("reading", "field", "kind", "rule"),
    [
        (sliding(31.0), "value", "beyond_stage_limit", "is beyond the stage limit of 30°"),
        (sliding(91.0), "value", "out_of_range", "is outside 0 to 90°"),
        (sliding(-0.1), "value", "out_of_range", "is outside 0 to 90°"),
        (sliding(None), "value", "value_missing", "needs a number in °"),
        (sliding(math.nan), "value", "not_a_number", "is not a number in °"),
        (sliding(-math.inf), "value", "not_a_number", "is not a number in °"),
        (sliding("12"), "value", "not_a_number", "is not a number in °"),
        (sliding(True), "value", "not_a_number", "is not a number in °"),
        (sliding(45.0, NOT_MOVED), "value", "beyond_stage_limit", "is beyond the stage limit of 30°"),
        (sliding(None, NOT_MOVED), "value", "value_missing", "needs a number in °"),
        (sliding(None, LOST), "reason", "lost_without_reason", LOST_RULE),
        (sliding(None, LOST, reason=" "), "reason", "lost_without_reason", LOST_RULE),
        (sliding(5.0, "guessed"), "qualifier", "qualifier_not_offered", "is not offered for sliding angle"),
        (Reading("static_angle", 90.0), "quantity", "unknown_quantity", ANOTHER),
        (Reading("no_such_thing", 90.0), "quantity", "unknown_quantity", ANOTHER),
    ],
)  # fmt: skip
def test_each_rule_names_itself(reading, field, kind, rule):
    (found,) = reading_problems("sliding_angle", LIMIT, [reading])
    assert (found.index, found.field, found.kind, found.rule) == (0, field, kind, rule)


@pytest.mark.parametrize(
    "reading",
    [sliding(30.0), sliding(0), sliding(30.0, NOT_MOVED), sliding(0.0, MOVED_ON_PLACING),
     sliding(None, LOST, reason="rolled off the edge")],
)  # fmt: skip
def test_readings_at_the_edge_of_the_rules_are_fine(reading):
    assert problems("sliding_angle", reading) == []


def test_without_a_stage_limit_only_the_bounds_of_the_quantity_hold():
    assert problems("sliding_angle", sliding(80.0), settings={}) == []


def test_angles_beyond_180_are_out_of_range():
    assert problems("static_angle", Reading("static_angle", 180.1)) == [(0, "value", "out_of_range")]
    assert problems("static_angle", Reading("static_angle", 180.0)) == []


@pytest.mark.parametrize("qualifier", [NOT_MOVED, MOVED_ON_PLACING])
def test_a_contact_angle_cannot_fail_to_move(qualifier):
    assert problems("static_angle", Reading("static_angle", 90.0, qualifier)) == [
        (0, "qualifier", "qualifier_not_offered")
    ]


def test_the_same_drop_twice_is_a_duplicate():
    assert problems("sliding_angle", sliding(4.0), sliding(5.0)) == [(1, "drop", "duplicate")]
    other = sliding(5.0, drop=2), sliding(5.0, position="2"), sliding(5.0, direction="across")
    assert problems("sliding_angle", sliding(4.0), *other) == []


def angles(advancing, receding, **more):
    return Reading("advancing_angle", advancing, **more), Reading("receding_angle", receding, **more)


def test_receding_above_advancing_of_the_same_drop():
    (found,) = reading_problems("advancing_receding", {}, angles(104.0, 104.1))
    assert (found.index, found.kind) == (1, "receding_above_advancing")
    assert found.rule == "is above the advancing angle of the same drop, 104°"
    assert problems("advancing_receding", *angles(104.0, 104.0)) == []
    assert problems("advancing_receding", *angles(104.0, 105.0, excluded=True, reason="needle")) == []


def test_two_drops_are_not_a_pair():
    readings = Reading("advancing_angle", 104.0, drop=1), Reading("receding_angle", 110.0, drop=2)
    assert problems("advancing_receding", *readings) == []


def test_problems_come_in_the_order_of_the_readings():
    found = problems("sliding_angle", sliding(31.0), sliding(None, drop=2), sliding(5.0))
    assert [index for index, *_ in found] == [0, 1, 2]


def test_unknown_method_is_a_mistake_of_the_caller():
    with pytest.raises(KeyError):
        reading_problems("no_such_method", {}, [])
