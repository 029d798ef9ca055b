"""The sign of the spreading coefficient of a lubricant on a drop."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.film.cloaking import (
    CANNOT_TELL,
    CLOAKS,
    DOES_NOT_CLOAK,
    apparent_angle_deg,
    cloaking,
    estimated_interfacial_tension,
    saturation_effect,
    spreading_coefficient,
)
from tests.analysis.tables import table


@pytest.mark.parametrize(
    ("lubricant", "water", "interfacial", "coefficient", "outcome"),
    [
        # inputs from memory of the trade; coefficients by hand, γw − γow − γo
        (20.1, 72.8, 45.0, 7.7, CLOAKS),  # silicone oil
        (17.0, 72.8, 53.0, 2.8, CANNOT_TELL),  # perfluoropolyether oil: ±3 mN/m flip the sign
        (27.5, 72.8, 52.1, -6.8, DOES_NOT_CLOAK),  # hexadecane
        (31.0, 72.8, 49.0, -7.2, DOES_NOT_CLOAK),  # mineral oil
        (32.5, 72.8, 24.5, 15.8, CLOAKS),  # vegetable oil
        (34.0, 42.0, 13.0, -5.0, CANNOT_TELL),  # ionic liquid on water saturated with it
        (34.0, 72.8, 13.0, 25.8, CLOAKS),  # the same with fresh water: the mistake to be warned of
    ],
)
def test_sign_with_an_interfacial_tension_known_to_five(lubricant, water, interfacial, coefficient, outcome):
    known_to_five = 5 / math.sqrt(3)  # hand: standard uncertainty of a rectangle of half-width 5
    found = cloaking(
        liquid_tension=(water, 0.2),
        lubricant_tension=(lubricant, 0.5),
        interfacial_tension=(interfacial, known_to_five),
    )
    assert_allclose(found.coefficient, coefficient, atol=1e-9)
    assert_allclose(spreading_coefficient(water, lubricant, interfacial), coefficient, atol=1e-9)
    assert found.outcome == outcome


def test_uncertainty_of_the_coefficient():
    """Independent: uncertainties 3.2.3: 7.7 ± 3.04795."""
    found = cloaking(liquid_tension=(72.8, 0.2), lubricant_tension=(20.1, 0.5), interfacial_tension=(45, 3))
    assert_allclose((found.coefficient, found.uncertainty), (7.7, 3.04795013), rtol=1e-8)


@pytest.mark.parametrize(
    ("tension", "expected"),
    [(18.4, 51.144), (21.6, 51.000), (23.8, 51.044), (27.5, 51.331), (20.1, 51.035), (17, 51.298)],
)
def test_estimate_from_dispersive_parts_against_water(tension, expected):
    """Independent: numpy 2.4.6; water 72.8 with a dispersive part of 21.8; lubricant wholly dispersive."""
    value, uncertainty = estimated_interfacial_tension(72.8, 21.8, tension, tension)
    assert_allclose(value, expected, atol=6e-4)
    assert_allclose(uncertainty, 5 / math.sqrt(3))  # hand: known to ±5 at best


def test_an_interfacial_tension_smaller_than_its_uncertainty_is_no_error():
    found = cloaking(liquid_tension=(17.2, 0.1), lubricant_tension=(17.1, 0.5), interfacial_tension=(1.6, 2.9))
    assert found.outcome == CANNOT_TELL


@pytest.mark.parametrize("bad", [-1, math.nan])
def test_impossible_tensions_are_refused(bad):
    with pytest.raises(ValueError, match="tension"):
        spreading_coefficient(72.8, bad, 45)
    with pytest.raises(ValueError, match="tension"):
        estimated_interfacial_tension(72.8, 21.8, bad, bad)


@pytest.mark.parametrize("row", table("cloaking_coefficients").to_dict("records"), ids=lambda row: row["lubricant"])
def test_coefficients_and_verdicts_with_an_interfacial_tension_known_to_three(row):
    tensions = row["liquid"], row["lubricant_tension"], row["interfacial"]
    assert_allclose(spreading_coefficient(*tensions), row["coefficient"], atol=1e-9)
    signs = {spreading_coefficient(*tensions[:2], tensions[2] + off) > 0 for off in (-3, 3)}
    marginal = CANNOT_TELL if len(signs) == 2 else {True: CLOAKS, False: DOES_NOT_CLOAK}[signs.pop()]
    assert marginal == row["verdict"].replace("marginal", CANNOT_TELL)


def test_the_tension_of_fresh_water_is_flagged_and_misleads_for_the_ionic_liquid():
    """Trap: 72.8 in place of 42 turns −5.0 into +25.8 (hand)."""
    effect = saturation_effect(
        fresh_tension=72.8, saturated_tension=np.array([42.0, 72.0]),
        lubricant_tension=np.array([34.0, 20.1]), interfacial_tension=np.array([13.0, 45.0]),
    )  # fmt: skip
    assert_allclose(effect.fresh, [25.8, 7.7])
    assert_allclose(effect.saturated, [-5.0, 6.9])
    assert effect.is_misleading.tolist() == [True, False]
    tensions = {"lubricant_tension": (34.0, 0.5), "interfacial_tension": (13.0, 0.5)}
    fresh = cloaking(liquid_tension=(72.8, 0.2), is_saturated=False, **tensions)
    saturated = cloaking(liquid_tension=(42.0, 0.2), is_saturated=True, **tensions)
    assert (fresh.outcome, saturated.outcome) == (CLOAKS, DOES_NOT_CLOAK)
    assert "fresh liquid" in fresh.note
    assert saturated.note == ""
    assert "not on record" in cloaking(liquid_tension=(42.0, 0.2), **tensions).note


@pytest.mark.parametrize(
    ("lubricant", "interfacial", "is_cloaked", "angle"),
    [
        # independent, computed apart from the project (numpy 2.4.6), liquid 72.8; form from memory
        (20.1, 45.0, False, 110.00),
        (20.1, 45.0, True, 112.49),
        (17.0, 53.0, False, 119.64),
        (17.0, 53.0, True, 120.95),
        (27.5, 52.1, False, 109.75),
        (27.5, 52.1, None, 109.75),  # its coefficient is below 0
        (20.1, 45.0, None, 112.49),  # and this one above
    ],
)
def test_apparent_angle_on_a_film(lubricant, interfacial, is_cloaked, angle):
    assert_allclose(apparent_angle_deg(72.8, lubricant, interfacial, is_cloaked=is_cloaked), angle, atol=6e-3)


def test_apparent_angle_does_not_jump_where_cloaking_begins():
    """Limit: at S = 0 the tension of the drop equals that of its cloak."""
    at_zero = [apparent_angle_deg(65.1, 20.1, 45.0, is_cloaked=is_cloaked) for is_cloaked in (True, False)]
    assert_allclose(at_zero[0], at_zero[1], rtol=1e-12)


def test_apparent_angle_where_the_liquid_spreads_or_lacks():
    assert apparent_angle_deg(20.0, 35.0, 5.0) == 0.0  # hand: 20 + 5 − 35 < 0: the liquid spreads
    both = apparent_angle_deg(np.array([72.8, np.nan]), 20.1, 45.0)
    assert np.isnan(both).tolist() == [False, True]
    assert np.isnan(apparent_angle_deg(np.array([np.nan]), 20.1, 45.0, is_cloaked=True)).all()


def test_missing_tensions_of_an_array_stay_in_their_place():
    assert_allclose(spreading_coefficient(np.array([72.8, np.nan]), 20.1, 45.0), [7.7, np.nan], atol=1e-9)


def test_many_drops_at_once():
    """Hand: 7.7, −6.8, missing, 2.8; all known to 2."""
    found = cloaking(
        liquid_tension=(72.8, 0.0),
        lubricant_tension=(np.array([20.1, 27.5, np.nan, 17.0]), 0.0),
        interfacial_tension=(np.array([45.0, 52.1, 45.0, 53.0]), 2.0),
    )
    assert found.outcome.tolist() == [CLOAKS, DOES_NOT_CLOAK, CANNOT_TELL, CANNOT_TELL]
    assert_allclose(found.coefficient, [7.7, -6.8, np.nan, 2.8], atol=1e-9)


def test_a_coefficient_of_nothing_but_rounding_has_no_sign():
    """Limit: 65.1 − 45 − 20.1 is 0, in binary −7·10⁻¹⁵; exact tensions cannot make a sign of it."""
    exact = {"liquid_tension": (65.1, 0), "lubricant_tension": (20.1, 0), "interfacial_tension": (45, 0)}
    assert cloaking(**exact).outcome == CANNOT_TELL
    assert cloaking(**{**exact, "liquid_tension": (65.10001, 0)}).outcome == CLOAKS
    effect = saturation_effect(
        fresh_tension=[65.1, 70.0], saturated_tension=60.0, lubricant_tension=20.1, interfacial_tension=45.0
    )
    assert effect.is_misleading.tolist() == [False, True]


def test_saturation_is_yes_no_or_not_on_record():
    with pytest.raises(ValueError, match="is_saturated must be True, False or None"):
        cloaking(liquid_tension=(65, 0), lubricant_tension=(20, 0), interfacial_tension=(45, 0), is_saturated="no")


def test_an_estimate_from_a_part_above_its_whole_is_refused():
    with pytest.raises(ValueError, match="dispersive part 72 mN/m exceeds its tension 20"):
        estimated_interfacial_tension(20.0, 72, 20.0, 20.0)
