"""What the wetting formulas refuse, and in which words."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.inputs import advancing_receding, angle_deg, contact_angle, number, one_plus_cosine, positive


def test_a_single_nan_is_a_mistake_and_one_in_a_table_a_gap():
    with pytest.raises(ValueError, match="drop volume must be a finite number, not nan uL"):
        positive("drop volume", math.nan, "uL")
    assert np.isnan(positive("drop volume", [5.0, math.nan], "uL")).tolist() == [False, True]


@pytest.mark.parametrize(
    ("value", "limits", "words"),
    [
        (181, {}, "contact angle must be at most 180 deg, not 181 deg"),
        (-1, {}, "contact angle must be at least 0 deg, not -1 deg"),
        (0, {"above": 0}, "contact angle must be above 0 deg, not 0 deg"),
        (180, {"below": 180}, "contact angle must be below 180 deg, not 180 deg"),
        (200, {"above": 0}, "contact angle must be at most 180 deg, not 200 deg"),
        (-5, {"below": 180}, "contact angle must be at least 0 deg, not -5 deg"),
    ],
)
def test_a_contact_angle_lies_from_0_to_180(value, limits, words):
    with pytest.raises(ValueError) as refusal:
        contact_angle(value, **limits)
    assert str(refusal.value) == words


def test_pairs_are_compared_element_by_element():
    advancing, receding = advancing_receding([[100.0], [90.0]], [90, math.nan])
    assert_allclose((advancing[0, 0], receding[0]), np.radians((100, 90)))
    with pytest.raises(ValueError, match="receding angle 95 deg lies above the advancing one 90 deg"):
        advancing_receding([[100.0], [90.0]], [80, 95])


@pytest.mark.parametrize("angle", [0, 1e-7, 45, 90, 179, 180 - 1e-9, 180])
def test_angles_survive_the_way_through_their_cosine(angle):
    """Limit: also near 180°, where a cosine in double precision no longer tells angles apart."""
    # near 0° one plus the cosine is 2 and keeps no digits below about 1e-6 degrees
    assert_allclose(180 - angle_deg(one_plus_cosine(np.radians(angle))), 180 - angle, rtol=1e-6, atol=1e-14)


def test_number_takes_what_numpy_takes():
    assert number("x", 3).shape == ()
    assert number("x", []).shape == (0,)
    assert number("x", np.int32([1, 2])).dtype == float
