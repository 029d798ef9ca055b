"""Directions on the full circle against a textbook example and scipy."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.directions import direction_statistics

EXAMPLE = [45, 55, 81, 96, 110, 117, 132, 154]


def test_eight_directions_of_the_textbook():
    # data from memory: Zar, example 26.1; results independent: scipy 1.17, pingouin 0.7 (Rayleigh)
    found = direction_statistics(EXAMPLE)
    assert_allclose(found.mean_deg, 98.987752, atol=5e-7)
    assert_allclose(found.resultant_length, 0.825218, atol=5e-7)
    assert_allclose((found.rayleigh_z, found.p_value), (5.447875, 0.001852), atol=5e-7)
    assert_allclose((found.angular_deviation_deg, found.circular_sd_deg), (33.8755, 35.5149), atol=5.1e-5)


def test_directions_around_north_do_not_average_to_south():
    assert_allclose(direction_statistics([355, 5, 350, 12, 2, 358]).mean_deg, 0.329710, atol=5e-7)  # independent: scipy


def test_opposite_directions_have_no_mean():
    found = direction_statistics([0, 90, 180, 270])
    assert (found.mean_deg, found.resultant_length, found.p_value, found.circular_sd_deg) == (None, 0, 1, math.inf)


def test_one_direction_is_its_own_mean():
    found = direction_statistics([-7.0])
    assert_allclose((found.mean_deg, found.resultant_length, found.circular_sd_deg), (353, 1, 0), atol=1e-6)
    assert 0 < found.p_value <= 1


@given(st.floats(-720, 720), st.integers(-3, 3))
def test_turning_all_turns_the_mean_and_nothing_else(turn, rounds):
    found = direction_statistics([angle + turn + 360 * rounds for angle in EXAMPLE])
    apart = (found.mean_deg - 98.987752 - turn + 180) % 360 - 180
    assert_allclose(apart, 0, atol=1e-6)
    assert_allclose(found.resultant_length, 0.825218, atol=5e-7)
    assert 0 <= found.mean_deg < 360


def test_mean_as_scipy_gives_it():
    assert_allclose(direction_statistics(EXAMPLE).mean_deg, stats.circmean(EXAMPLE, high=360), rtol=1e-12)
    assert_allclose(direction_statistics(EXAMPLE).circular_sd_deg, stats.circstd(EXAMPLE, high=360), rtol=1e-12)


@pytest.mark.parametrize("values", [[], [math.nan], [math.inf, 3.0]])
def test_nothing_and_nan_are_refused(values):
    with pytest.raises(ValueError, match=r"values|NaN"):
        direction_statistics(values)
