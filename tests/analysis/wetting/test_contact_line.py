"""Retention factors by integrating the contact angle around the rim."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.contact_line import rim_factor
from analysis.wetting.retention import RETENTION_FORMS


def cosine_law(share):
    """Contact angle [deg] whose cosine goes the given share of the way from θa to θr."""

    def law(advancing, receding):
        ahead, behind = np.cos(np.radians([advancing, receding]))
        return lambda azimuth: math.degrees(math.acos(ahead + (behind - ahead) * share(azimuth / 180)))

    return law


def angle_law(share):
    return lambda advancing, receding: lambda azimuth: advancing + (receding - advancing) * share(azimuth / 180)


def step(part):
    return float(part > 0.5)


def cubic(part):
    return 3 * part**2 - 2 * part**3


LAWS = {
    # form -> law round the rim, and the exact factor with the width
    "parallel_sided": (cosine_law(step), 1.0),
    "cosine_linear": (cosine_law(lambda part: part), 2 / math.pi),
    "cosine_cubic": (cosine_law(cubic), 24 / math.pi**3),
    "cosine_cubic_radius": (cosine_law(cubic), 24 / math.pi**3),
    "tilt_first_order": (cosine_law(lambda part: (1 - math.cos(math.pi * part)) / 2), math.pi / 4),
}


def test_each_form_has_its_law():
    assert set(LAWS) == set(RETENTION_FORMS)


@pytest.mark.parametrize("form", RETENTION_FORMS)
@pytest.mark.parametrize("pair", [(110, 90), (120, 60), (175, 5), (104, 102)])
def test_factor_of_each_form_is_its_integral(form, pair):
    """Limit: exact integrals 1, 2/π, 24/π³, π/4 with the width, whatever the angles."""
    law, exact = LAWS[form]
    assert_allclose(rim_factor(law(*pair), *pair), exact, rtol=1e-9)
    assert_allclose(RETENTION_FORMS[form].k_with_width, exact, rtol=1e-12)


@pytest.mark.parametrize(
    ("form", "with_radius", "with_width"),
    # independent: scipy 1.17.1 quad, computed apart from the project, to six decimals
    [
        ("parallel_sided", 2, 1),
        ("cosine_linear", 1.273240, 0.636620),
        ("cosine_cubic", 1.548074, 0.774037),
        ("tilt_first_order", 1.570796, 0.785398),
    ],
)
def test_factors_to_six_decimals(form, with_radius, with_width):
    found = rim_factor(LAWS[form][0](110, 90), 110, 90)
    assert_allclose((2 * found, found), (with_radius, with_width), atol=6e-7)


@pytest.mark.parametrize(("pair", "with_radius"), [((110, 90), 1.55014), ((120, 60), 1.56711)])
def test_angle_itself_cubic_in_azimuth(pair, with_radius):
    """Independent: scipy 1.17.1 quad; the angle, not its cosine, follows the cubic."""
    assert_allclose(2 * rim_factor(angle_law(cubic)(*pair), *pair), with_radius, atol=6e-6)


def test_without_hysteresis_there_is_no_factor():
    with pytest.raises(ValueError, match="without hysteresis"):
        rim_factor(lambda azimuth: 100, 100, 100)
    with pytest.raises(ValueError, match="receding angle"):
        rim_factor(lambda azimuth: 100, 90, 100)


@pytest.mark.parametrize("bad", [math.nan, -1, 181, math.inf])
def test_a_law_that_gives_no_angle_is_refused(bad):
    with pytest.raises(ValueError, match="contact angle of the law must"):
        rim_factor(lambda azimuth: bad if azimuth > 50 else 100, 110, 90)


@pytest.mark.parametrize("place", [45, 100.3, 150])
def test_a_jump_at_another_place(place):
    """Hand: the step law with its jump at ψ gives sin ψ."""
    found = rim_factor(lambda azimuth: 110 if azimuth < place else 95, 110, 95)
    assert_allclose(found, math.sin(math.radians(place)), rtol=1e-7)
