"""Size of the drop, evaporation, calibration: each outcome, and the sentence."""

import dataclasses
from datetime import date

import pytest
from numpy.testing import assert_allclose

from analysis.checks import calibration, drop_size, evaporation
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, Material, Value
from tests.analysis.runs import WATER, make_angles, make_run, make_sliding


def static(fit, **changes):
    return make_run("static_angle", [150.0, 150.0], settings={"wait_s": 5.0, "fit": fit}, **changes)


@pytest.mark.parametrize(
    ("fit", "outcome"),
    [
        ("circle", DOES_NOT_HOLD),
        ("spherical cap from height and width", DOES_NOT_HOLD),
        ("Young–Laplace", HOLDS),
        ("tangent", HOLDS),
        ("as usual", CANNOT_TELL),
    ],
)
def test_a_large_drop_needs_a_fit_that_allows_for_gravity(fit, outcome):
    check = drop_size(static(fit))
    assert check.outcome == outcome
    # independent: scipy solve_ivp, water at 20 °C, 10 µL at 150°: a cap fit reports 137.15
    assert_allclose(check.numbers["a circle fit reads too low by [°]"], 150 - 137.15, atol=0.15)
    assert_allclose(check.numbers["Bond number (R₀/lc)²"], 0.2430, atol=6e-4)  # hand: (1.33650/2.7137)²


def test_a_small_drop_may_be_read_with_any_fit():
    assert drop_size(static("circle", drop_volume_ul=0.1)).outcome == HOLDS


def test_drop_size_cannot_be_told_without_the_liquid():
    check = drop_size(static("circle", liquid=Material("X", "unknown", {})))
    assert check.outcome == CANNOT_TELL
    assert check.why == "Cannot be computed without surface tension and density of the liquid."
    assert drop_size(make_sliding([3.0, 4.0])) is None  # no angle was read


def test_evaporation_of_a_drop_read_at_once_and_of_one_read_late():
    check = evaporation(make_sliding([4.0, 5.0], drop_volume_ul=10.0))
    assert check.outcome == HOLDS
    assert check.numbers["time on the surface [s]"] == 15.0  # hand: 10 s wait + 5° at 1°/s
    late = make_run("static_angle", [110.0], settings={"wait_s": 300.0}, drop_volume_ul=5.0, room_temperature_c=25.0)
    check = evaporation(late)
    assert check.outcome == DOES_NOT_HOLD
    assert_allclose(check.numbers["predicted loss [%]"], 15, atol=0.5)  # independent: 5 µL, 25 °C, 50 %, 5 min


def test_time_on_the_surface_of_a_needle_run():
    """Hand: 6 µL in and out at 0.5 µL/s is 24 s, and 10 s of pause."""
    assert evaporation(make_angles([(113, 111)])).numbers["time on the surface [s]"] == 34.0


def test_drops_that_did_not_move_stayed_for_the_whole_tilt():
    assert evaporation(make_sliding([4.0, ">30"])).numbers["time on the surface [s]"] == 40.0  # hand: 10 + 30


@pytest.mark.parametrize(
    "changes",
    [
        {"room_humidity_pct": None},
        {"room_temperature_c": None},
        {"room_temperature_c": -20.0},
        {"settings": {}},
        {"liquid": None},
        {"liquid": Material("H", "hexadecane", {"surface_tension": Value(27.5, "mN/m", "invented")})},
    ],
)
def test_evaporation_cannot_be_told(changes):
    check = evaporation(make_sliding([4.0, 5.0], **changes))
    assert (check.outcome, check.numbers) == (CANNOT_TELL, {})


def test_salt_solutions_count_as_water():
    brine = dataclasses.replace(WATER, properties={"surface_tension": Value(73.5, "mN/m", "invented")})
    assert evaporation(make_sliding([4.0], liquid=brine)).outcome == HOLDS


@pytest.mark.parametrize(
    ("due", "outcome"),
    [(date(2025, 3, 1), HOLDS), (date(2025, 2, 28), DOES_NOT_HOLD), (None, CANNOT_TELL)],
)
def test_calibration_on_the_day_of_the_run(due, outcome):
    check = calibration(make_sliding([4.0], calibration_due=due))
    assert check.outcome == outcome
    if outcome == DOES_NOT_HOLD:
        assert check.why == "Read on 2025-03-01, 1 day after the calibration was due on 2025-02-28."


def test_calibration_without_a_day_cannot_be_told():
    assert calibration(make_sliding([4.0], observed_at=None)).outcome == CANNOT_TELL
