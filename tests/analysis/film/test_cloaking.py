"""The sign of the spreading coefficient of a lubricant on a drop."""

import math

import pytest
from numpy.testing import assert_allclose

from analysis.film.cloaking import (
    CANNOT_TELL,
    CLOAKS,
    DOES_NOT_CLOAK,
    cloaking,
    estimated_interfacial_tension,
    spreading_coefficient,
)


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
