"""The shape of a resting drop against tables, exact limits and the balance of forces."""

import math

import numpy as np
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

DROPS = table("resting_drops")
WATER = (72.736, 998.207)  # tension [mN/m] and density [kg/m3] at 20 °C


@pytest.mark.parametrize(
    ("tension", "density", "expected"),
    [
        (72.736, 998.207, 2.7259),  # independent: numpy 2.4.6 with tension by IAPWS, density by iapws 1.5.5
        (27.47, 773, 1.904),  # independent: numpy 2.4.6
        (72.736, 998.207 - 1.2, 2.7275),  # with the buoyancy of air
        (71.972, 997.048, 2.7131),  # water at 25 °C
        (20.1, 930, 1.485),
        (17, 1900, 0.955),
        (50.8, 3325, 1.248),
        (48.0, 1113, 2.097),
    ],
)
def test_capillary_length(tension, density, expected):
    assert_allclose(capillary_length_mm(tension, density), expected, atol=6e-4 if expected < 2.5 else 6e-5)


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


@pytest.mark.parametrize("row", DROPS.to_dict("records"), ids=str)
def test_drop_flattened_by_gravity(row):
    drop = resting_drop(row["volume_ul"], row["angle_deg"], *WATER)
    assert_allclose(drop.top_radius_mm, row["top_radius_mm"], atol=6e-5)
    assert_allclose(drop.base_radius_mm, row["base_radius_mm"], atol=6e-5)
    assert_allclose(drop.height_mm, row["height_mm"], atol=6e-5)
    assert_allclose(drop.cap_fit_angle_deg, row["cap_fit_deg"], atol=6e-3)
    cap = cap_drop(row["volume_ul"], row["angle_deg"])
    ratios = drop.height_mm / cap.height_mm, drop.base_radius_mm / cap.base_radius_mm
    assert_allclose(ratios, (row["height_over_cap"], row["base_over_cap"]), atol=6e-5)


def test_base_of_a_small_drop_at_150_degrees():
    """Independent: scipy 1.17.1, to two decimals: the base is 1.14 times that of the cap already at 2 µL."""
    ratio = resting_drop(2, 150, *WATER).base_radius_mm / cap_drop(2, 150).base_radius_mm
    assert_allclose(ratio, 1.14, atol=6e-3)


def test_cap_fit_on_a_large_drop_reads_too_low():
    """Trap: 9° at 5 µL and 150°, 13° at 10 µL; independent: scipy 1.17.1."""
    bias = 150 - resting_drop([5, 10], 150, *WATER).cap_fit_angle_deg
    assert_allclose(bias, (8.92, 12.85), atol=6e-3)


def test_table_of_drops_at_once():
    found = resting_drop(DROPS["volume_ul"].to_numpy(), DROPS["angle_deg"].to_numpy(), *WATER)
    for name in ("top_radius_mm", "base_radius_mm", "height_mm"):
        assert_allclose(getattr(found, name), DROPS[name], atol=6e-5)
    singles = [resting_drop(row.volume_ul, row.angle_deg, *WATER).height_mm for row in DROPS.itertuples()]
    assert_allclose(found.height_mm, singles, rtol=1e-8)


def test_arrays_of_drops_broadcast_and_keep_their_gaps():
    found = resting_drop([[2.0], [math.nan]], [60, 120, math.nan], *WATER)
    assert found.base_radius_mm.shape == (2, 3)
    assert np.isnan(found.base_radius_mm).tolist() == [[False, False, True], [True, True, True]]
    assert resting_drop([], 90, *WATER).height_mm.shape == (0,)
    assert np.isnan(resting_drop([math.nan], 90, *WATER).height_mm).tolist() == [True]
    assert type(resting_drop(2, 60, *WATER).base_radius_mm) is float


@pytest.mark.parametrize(("volume", "angle"), [(0.5, 15), (5, 90), (20, 140), (80, 172), (2000, 45)])
def test_outline_followed_along_its_length(volume, angle):
    """Independent: scipy 1.17.1 (LSODA) along the length of the outline, with the angle as the event that ends it."""
    from scipy.integrate import solve_ivp

    drop, length = resting_drop(volume, angle, *WATER), capillary_length_mm(*WATER)

    def slopes(_, state):
        x, z, inclination, _ = state
        around = math.sin(inclination) / x if x > 1e-9 else 1 / drop.top_radius_mm
        turn = 2 / drop.top_radius_mm + z / length**2 - around
        return math.cos(inclination), math.sin(inclination), turn, math.pi * x**2 * math.sin(inclination)

    def reaches(_, state):
        return state[2] - math.radians(angle)

    reaches.terminal = True
    found = solve_ivp(slopes, (0, 100), (0, 0, 0, 0), method="LSODA", rtol=1e-10, atol=1e-12, events=reaches)
    expected = found.y_events[0][0][[0, 1, 3]]
    assert_allclose((drop.base_radius_mm, drop.height_mm, volume), expected, rtol=1e-6)


def test_contact_of_a_small_drop_that_does_not_wet():
    """Limit: at 180° pressure times contact area carries the weight: a = √(2/3)·R²/lc for small drops."""
    volume = 1e-4
    radius = (3 * volume / (4 * math.pi)) ** (1 / 3)
    expected = math.sqrt(2 / 3) * radius**2 / capillary_length_mm(*WATER)
    assert_allclose(resting_drop(volume, 180, *WATER).base_radius_mm, expected, rtol=2e-3)


@pytest.mark.parametrize("angle", [1, 90, 179])
def test_shape_depends_on_size_over_capillary_length_only(angle):
    """Limit: twice the length with eight times the volume doubles every length."""
    small, large = resting_drop(3, angle, 60, 1000), resting_drop(24, angle, 240, 1000)
    assert_allclose(large.base_radius_mm / small.base_radius_mm, 2, rtol=1e-7)
    assert_allclose(large.height_mm / small.height_mm, 2, rtol=1e-7)


@pytest.mark.parametrize("angle", [1e-3, 1, 45, 90, 150, 180])
def test_a_lake_goes_on_where_the_integration_ends(angle):
    """Limit: the balance of forces to first order against the integrated outline of the same drop."""
    from analysis.wetting import outline

    length = capillary_length_mm(*WATER)
    volume = math.pi * (145 * length) ** 2 * puddle_height_mm(angle, *WATER)
    drop = resting_drop(volume, angle, *WATER)
    assert math.isfinite(drop.top_radius_mm)
    found = outline.lake_of_volume(np.array([volume]), np.radians([angle]), np.array([length]))
    assert_allclose(np.ravel(found), [drop.base_radius_mm, drop.height_mm], rtol=3e-5)
    ratio = np.array([volume / drop.base_radius_mm])
    held = outline.lake_of_volume_per_base(ratio, np.radians([angle]), np.array([length]))
    assert_allclose(held, volume, rtol=6e-5)


def test_lakes_and_drops_stand_in_one_table():
    found = resting_drop([5, 1e9, 10], [110, 90, 1e-4], *WATER)
    assert_allclose(found.height_mm[0], resting_drop(5, 110, *WATER).height_mm)
    assert found.top_radius_mm[1:].tolist() == [math.inf] * 2
    # limit: an endless puddle; the rim bends 1 + lc/R higher
    assert_allclose(found.height_mm[1], puddle_height_mm(90, *WATER), rtol=1e-3)
    # hand: flat lens of 1e-4 deg, V = π·a²·h with h = lc·θ: a = √(10/(π·2.7259·1.7453e-6)) = 818 mm, rim 0.2 % more
    assert_allclose(found.base_radius_mm[2], 818, rtol=4e-3)


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
    assert_allclose(bond_number([5, 40, math.nan], *WATER) / 0.15144, [1, 4, math.nan], rtol=1e-4)  # limit: V^(2/3)


def test_caps_of_a_table_at_once():
    caps = table("spherical_caps")
    found = cap_drop(caps["volume_ul"].to_numpy(), caps["angle_deg"].to_numpy())
    assert_allclose(found.base_radius_mm, caps["base_radius_mm"], atol=6e-5)
    assert_allclose(found.contact_area_mm2, math.pi * caps["base_radius_mm"] ** 2, rtol=2e-4)
    assert type(cap_drop(5, 90).height_mm) is float


def test_flat_caps_keep_their_digits():
    """Limit: V = πa²h/2 and h = aθ/2 for a flat cap."""
    cap = cap_drop(5, 1e-4)
    assert_allclose(math.pi * cap.base_radius_mm**2 * cap.height_mm / 2, 5, rtol=1e-9)
    assert_allclose(cap.height_mm, cap.base_radius_mm * math.radians(1e-4) / 2, rtol=1e-9)


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


@pytest.mark.parametrize("angle", [1e-2, 1e-6, 1e-100, 1e-170])
def test_the_flattest_caps_keep_their_digits(angle):
    """Limit: V = π·a²·h/2 and h = a·θ/2 where the angle vanishes; the sphere has the radius a/θ."""
    cap, theta = cap_drop(5, angle), math.radians(angle)
    assert_allclose(cap.height_mm / cap.base_radius_mm, theta / 2, rtol=1e-6)
    assert_allclose(math.pi * cap.base_radius_mm**2 * cap.height_mm / 2, 5, rtol=1e-6)
    assert_allclose(cap.top_radius_mm / cap.base_radius_mm, 1 / theta, rtol=1e-6)
