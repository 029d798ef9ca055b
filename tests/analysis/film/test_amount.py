"""Lubricant on a coupon, from weighing it."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from uncertainties import ufloat

from analysis.film.amount import (
    balance_step_um,
    lubricant_amount,
    lubricant_thickness_um,
    mass_difference,
    share_retained,
)


def test_thickness_overfill_and_step():
    """Independent, computed apart from the project (numpy 2.4.6): 12.5 mg on 25 × 25 mm, posts with 7.5 µm of room."""
    assert_allclose(lubricant_thickness_um(12.5, 625.0, 930.0), 21.5054, atol=6e-5)
    found = lubricant_amount(mass_mg=12.5, area_mm2=625.0, density=930.0, void_um=7.5)
    assert_allclose(found.overfill_um, 14.005, atol=6e-4)
    assert_allclose(found.per_area_ul_cm2, 2.15054, atol=6e-6)
    assert_allclose(found.filled_share, 21.5054 / 7.5, rtol=1e-5)
    assert found.uncertainty_um == found.overfill_uncertainty_um == 0
    assert found.outside == ()
    assert_allclose(balance_step_um(0.1, 625.0, 930.0), 0.172, atol=6e-4)


def test_uncertainties():
    """Independent: uncertainties 3.2.3, first order."""
    mass, area, rho, void = ufloat(12.5, 0.12), ufloat(625, 5), ufloat(930, 10), ufloat(7.5, 0.4)
    thickness = 1e6 * mass / (area * rho)
    found = lubricant_amount(mass_mg=(12.5, 0.12), area_mm2=(625, 5), density=(930, 10), void_um=(7.5, 0.4))
    assert_allclose(found.uncertainty_um, thickness.std_dev, rtol=1e-9)
    assert_allclose(found.overfill_uncertainty_um, (thickness - void).std_dev, rtol=1e-9)
    left = share_retained((9.0, 0.1), (12.5, 0.12))
    assert_allclose((left.share, left.uncertainty), (0.72, (ufloat(9, 0.1) / mass).std_dev), rtol=1e-9)


def test_a_texture_that_is_not_full_is_said():
    found = lubricant_amount(mass_mg=np.array([2.0, 12.5, np.nan]), area_mm2=625.0, density=930.0, void_um=7.5)
    assert found.outside[0].endswith("(in 1 of 3 cases)")
    assert np.isnan(found.overfill_um).tolist() == [False, False, True]
    assert found.overfill_um[0] < 0
    smooth = lubricant_amount(mass_mg=2.0, area_mm2=625.0, density=930.0)
    assert (smooth.overfill_um, smooth.filled_share) == (None, None)


def test_amounts_at_their_bounds():
    """Limit: nothing on the coupon; no room in it."""
    none = lubricant_amount(mass_mg=(0.0, 0.1), area_mm2=(625.0, 5.0), density=930.0, void_um=7.5)
    assert (none.thickness_um, none.filled_share) == (0.0, 0.0)
    assert_allclose(none.uncertainty_um, 0.1720, atol=6e-5)  # hand: 0.1 mg is 0.172 µm, the area adds nothing
    assert lubricant_amount(mass_mg=1.0, area_mm2=625.0, density=930.0, void_um=0.0).filled_share == np.inf
    assert share_retained(0.0, (12.0, 0.5)).share == 0.0
    assert "weighing error" in share_retained(12.1, 12.0).outside[0]


def test_what_the_balance_can_see():
    """Hand: u = √(2·0.1²/12) = 0.0408 mg, so 0.0816 mg and less is not resolved; repeatability widens it."""
    case = {"area_mm2": 625.0, "density": 930.0, "step_mg": 0.1}
    found = mass_difference(difference_mg=np.array([0.08, 0.09, -0.09, np.nan]), **case)
    assert found.is_resolved.tolist() == [False, True, True, False]
    assert_allclose(found.uncertainty_um, 0.07023, atol=6e-5)  # 0.040825 mg · 1.72043 µm/mg
    assert_allclose(found.step_um, 0.172043, atol=6e-7)
    assert "1 of 4" in found.outside[0]
    rough = mass_difference(difference_mg=0.09, repeatability_mg=0.05, **case)
    assert rough.is_resolved is False


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"area_mm2": 0.0}, "area"),
        ({"density": -1.0}, "density"),
        ({"mass_mg": np.nan}, "mass"),
        ({"mass_mg": (1.0, -0.1)}, "standard uncertainty of the mass"),
        ({"void_um": -1.0}, "room"),
    ],
)
def test_impossible_amounts_are_refused(changes, words):
    with pytest.raises(ValueError, match=words):
        lubricant_amount(**{"mass_mg": 1.0, "area_mm2": 625.0, "density": 930.0, **changes})


def test_other_refusals():
    with pytest.raises(ValueError, match="start"):
        share_retained(1.0, 0.0)
    with pytest.raises(ValueError, match="step of the balance"):
        balance_step_um(0.0, 625.0, 930.0)


def test_every_part_of_a_difference_has_the_shape_of_all_inputs_together():
    found = mass_difference(difference_mg=[0.05, 0.2], area_mm2=[[625], [600]], density=930, step_mg=0.1)
    assert found.is_resolved.shape == found.thickness_um.shape == (2, 2)
    assert found.is_resolved.tolist() == [[False, True]] * 2
    steps = mass_difference(difference_mg=0.1, area_mm2=625, density=930, step_mg=[0.1, 1.0])
    assert steps.is_resolved.tolist() == [True, False]  # hand: twice √(2·d²/12) is 0.082 and 0.82 mg


def test_a_texture_filled_to_its_tops_is_full():
    """Limit: m = ρAv; what rounding leaves is no lack of lubricant."""
    for void in np.linspace(0.1, 9.9, 99):
        found = lubricant_amount(mass_mg=void * 625.0 * 930.0 / 1e6, area_mm2=625.0, density=930.0, void_um=void)
        assert found.outside == ()
        assert_allclose(found.filled_share, 1.0)


def test_neither_room_nor_lubricant_is_no_share():
    assert np.isnan(lubricant_amount(mass_mg=0, area_mm2=625, density=930, void_um=0).filled_share)


def test_three_numbers_are_no_value_with_its_uncertainty():
    with pytest.raises(ValueError, match=r"mass must be a number or a pair .* not \(1.0, 2.0, 3.0\)"):
        lubricant_amount(mass_mg=(1.0, 2.0, 3.0), area_mm2=625, density=930)
