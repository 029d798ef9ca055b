"""Age of a drop at a given loss: exact lifetimes, both ways of shrinking, and the way back."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.capillary import cap_drop
from analysis.wetting.drop_age import CONSTANT_ANGLE, CONSTANT_BASE, drop_age_limit_s, evaporated_percent
from analysis.wetting.evaporation import (
    Vapour,
    contact_angle_factor,
    evaporation_rate_ul_s,
    evaporation_speed,
    predicted_loss_percent,
    water_vapour,
)
from analysis.wetting.measured_drops import cap_angle_of_volume_deg

ROOM = {"temperature_c": 25, "humidity_pct": 50}
MODES = pytest.mark.parametrize("mode", [CONSTANT_ANGLE, CONSTANT_BASE])


def supply(vapour, missing, celsius=25):
    """Hand: D·Δc/ρ [mm2/s]."""
    concentration = missing * vapour.pressure_pa * vapour.molar_mass_kg_mol / (8.314462618 * (celsius + 273.15))
    return 1e6 * vapour.diffusivity_m2_s * concentration / vapour.liquid_density


def test_life_of_a_half_sphere():
    """Limit: at 90° and constant angle it is half of a free sphere, whose life is R²/(2·D·Δc/ρ)."""
    radius = cap_drop(5, 90).base_radius_mm
    found = drop_age_limit_s(5, 90, **ROOM, loss_percent=100)
    assert_allclose(found, radius**2 / (2 * supply(water_vapour(25), 0.5)), rtol=1e-9)


def test_life_of_a_pinned_film():
    """Limit: flat and pinned it evaporates like a disc, 4·a·D·Δc/ρ, from the volume it has."""
    angle, volume = 0.01, 0.1
    radius = cap_drop(volume, angle).base_radius_mm
    found = drop_age_limit_s(volume, angle, **ROOM, loss_percent=100, mode=CONSTANT_BASE)
    assert_allclose(found, volume / (4 * radius * supply(water_vapour(25), 0.5)), rtol=1e-4)


def test_both_ways_of_shrinking_take_equally_long_at_148_degrees():
    """From memory: Stauber et al., J. Fluid Mech. 744 (2014) R2: pinned drops live shorter below 148°, longer above."""
    below, above = (
        drop_age_limit_s(5, angle, **ROOM, loss_percent=100, mode=CONSTANT_BASE)
        / drop_age_limit_s(5, angle, **ROOM, loss_percent=100)
        for angle in (147.0, 149.0)
    )
    assert below < 1 < above


@MODES
@pytest.mark.parametrize("angle", [20, 90, 110, 170])
def test_small_losses_follow_the_rate_of_the_fresh_drop(mode, angle):
    """Limit: at 0.01 % loss the shrinking does not matter yet."""
    age = drop_age_limit_s(5, angle, **ROOM, loss_percent=0.01, mode=mode)
    assert_allclose(age * evaporation_rate_ul_s(5, angle, **ROOM), 5e-4, rtol=1e-3)


@MODES
def test_loss_at_the_age_comes_back(mode):
    """Limit: round trip for arrays."""
    volume, angle = np.array([[1.0], [5.0], [50.0]]), np.array([5.0, 90, 120, 175])
    for loss in (0.0, 0.1, 5, 60, 99.9):
        age = drop_age_limit_s(volume, angle, **ROOM, loss_percent=loss, mode=mode)
        assert age.shape == (3, 4)
        assert_allclose(evaporated_percent(volume, angle, age, **ROOM, mode=mode), loss, rtol=1e-8, atol=1e-9)


@MODES
def test_a_drop_that_is_gone_has_lost_everything(mode):
    life = drop_age_limit_s(5, 110, **ROOM, loss_percent=100, mode=mode)
    assert evaporated_percent(5, 110, [life, 10 * life], **ROOM, mode=mode).tolist() == [100, 100]
    assert evaporated_percent(5, 110, 0, **ROOM, mode=mode) == 0


@MODES
def test_in_saturated_air_no_drop_grows_too_old(mode):
    """Limit."""
    found = drop_age_limit_s([5, 50], 110, 25, [100, 100], mode=mode)
    assert np.all(found == math.inf)
    assert drop_age_limit_s(5, 110, 25, 100, loss_percent=0, mode=mode) == 0
    assert evaporated_percent(5, 110, 1e9, 25, 100, mode=mode) == 0


@pytest.mark.parametrize(("humidity", "minutes"), [(30, 4.1), (50, 3.0), (80, 1.2)])
def test_loss_in_the_first_minute(humidity, minutes):
    """Independent: a diffusion model computed apart gives these losses [%] of 5 µL at 25 °C in a minute."""
    assert_allclose(evaporated_percent(5, 90, 60, 25, humidity), minutes, rtol=0.06)


def test_age_grows_with_the_square_of_the_size():
    """Limit: 8 times the volume, twice the size, four times the age."""
    ages = drop_age_limit_s([2, 16], 110, **ROOM)
    assert_allclose(ages[1] / ages[0], 4, rtol=1e-12)


def test_age_at_five_percent_is_a_little_beyond_the_straight_line():
    age = drop_age_limit_s(5, 110, **ROOM)
    assert 5.0 < predicted_loss_percent(5, 110, age, **ROOM) < 5.1


def test_another_liquid():
    """Limit: the age goes as ρ/(D·p·M); a liquid that does not evaporate stays."""
    water = water_vapour(25)
    oil = Vapour(water.pressure_pa / 1000, water.diffusivity_m2_s / 4, water.molar_mass_kg_mol * 2, 997.0 / 2)
    ages = [drop_age_limit_s(5, 60, 25, vapour=vapour) for vapour in (oil, water)]
    assert_allclose(ages[0] / ages[1], 1000 * 4 / 2 / 2)
    still = Vapour(0.0, 1e-5, 0.3, 900.0)
    assert drop_age_limit_s(5, 60, 25, vapour=still) == math.inf
    assert drop_age_limit_s(5, 60, 150, vapour=oil) > 0  # the range of the water formulas is not asked of others


@MODES
def test_gaps_of_a_table_stay_where_they_are(mode):
    found = drop_age_limit_s([5, math.nan, 5], [110, 90, 90], **ROOM, loss_percent=[5, 5, math.nan], mode=mode)
    assert np.isnan(found).tolist() == [False, True, True]
    assert np.isnan(evaporated_percent(5, 110, [60, math.nan], **ROOM, mode=mode)).tolist() == [False, True]


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"volume_ul": 0}, "drop volume"),
        ({"angle_deg": 180}, "contact angle"),
        ({"angle_deg": 0}, "contact angle"),
        ({"temperature_c": -1}, "temperature"),
        ({"humidity_pct": 101}, "humidity"),
        ({"loss_percent": 101}, "loss"),
        ({"mode": "stick-slip"}, "mode must be"),
        ({"volume_ul": math.nan}, "drop volume"),
    ],
)
def test_impossible_drops_are_refused(change, word):
    drop = {"volume_ul": 5, "angle_deg": 110, **ROOM, **change}
    with pytest.raises(ValueError, match=word):
        drop_age_limit_s(**drop)


@MODES
@pytest.mark.parametrize(
    "gap", [{"volume_ul": [math.nan, 5]}, {"angle_deg": [math.nan, 110]}, {"loss_percent": [math.nan, 5]}]
)
def test_a_gap_stays_one_in_saturated_air(mode, gap):
    """Where nothing evaporates a gap must not turn into an infinite age."""
    drop = {"volume_ul": 5, "angle_deg": 110, "temperature_c": 25, "humidity_pct": 100, **gap}
    assert_allclose(drop_age_limit_s(**drop, mode=mode), [math.nan, math.inf])


@pytest.mark.parametrize("loss", [5, 40, 95])
def test_pinned_drop_against_adaptive_integration(loss):
    """Independent: scipy 1.17.1 quad over the volume, dt = dV/[a·speed·F(θ(V))]."""
    from scipy.integrate import quad

    base, speed = cap_drop(4, 100).base_radius_mm, evaporation_speed(24, 45)

    def seconds_per_volume(volume):
        return 1 / (base * speed * contact_angle_factor(cap_angle_of_volume_deg(volume, base)))

    expected = quad(seconds_per_volume, 4 * (1 - loss / 100), 4, epsrel=1e-9)[0]
    assert_allclose(drop_age_limit_s(4, 100, 24, 45, loss_percent=loss, mode=CONSTANT_BASE), expected, rtol=1e-6)
