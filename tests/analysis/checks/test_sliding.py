"""The measured sliding angle against the retention relation, with the uncertainty that is honest here."""

import math
from statistics import stdev

import pytest
from numpy.testing import assert_allclose

from analysis.checks import retention_relation
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from tests.analysis.runs import make_angles, make_run, make_sliding

# The invented demo scenario: B05 and A06 of a lubricated batch, 10 µL water
B05 = make_angles([(113.1, 107.0), (112.7, 105.1), (113.5, 105.1), (113.9, 105.1), (111.0, 102.2)])
A06 = make_angles([(113.6, 111.6), (113.1, 110.6), (112.2, 111.9), (112.8, 111.8), (113.7, 112.1)])


def test_agreement_names_the_factor_and_its_length():
    check = retention_relation(make_sliding([13.5, 14.3, 16.1, 16.0, 20.9], companion=B05))
    assert check.outcome == HOLDS
    assert check.numbers["factor"].startswith("k = 1 with the width of the contact line")
    assert check.numbers["factor"] in check.why
    # hand: mean θa 112.84, θr 104.90; Δcos 0.13105; width of the flattened drop 2.94 mm (a cap: 2.80 mm);
    # 72 · 2.94 · 0.13105 / (997 · 9.80665 · 0.01) = 0.2837 -> 16.5°
    assert_allclose(check.numbers["predicted [°]"], 16.5, atol=0.15)
    share = math.sin(math.radians(16.0)) / math.sin(math.radians(check.numbers["predicted [°]"]))
    assert_allclose(check.numbers["k of the measured angle, with the width"], share, rtol=1e-9)  # limit: k = 1


def test_range_of_the_prediction():
    """Hand: relative variance of the sine = (u(Δcos)/Δcos)² + (0.3/72)² + 0.02² + 0.15², two of them either way."""
    check = retention_relation(make_sliding([16.0] * 3, companion=B05))
    scatter = stdev([6.1, 7.6, 8.4, 8.8, 8.8]) / math.sqrt(5)  # of the five hystereses, on the receding angle alone
    u_advancing, u_receding = math.radians(0.5), math.radians(math.hypot(0.5, scatter))
    advancing, receding = math.radians(112.84), math.radians(104.90)
    difference = math.cos(receding) - math.cos(advancing)
    u_difference = math.hypot(math.sin(receding) * u_receding, math.sin(advancing) * u_advancing)
    share = 2 * math.sqrt((u_difference / difference) ** 2 + (0.3 / 72) ** 2 + 0.02**2 + 0.15**2)
    sine = math.sin(math.radians(check.numbers["predicted [°]"]))
    expected = [math.degrees(math.asin(sine * (1 + sign * share))) for sign in (-1, 1)]
    assert_allclose([check.numbers[f"predicted, {end} [°]"] for end in ("low", "high")], expected, rtol=1e-6)


@pytest.mark.parametrize("angles", [[3.0, 3.1, 2.9], [29.0, 28.5, 29.5], [">30", ">30", 25.0]])
def test_disagreement(angles):
    assert retention_relation(make_sliding(angles, companion=B05)).outcome == DOES_NOT_HOLD


def test_a_median_beyond_the_stage_agrees_with_a_drop_that_cannot_slide():
    sticky = make_angles([(120.0, 60.0), (121.0, 61.0), (119.0, 59.5)])
    check = retention_relation(make_sliding([">30", ">30", ">30"], companion=sticky))
    assert check.outcome == HOLDS
    assert "“cannot slide”" in check.why
    assert math.isinf(check.numbers["predicted [°]"])


def test_a_hysteresis_within_its_uncertainty_cannot_tell():
    """On a surface of 1.5° hysteresis no measured angle could contradict the relation."""
    assert retention_relation(make_sliding([3.6, 5.0, 1.0, 1.5, 2.9], companion=A06)).outcome == CANNOT_TELL


@pytest.mark.parametrize(
    ("changes", "lacking"),
    [
        ({"companion": None}, "at least two drops with θa and θr"),
        ({"companion": make_angles([(113.0, 105.0)])}, "at least two drops"),
        ({"companion": make_angles([(105.0, 113.0), (105.0, 113.0)])}, "not above the advancing one"),
        ({"companion": B05, "liquid": None}, "surface tension and density of the liquid"),
        ({"companion": B05, "drop_volume_ul": None}, "the drop volume"),
    ],
)
def test_what_is_missing_is_named(changes, lacking):
    check = retention_relation(make_sliding([13.5, 14.3, 16.1], **changes))
    assert check.outcome == CANNOT_TELL
    assert lacking in check.why


def test_only_sliding_angles_are_judged():
    assert retention_relation(make_run("static_angle", [110.0])) is None
    assert retention_relation(make_sliding([], companion=B05)) is None
