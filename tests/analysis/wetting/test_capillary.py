"""The shape of a resting drop against tables, exact limits and the balance of forces."""

import math

import pytest
from numpy.testing import assert_allclose

from analysis.wetting.capillary import (
    GRAVITY,
    bond_number,
    cap_drop,
    capillary_length_mm,
    puddle_height_mm,
    resting_drop,
)
from tests.analysis.tables import table

WATER = (72.736, 998.207)  # tension [mN/m] and density [kg/m3] at 20 °C


@pytest.mark.parametrize(
    ("tension", "density", "expected"),
    [
        (72.736, 998.207, 2.7259),  # independent: numpy 2.4.6 with tension by IAPWS, density by iapws 1.5.5
        (27.47, 773, 1.904),  # independent: numpy 2.4.6
        (20.1, 930, 1.485),
        (17, 1900, 0.955),
        (48.0, 1113, 2.097),
    ],
)
def test_capillary_length(tension, density, expected):
    assert_allclose(capillary_length_mm(tension, density), expected, atol=6e-4)


@pytest.mark.parametrize(("angle", "expected"), [(60, 2.726), (90, 3.855), (110, 4.466), (150, 5.266), (180, 5.452)])
def test_puddle_height_of_water(angle, expected):
    """Independent: numpy 2.4.6."""
    assert_allclose(puddle_height_mm(angle, *WATER), expected, atol=6e-4)


@pytest.mark.parametrize("row", table("spherical_caps").to_dict("records"), ids=str)
def test_spherical_cap(row):
    cap = cap_drop(row["volume_ul"], row["angle_deg"])
    found = cap.top_radius_mm, cap.base_radius_mm, cap.height_mm
    assert_allclose(found, (row["radius_mm"], row["base_radius_mm"], row["height_mm"]), atol=6e-5)
    assert_allclose(cap.cap_fit_angle_deg, row["angle_deg"], atol=1e-9)  # limit: the cap fit of a cap is exact


@pytest.mark.parametrize("row", table("resting_drops").to_dict("records"), ids=str)
def test_drop_flattened_by_gravity(row):
    drop = resting_drop(row["volume_ul"], row["angle_deg"], *WATER)
    assert_allclose(drop.top_radius_mm, row["top_radius_mm"], atol=6e-5)
    assert_allclose(drop.base_radius_mm, row["base_radius_mm"], atol=6e-5)
    assert_allclose(drop.height_mm, row["height_mm"], atol=6e-5)
    assert_allclose(drop.cap_fit_angle_deg, row["cap_fit_deg"], atol=6e-3)


@pytest.mark.parametrize(("volume", "angle"), [(1, 20), (5, 90), (10, 113), (30, 150), (100, 175), (400, 60)])
def test_forces_on_the_resting_drop_balance(volume, angle):
    """Hand: weight = pressure at the base times its area − vertical pull of the contact line, all in µN."""
    tension, density = WATER
    drop = resting_drop(volume, angle, tension, density)
    weight = density * GRAVITY * volume * 1e-3
    pressure = 2 * tension / drop.top_radius_mm + density * GRAVITY * drop.height_mm * 1e-3  # Pa = µN/mm² · 1
    pull = 2 * math.pi * drop.base_radius_mm * tension * math.sin(math.radians(angle))
    assert_allclose(weight, pressure * math.pi * drop.base_radius_mm**2 - pull, rtol=2e-5)


def test_tiny_drop_is_a_spherical_cap():
    """Limit: without weight the outline is a circle."""
    drop, cap = resting_drop(1e-5, 110, *WATER), cap_drop(1e-5, 110)
    assert_allclose((drop.base_radius_mm, drop.height_mm), (cap.base_radius_mm, cap.height_mm), rtol=1e-4)


def test_huge_drop_is_a_puddle():
    """Limit: the height of a puddle, reached from above as 1 + lc/R; at 30 mL water it is within 5 %."""
    assert_allclose(resting_drop(30000, 90, *WATER).height_mm, puddle_height_mm(90, *WATER), rtol=0.05)


def test_bond_number_states_its_length():
    """Hand: R0 = (3·5/(4π))^(1/3) = 1.06078 mm; (1.06078/2.72588)² = 0.15144."""
    assert_allclose(bond_number(5, *WATER), 0.15144, atol=2e-5)


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
def test_impossible_liquids_and_volumes_are_refused(bad):
    with pytest.raises(ValueError, match="surface tension must be"):
        capillary_length_mm(bad, 998)
    with pytest.raises(ValueError, match="drop volume must be"):
        cap_drop(bad, 90)


@pytest.mark.parametrize("bad", [0, -5, 181, math.nan])
def test_impossible_angles_are_refused(bad):
    with pytest.raises(ValueError, match="contact angle"):
        cap_drop(5, bad)
