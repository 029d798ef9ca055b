"""What everybody in the trade knows, and the models must say too. Common practice, no source; values from memory."""

import numpy as np
import pytest

from analysis.film import (
    STABLE,
    angle_under_liquid_deg,
    capillary_hold,
    cylinder_posts,
    energy_gap,
    film_energies,
    film_screening,
    mass_difference,
    square_posts,
    stability_probability,
    state_number,
)

POSTS = square_posts(10.0, 15.0, 10.0)
# A perfluoropolyether on a fluorinated solid; water and hexadecane as what is to be repelled
LUBRICANT_TENSION, LUBRICANT_ANGLE = 17.0, 14.0
REPELLED = {"water": (72.8, 113.0, 53.0), "hexadecane": (27.5, 68.0, 8.0)}
NARROW, WIDE = 25.0, 150.0  # nm: half of 50 and of 300 nm, the features of aluminium boiled in water
BOILED_HEIGHTS_UM = np.array([0.2, 0.3, 0.5])


@pytest.mark.parametrize("liquid", REPELLED)
def test_a_texture_filled_with_a_fitting_lubricant_sheds_water_and_oil(liquid):
    tension, angle, between = REPELLED[liquid]
    first, second = film_energies(POSTS.roughness, tension, LUBRICANT_TENSION, between, angle, LUBRICANT_ANGLE)
    assert first > 0
    assert second > 0
    assert energy_gap(tension, LUBRICANT_TENSION, between) > 0  # it stays a drop on the lubricant
    found = stability_probability(
        roughness=(POSTS.roughness, 0.1), liquid_tension=(tension, 0.3), lubricant_tension=(LUBRICANT_TENSION, 0.3),
        interfacial_tension=(between, 2.0), liquid_angle_deg=(angle, 2.0), lubricant_angle_deg=(LUBRICANT_ANGLE, 2.0),
    )  # fmt: skip
    assert found.outcome == STABLE


@pytest.mark.parametrize("liquid", REPELLED)
def test_the_filled_texture_stays_filled_beside_and_beneath_the_drop(liquid):
    tension, angle, between = REPELLED[liquid]
    under = angle_under_liquid_deg(tension, LUBRICANT_TENSION, between, angle, LUBRICANT_ANGLE)
    assert state_number(LUBRICANT_ANGLE, POSTS.roughness, POSTS.solid_fraction) >= 2
    assert state_number(under, POSTS.roughness, POSTS.solid_fraction) >= 2


def test_the_same_solid_without_chemistry_that_fits_loses_its_lubricant():
    """A hydrophilic texture, which water wets at 20°, gives the lubricant up to water."""
    first, second = film_energies(POSTS.roughness, 72.8, 20.1, 45.0, 20.0, 10.0)
    assert first < 0
    assert second < 0


def test_a_lubricant_that_mixes_with_what_is_to_be_repelled_is_refused():
    """Silicone oil holds against water and dissolves in hexadecane, whatever the energies would say."""
    found = film_screening(
        roughness=POSTS.roughness, liquid_tension=np.array([72.8, 27.5]), lubricant_tension=20.1,
        interfacial_tension=np.array([45.0, 0.0]), liquid_angle_deg=np.array([110.0, 68.0]),
        lubricant_angle_deg=10.0, miscible=np.array([0, 1]),
    )  # fmt: skip
    assert (found.first > 0).all()
    assert (found.second > 0).all()
    assert found.verdict_words.tolist() == [STABLE, "not suitable: mixes"]


def test_a_lubricant_that_reacts_with_what_is_to_be_repelled_is_refused():
    found = film_screening(
        roughness=POSTS.roughness, liquid_tension=72.8, lubricant_tension=20.1, interfacial_tension=45.0,
        liquid_angle_deg=110.0, lubricant_angle_deg=10.0, miscible=False, reacts=np.array([True, False]),
    )  # fmt: skip
    assert found.verdict_words.tolist() == ["not suitable: reacts", STABLE]


@pytest.mark.parametrize("radius_nm", [NARROW, WIDE])
def test_boiled_aluminium_holds_its_lubricant_on_any_coupon(radius_nm):
    """Metres of silicone oil against gravity: far above any coupon, and tenths of a bar against pressure."""
    held = capillary_hold(tension=20.1, pore_radius_um=1e-3 * radius_nm, density=930.0, contact_angle_deg=10.0)
    assert held.height_mm > 100 * 100  # a hundred times a coupon of 100 mm
    assert held.pressure_pa > 1e5
    assert held.outside == ()


@pytest.mark.parametrize("feature_nm", [50.0, 300.0])
def test_boiled_aluminium_fulfils_the_criteria(feature_nm):
    """Upright features as wide as the gaps between them; with a hydrophobic finish on them."""
    boiled = cylinder_posts(1e-3 * feature_nm, 2e-3 * feature_nm, 0.3)
    assert boiled.roughness > 1.5
    assert boiled.critical_angle_deg > 40  # a wetting lubricant lies far below
    assert state_number(10.0, boiled.roughness, boiled.solid_fraction) >= 2
    first, second = film_energies(boiled.roughness, 72.8, 20.1, 45.0, 110.0, 10.0)
    assert first > 0
    assert second > 0


def test_what_boiled_aluminium_holds_is_near_what_a_balance_can_see_and_that_is_said():
    """On 25 × 25 mm a balance with steps of 0.1 mg sees 0.17 µm at best; the room is 0.16 to 0.40 µm."""
    boiled = cylinder_posts(0.1, 0.2, BOILED_HEIGHTS_UM)
    assert (boiled.void_um > 0.1).all()
    mass_mg = boiled.void_um * 625.0 * 930.0 / 1e6
    coarse = mass_difference(difference_mg=mass_mg, area_mm2=625.0, density=930.0, step_mg=0.1, repeatability_mg=0.1)
    assert not coarse.is_resolved.any()
    assert "cannot tell this difference from none" in coarse.outside[0]
    fine = mass_difference(difference_mg=mass_mg, area_mm2=625.0, density=930.0, step_mg=0.01, repeatability_mg=0.02)
    assert fine.is_resolved.all()
    assert fine.outside == ()
