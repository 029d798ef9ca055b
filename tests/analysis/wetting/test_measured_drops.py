"""Angle and volume back from base and height, with and without gravity."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.capillary import cap_drop, resting_drop
from analysis.wetting.measured_drops import cap_angle_deg, cap_angle_of_volume_deg, cap_volume_ul, measured_drop
from tests.analysis.tables import table

WATER = (72.736, 998.207)  # tension [mN/m] and density [kg/m3] at 20 °C
CAPS, DROPS = table("spherical_caps"), table("resting_drops")


@pytest.mark.parametrize("row", CAPS.to_dict("records"), ids=str)
def test_cap_from_its_picture(row):
    base, height = row["base_radius_mm"], row["height_mm"]
    # the table's lengths have four decimals: 0.01° and 0.05 % at most
    assert_allclose(cap_angle_deg(base, height), row["angle_deg"], atol=0.01)
    assert_allclose(cap_volume_ul(base, height), row["volume_ul"], rtol=5e-4)
    assert_allclose(cap_angle_of_volume_deg(row["volume_ul"], base), row["angle_deg"], atol=0.01)


def test_cap_comes_back_from_each_pair_of_its_numbers():
    """Limit: round trip over 15 decades of volume and all angles."""
    volume, angle = np.meshgrid(np.logspace(-9, 6, 16), [1e-3, 1, 30, 90, 150, 179, 179.99])
    cap = cap_drop(volume, angle)
    assert_allclose(cap_angle_deg(cap.base_radius_mm, cap.height_mm), angle, rtol=1e-9)
    assert_allclose(cap_volume_ul(cap.base_radius_mm, cap.height_mm), volume, rtol=1e-9)
    assert_allclose(cap_angle_of_volume_deg(volume, cap.base_radius_mm), angle, rtol=1e-9)


def test_cap_at_its_limits():
    """Limit: a half sphere, and a sphere that touches in a point."""
    assert_allclose(cap_volume_ul(1, 1), 2 * math.pi / 3)
    assert_allclose((cap_angle_deg(0, 1), cap_volume_ul(0, 2)), (180, 4 * math.pi / 3))


@pytest.mark.parametrize("row", DROPS.to_dict("records"), ids=str)
def test_true_angle_where_a_cap_fit_reads_too_low(row):
    found = measured_drop(row["base_radius_mm"], row["height_mm"], *WATER)
    assert_allclose(found.angle_deg, row["angle_deg"], atol=0.02)  # lengths to four decimals
    assert_allclose(found.volume_ul, row["volume_ul"], rtol=3e-4)
    assert_allclose(found.cap_fit_angle_deg, row["cap_fit_deg"], atol=6e-3)
    assert found.cap_fit_error_deg < -1.6


def test_many_drops_come_back_at_once():
    """Limit: round trip, from small drops to puddles."""
    chance = np.random.default_rng(11)
    volume, angle = chance.uniform(0.1, 300, 60), chance.uniform(5, 178, 60)
    drop = resting_drop(volume, angle, *WATER)
    found = measured_drop(drop.base_radius_mm, drop.height_mm, *WATER)
    assert_allclose(found.angle_deg, angle, atol=1e-5)
    assert_allclose(found.volume_ul, volume, rtol=1e-6)


@pytest.mark.parametrize(("volume", "angle"), [(5, 180), (1e-6, 110), (1e-6, 1), (1e4, 90)])
def test_extreme_drops_come_back(volume, angle):
    drop = resting_drop(volume, angle, *WATER)
    found = measured_drop(drop.base_radius_mm, drop.height_mm, *WATER)
    assert_allclose((found.angle_deg, found.volume_ul), (angle, volume), rtol=1e-5)


def test_a_drop_too_high_for_its_base_is_refused():
    top = resting_drop(5, 180, *WATER)
    with pytest.raises(ValueError, match="height must be at most"):
        measured_drop(top.base_radius_mm, top.height_mm * 1.01, *WATER)
    with pytest.raises(ValueError, match="150 capillary lengths"):
        measured_drop(1000, 3, *WATER)


def test_gaps_of_a_table_stay_where_they_are():
    found = measured_drop([0.6535, math.nan], [1.8495, 1.0], *WATER)
    assert np.isnan(found.angle_deg).tolist() == [False, True]
    assert np.isnan(found.cap_fit_angle_deg).tolist() == [False, True]
    assert measured_drop([], [], *WATER).angle_deg.shape == (0,)
    assert type(measured_drop(1.0, 1.0, *WATER).angle_deg) is float


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
def test_impossible_lengths_are_refused(bad):
    for function in (cap_angle_deg, cap_volume_ul, lambda *drop: measured_drop(*drop, *WATER)):
        with pytest.raises(ValueError, match="height"):
            function(1.0, bad)
    with pytest.raises(ValueError, match="base radius"):
        cap_angle_of_volume_deg(1.0, bad)
