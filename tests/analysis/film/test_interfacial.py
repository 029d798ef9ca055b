"""Estimates of an interfacial tension: right by their form, marked as estimates, and wide."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.film.cloaking import CANNOT_TELL, cloaking
from analysis.film.interfacial import (
    antonow_interfacial,
    dispersive_part,
    fowkes_interfacial,
    girifalco_good_interfacial,
    interaction_parameter,
    owens_wendt_interfacial,
)
from tests.analysis.tables import table

WATER, WATER_DISPERSIVE = 72.8, 21.8


@pytest.mark.parametrize("row", table("fowkes_estimates").to_dict("records"), ids=lambda row: row["oil"])
def test_fowkes_against_water(row):
    found = fowkes_interfacial(WATER, WATER_DISPERSIVE, row["tension"], row["tension"])
    assert_allclose(found.value, row["estimate"], atol=6e-4)
    assert found.is_estimate
    assert found.half_width >= 5
    assert_allclose((found.low, found.high), (found.value - 5, found.value + 5))


def test_aromatic_lubricants_get_a_warning_and_a_width_that_holds_the_true_value():
    """From memory: toluene on water is measured at about 36, the estimate says 51."""
    found = fowkes_interfacial(WATER, WATER_DISPERSIVE, 28.5, 28.5, is_aromatic=True)
    assert found.low <= 36
    assert any("aromatic" in note for note in found.notes)
    plain = fowkes_interfacial(WATER, WATER_DISPERSIVE, 18.4, 18.4)
    assert not any("aromatic" in note for note in plain.notes)


# Independent, computed apart from the project (numpy 2.4.6)
@pytest.mark.parametrize(("oil", "expected"), [(18.4, 54.4), (27.5, 45.3), (20.1, 52.7)])
def test_antonow(oil, expected):
    found = antonow_interfacial(WATER, oil)
    assert_allclose(found.value, expected, atol=1e-9)
    assert antonow_interfacial(oil, WATER).value == found.value
    assert found.half_width > 5  # of fresh liquids it is rougher than the others


def test_antonow_width_holds_what_is_measured():
    """From memory: hexadecane 52 to 53.5, silicone oil 38 to 47 against water."""
    hexadecane, silicone = antonow_interfacial(WATER, 27.5), antonow_interfacial(WATER, 20.1)
    assert hexadecane.low <= 52
    assert hexadecane.high >= 53.5
    assert silicone.low <= 38


def test_girifalco_good_and_its_inverse():
    """Independent, computed apart from the project: hexane on water needs Φ = 0.5478 for 51.1; Φ = 1 gives 18.00."""
    assert_allclose(interaction_parameter(WATER, 18.4, 51.1), 0.5478, atol=6e-5)
    assert_allclose(girifalco_good_interfacial(WATER, 18.4).value, 18.00, atol=6e-3)
    phi = interaction_parameter(WATER, 18.4, 51.1)
    assert_allclose(girifalco_good_interfacial(WATER, 18.4, phi).value, 51.1)  # round trip


def test_girifalco_good_with_phi_one_is_fowkes_of_wholly_dispersive_liquids():
    """Limit."""
    assert_allclose(girifalco_good_interfacial(30.0, 18.0, 1.0).value, fowkes_interfacial(30, 30, 18, 18).value)


def test_an_estimate_below_zero_is_given_as_zero_and_said():
    found = girifalco_good_interfacial(30.0, 28.0, 1.2)  # hand: 58 − 2.4·28.98 = −11.6
    assert found.value == 0
    assert any("mix" in note for note in found.notes)
    two = girifalco_good_interfacial(np.array([30.0, 72.8]), 28.0, np.array([1.2, 0.6]))
    assert "1 of 2" in two.notes[0]


def test_owens_wendt():
    """Independent, computed apart from the project: silicone oil 19.0/0.8 on water 21.8/51.0 gives 39.12."""
    assert_allclose(owens_wendt_interfacial(21.8, 51.0, 19.0, 0.8).value, 39.12, atol=6e-3)
    assert owens_wendt_interfacial(21.8, 51.0, 21.8, 51.0).value == 0  # limit: a liquid against itself


def test_owens_wendt_without_a_polar_part_is_fowkes():
    """Limit."""
    assert_allclose(
        owens_wendt_interfacial(21.8, 51.0, 18.4, 0.0).value, fowkes_interfacial(72.8, 21.8, 18.4, 18.4).value
    )


def test_dispersive_part_of_water_from_a_measured_tension():
    """Independent, computed apart from the project: 51.1 for hexane gives 21.848."""
    assert_allclose(dispersive_part(WATER, 18.4, 51.1), 21.848, atol=6e-4)
    back = fowkes_interfacial(WATER, dispersive_part(WATER, 18.4, 51.1), 18.4, 18.4)
    assert_allclose(back.value, 51.1)  # round trip


def test_an_estimate_is_wide_enough_to_flip_a_verdict_on_cloaking():
    """Hand: 72.8 − 51.298 − 17 = 4.5 with ±5: cannot tell."""
    estimate = fowkes_interfacial(WATER, WATER_DISPERSIVE, 17.0, 17.0)
    assert_allclose(estimate.uncertainty, 5 / math.sqrt(3))
    found = cloaking(liquid_tension=(WATER, 0.0), lubricant_tension=(17.0, 0.0), interfacial_tension=estimate.pair)
    assert found.outcome == CANNOT_TELL


def test_refusals():
    with pytest.raises(ValueError, match="exceeds its tension"):
        fowkes_interfacial(72.8, 80.0, 18.4, 18.4)
    with pytest.raises(ValueError, match="±5 mN/m at best"):
        antonow_interfacial(72.8, 18.4, half_width=1.0)
    with pytest.raises(ValueError, match="±5 mN/m at best"):
        antonow_interfacial(72.8, 18.4, half_width=math.nan)
    with pytest.raises(ValueError, match="Φ"):
        girifalco_good_interfacial(72.8, 18.4, -0.1)
    with pytest.raises(ValueError, match="exceeds the sum"):
        dispersive_part(72.8, 18.4, 95.0)
    with pytest.raises(ValueError, match="above 0"):
        interaction_parameter(72.8, 0.0, 51.1)


def test_missing_values_of_an_array_stay_in_their_place():
    found = fowkes_interfacial(WATER, WATER_DISPERSIVE, np.array([18.4, np.nan]), np.array([18.4, 18.4]))
    assert np.isnan(found.value).tolist() == [False, True]
    assert np.isnan(found.low).tolist() == [False, True]


def test_an_aromatic_liquid_widens_each_estimate():
    found = antonow_interfacial(WATER, 28.5, is_aromatic=True)
    assert found.half_width == 16 > antonow_interfacial(WATER, 28.5).half_width == 15
    assert found.low <= 36  # from memory: toluene on water
    assert owens_wendt_interfacial(21.8, 51.0, 28.0, 0.5, is_aromatic=True).half_width == 16
    assert antonow_interfacial(WATER, 28.5, is_aromatic=True, half_width=7.0).half_width == 7


def test_no_part_exceeds_its_whole():
    """Limit: two alkanes are wholly dispersive; a tension between them below that needs other forces."""
    assert_allclose(dispersive_part(20.0, 18.4, 20.0 + 18.4 - 2 * np.sqrt(20.0 * 18.4)), 20.0)
    assert_allclose(dispersive_part(18.4, 18.4, 0.0), 18.4)
    with pytest.raises(ValueError, match=r"liquid's dispersive part 113.* exceeds its tension 72.8"):
        dispersive_part(WATER, 18.4, 0.0)
    with pytest.raises(ValueError, match=r"probe's dispersive part 40 mN/m exceeds its tension 18.4"):
        dispersive_part(WATER, 18.4, 51.1, 40)
    with pytest.raises(ValueError, match="probe's dispersive part must be above 0"):
        dispersive_part(WATER, 18.4, 51.1, 0.0)


def test_a_probe_with_a_polar_part_counts_with_its_dispersive_part():
    """Round trip: Fowkes' form with 30.0, of which 25.0 is dispersive, on a liquid with 21.8 of 72.8."""
    between = 72.8 + 30.0 - 2 * np.sqrt(21.8 * 25.0)
    assert_allclose(dispersive_part(72.8, 30.0, between, 25.0), 21.8)
