"""Angles on smooth and rough solids, adhesion and equilibrium angle against worked numbers and exact limits."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.angles import (
    DEWETTING,
    PARTIAL,
    SPREADING,
    mean_angle_deg,
    smooth_angle_from_wenzel_deg,
    tadmor_angle_deg,
    tadmor_weight,
    wenzel_angle_deg,
    work_of_adhesion,
    young_angle_deg,
    young_balance,
)
from tests.analysis.tables import table

EQUILIBRIUM = table("equilibrium_angles")


@pytest.mark.parametrize(
    ("tensions", "expected"),
    [
        # independent: numpy 2.4.6, to four decimals
        ((45, 12, 72.8), 63.0446),
        ((25, 20, 50), 84.2608),
        ((30, 45, 40), 112.0243),  # a web page prints 111.0
    ],
)
def test_young(tensions, expected):
    assert_allclose(young_angle_deg(*tensions), expected, atol=6e-5)


@pytest.mark.parametrize(
    ("tensions", "angle"),
    [((30, 30, 40), 90), ((40, 10, 30), 0), ((10, 40, 30), 180), ((80.1, 7.3, 72.8), 0), ((20, 0, 40), 60)],
)
def test_young_reaches_its_limits(tensions, angle):
    """Limit: exact cosines; 80.1 − 7.3 exceeds 72.8 only by rounding."""
    assert_allclose(young_angle_deg(*tensions), angle, atol=1e-12)


@pytest.mark.parametrize(("tensions", "word"), [((60, 10, 40), SPREADING), ((10, 60, 40), DEWETTING)])
def test_young_refuses_to_name_an_angle_that_does_not_exist(tensions, word):
    with pytest.raises(ValueError, match=word):
        young_angle_deg(*tensions)
    with pytest.raises(ValueError, match=word):
        young_angle_deg([tensions[0], 30], [tensions[1], 30], 40)


def test_balance_tells_the_state_of_each_combination():
    found = young_balance([[60.0], [10.0], [math.nan]], [10.0, 60.0], 40.0)
    assert found.state.tolist() == [[SPREADING, PARTIAL], [PARTIAL, DEWETTING], ["", ""]]
    assert_allclose(found.angle_deg, [[np.nan, 90], [90, np.nan], [np.nan, np.nan]])  # limit
    assert_allclose(found.spreading_coefficient[:2], [[10, -40], [-40, -90]])  # hand: γSV − γSL − γLV
    single = young_balance(60, 10, 40)
    assert (single.state, type(single.angle_deg), single.spreading_coefficient) == (SPREADING, float, 10.0)


@pytest.mark.parametrize("tensions", [(-1, 10, 40), (10, -1, 40), (10, 10, 0), (math.nan, 10, 40), (10, 10, math.inf)])
def test_impossible_tensions_are_refused(tensions):
    with pytest.raises(ValueError, match="tension"):
        young_balance(*tensions)


@pytest.mark.parametrize(("angle", "roughness", "expected"), [(105, 1.5, 112.844), (60, 1.5, 41.410)])
def test_wenzel(angle, roughness, expected):
    """Independent: numpy 2.4.6."""
    assert_allclose(wenzel_angle_deg(angle, roughness), expected, atol=6e-4)


def test_wenzel_saturates_and_leaves_the_smooth_solid_alone():
    """Limit: r = 1 changes nothing; r·cos θ beyond ±1 gives 0° or 180°; 90° stays."""
    angles = np.array([0, 1e-3, 30, 90, 150, 179.999, 180])
    assert_allclose(wenzel_angle_deg(angles, 1), angles, atol=1e-7)
    assert_allclose(wenzel_angle_deg([45, 135, 90], [1.5, 1.5, 50]), [0, 180, 90], atol=1e-6)


def test_wenzel_amplifies_what_the_smooth_solid_is():
    for roughness in (1.1, 1.5, 1.9):
        assert wenzel_angle_deg(85, roughness) < 85 < 95 < wenzel_angle_deg(95, roughness)


def test_smooth_angle_behind_an_apparent_one():
    """Published: Hennig et al., Tenside Surf. Det. 39 (2002) 243: 154° at r = 2.3; 113.00° by numpy 2.4.6."""
    assert_allclose(smooth_angle_from_wenzel_deg(154, 2.3), 113.00, atol=6e-3)
    assert_allclose(wenzel_angle_deg(smooth_angle_from_wenzel_deg([20, 154], 2.3), 2.3), [20, 154])  # limit
    for saturated in (0, 180):
        with pytest.raises(ValueError, match="apparent angle"):
            smooth_angle_from_wenzel_deg(saturated, 2.3)


@pytest.mark.parametrize("roughness", [0.99, -1, math.nan, math.inf])
def test_a_surface_cannot_be_smaller_than_its_projection(roughness):
    with pytest.raises(ValueError, match="roughness"):
        wenzel_angle_deg(100, roughness)


def test_work_of_adhesion():
    assert_allclose(work_of_adhesion(72.8, 110), 47.901, atol=6e-4)  # independent: numpy 2.4.6
    assert_allclose(work_of_adhesion(50, [0, 90, 180]), [100, 50, 0], atol=1e-12)  # limit


@pytest.mark.parametrize("row", EQUILIBRIUM.to_dict("records"), ids=str)
def test_equilibrium_angle(row):
    pair = row["advancing_deg"], row["receding_deg"]
    weights = [tadmor_weight(angle) for angle in pair]
    assert_allclose(weights, (row["advancing_weight"], row["receding_weight"]), atol=6e-6)
    assert_allclose(tadmor_angle_deg(*pair), row["tadmor_deg"], atol=6e-4)
    assert_allclose(mean_angle_deg(*pair), row["cosine_mean_deg"], atol=6e-4)


def test_equilibrium_angles_of_a_table_at_once():
    found = tadmor_angle_deg(EQUILIBRIUM["advancing_deg"].to_numpy(), EQUILIBRIUM["receding_deg"].to_numpy())
    assert_allclose(found, EQUILIBRIUM["tadmor_deg"], atol=6e-4)


@pytest.mark.parametrize("angle", [0, 1e-6, 0.1, 45, 90, 135, 179.9, 179.999999, 180])
def test_equal_angles_come_back(angle):
    """Limit."""
    assert_allclose(tadmor_angle_deg(angle, angle), angle, atol=1e-12)
    assert_allclose(mean_angle_deg(angle, angle), angle, atol=1e-12)


def test_equilibrium_angle_at_the_ends():
    """Limit: Γ is infinite at 0° and 0 at 180°; both means are guarded there."""
    assert tadmor_weight(0) == math.inf
    assert_allclose(tadmor_weight([180, math.nan]), [0, math.nan])
    assert_allclose(tadmor_angle_deg([60, 180, 180, math.nan], [0, 60, 0, 50]), [0, 60, 0, math.nan], atol=1e-9)
    assert_allclose(mean_angle_deg(180, 0), 90)


def test_equilibrium_angle_lies_between_its_two():
    chance = np.random.default_rng(7)
    receding, advancing = np.sort(chance.uniform(0, 180, (2, 500)), axis=0)
    for found in (tadmor_angle_deg(advancing, receding), mean_angle_deg(advancing, receding)):
        assert np.all((receding <= found) & (found <= advancing))


def test_receding_above_advancing_has_no_equilibrium_angle():
    with pytest.raises(ValueError, match="receding angle 91 deg lies above the advancing one 90 deg"):
        tadmor_angle_deg([100, 90], [80, 91])
    assert_allclose(mean_angle_deg(80, 100), mean_angle_deg(100, 80))  # the mean knows no order


@pytest.mark.parametrize("bad", [-0.1, 180.1, math.nan, math.inf])
def test_impossible_angles_are_refused(bad):
    for function in (
        lambda angle: wenzel_angle_deg(angle, 1.2),
        lambda angle: work_of_adhesion(72, angle),
        lambda angle: tadmor_angle_deg(170, angle),
        lambda angle: mean_angle_deg(angle, 60),
        tadmor_weight,
    ):
        with pytest.raises(ValueError, match="angle"):
            function(bad)


def test_gaps_of_a_table_stay_where_they_are():
    gap = np.array([[100.0, math.nan], [60.0, 90.0]])
    for found in (wenzel_angle_deg(gap, 1.1), work_of_adhesion(50, gap), mean_angle_deg(gap, 50)):
        assert np.isnan(found).tolist() == np.isnan(gap).tolist()
    assert wenzel_angle_deg([], 1.5).shape == (0,)
    assert type(wenzel_angle_deg(100, 1.1)) is float
