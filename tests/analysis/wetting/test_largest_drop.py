"""The largest drop that holds: against the tilt it was computed from, the cap's closed form, exact limits."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.angles import mean_angle_deg
from analysis.wetting.capillary import GRAVITY, puddle_height_mm
from analysis.wetting.hysteresis import hysteresis_cosine
from analysis.wetting.largest_drop import largest_held_volume_ul
from analysis.wetting.retention import (
    PARALLEL_SIDED,
    RETENTION_FORMS,
    contact_width_mm,
    retention_force_un,
    sliding_angle_deg,
    weight_un,
)

WATER = (72.736, 998.207)  # tension [mN/m] and density [kg/m3] at 20 °C


@pytest.mark.parametrize(
    ("tilt", "advancing", "receding", "form", "volume"),
    [
        # independent: numpy 2.4.6; sliding angles of caps of 10 and 20 µL, read the other way round
        (51.441, 110, 90, "parallel_sided", 10),
        (37.249, 110, 90, "cosine_cubic", 10),
        (29.512, 110, 90, "parallel_sided", 20),
        (22.414, 110, 90, "cosine_cubic_radius", 20),
        (73.907, 110, 90, "cosine_cubic", 5),
        (4.323, 104, 102, "parallel_sided", 10),
        # hand: sin α = 1.2413 at 5 µL falls as V^(−2/3), so 1 is reached at 5·1.2413^1.5
        (90, 110, 90, "parallel_sided", 5 * 1.2413**1.5),
    ],
)
def test_largest_cap(tilt, advancing, receding, form, volume):
    found = largest_held_volume_ul(tilt, advancing, receding, *WATER, form=RETENTION_FORMS[form], has_gravity=False)
    assert_allclose(found, volume, rtol=4e-4)  # tilts to 0.001° and sines to four decimals


@pytest.mark.parametrize("form", RETENTION_FORMS.values(), ids=lambda form: form.key)
@pytest.mark.parametrize("has_gravity", [True, False])
def test_largest_drop_slides_just_there(form, has_gravity):
    """Limit: round trip for small and large drops, with the width of the cap and of the flattened drop."""
    tilt, advancing = np.meshgrid([2.0, 30, 90], [40.0, 109, 170])
    receding = advancing - 6
    volume = largest_held_volume_ul(tilt, advancing, receding, *WATER, form=form, has_gravity=has_gravity)
    width = contact_width_mm(volume, advancing, receding, *(WATER if has_gravity else ()))
    force = retention_force_un(width, WATER[0], advancing, receding, form)
    sine = force / weight_un(volume, WATER[1])
    assert_allclose(sine, np.sin(np.radians(tilt)), rtol=1e-6)


def test_gravity_widens_the_base_and_holds_more():
    cap, drop = (largest_held_volume_ul(5, 160, 150, *WATER, has_gravity=is_real) for is_real in (False, True))
    assert drop > 1.5 * cap


def test_small_drops_are_caps():
    """Limit: at 0.5° hysteresis the drop held upright is so small that gravity does not flatten it."""
    held = [largest_held_volume_ul(90, 100.1, 100, *WATER, has_gravity=is_real) for is_real in (False, True)]
    assert held[0] < 0.01
    assert_allclose(held[1], held[0], rtol=0.01)


def test_level_surfaces_hold_everything_and_no_hysteresis_nothing():
    """Limit."""
    found = largest_held_volume_ul([0, 0, 30, math.nan], [110, 110, 110, 110], [90, 110, 110, 90], *WATER)
    assert_allclose(found, [math.inf, math.inf, 0, math.nan])


def test_factor_and_length_cannot_be_mixed_up():
    """Limit: the cubic law with width and with radius holds the same drop."""
    width, radius = (
        largest_held_volume_ul(45, 110, 95, *WATER, form=RETENTION_FORMS[key])
        for key in ("cosine_cubic", "cosine_cubic_radius")
    )
    assert_allclose(width, radius, rtol=1e-12)
    assert width < largest_held_volume_ul(45, 110, 95, *WATER, form=PARALLEL_SIDED)


def test_a_smaller_drop_is_held_and_a_larger_one_slides():
    volume = largest_held_volume_ul(40, 115, 100, *WATER)
    for share, slides in ((0.9, False), (1.1, True)):
        drop = share * volume
        force = retention_force_un(contact_width_mm(drop, 115, 100, *WATER), WATER[0], 115, 100)
        assert (sliding_angle_deg(force, drop, WATER[1]) < 40) == slides


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ((-1, 110, 90), "tilt"),
        ((91, 110, 90), "tilt"),
        ((30, 90, 110), "receding angle"),
        ((30, 0, 0), "mean angle"),
        ((math.nan, 110, 90), "tilt"),
    ],
)
def test_impossible_slopes_are_refused(arguments, word):
    with pytest.raises(ValueError, match=word):
        largest_held_volume_ul(*arguments, *WATER)


def test_a_gap_stays_one_on_the_level_and_without_hysteresis():
    """Neither the infinite nor the zero volume may stand where an input is missing."""
    assert_allclose(largest_held_volume_ul(0, 110, 110, 72.7, [math.nan, 998]), [math.nan, math.inf])
    assert_allclose(largest_held_volume_ul([math.nan, 30], 110, 110, 72.7, 998), [math.nan, 0])


@pytest.mark.parametrize("has_gravity", [True, False])
def test_largest_drop_by_bisection(has_gravity):
    """Independent: scipy 1.17.1 brentq over the volume, forward through width, force and weight."""
    from scipy.optimize import brentq

    held = (60, 1100) if has_gravity else ()

    def excess(volume):
        force = retention_force_un(contact_width_mm(volume, 112, 88, *held), 60, 112, 88)
        return math.sin(math.radians(35)) - force / weight_un(volume, 1100)

    expected = brentq(excess, 1, 1e4, xtol=1e-10)
    assert_allclose(largest_held_volume_ul(35, 112, 88, 60, 1100, has_gravity=has_gravity), expected, rtol=1e-6)


@pytest.mark.parametrize("tilt", [0.02, 1e-3, 1e-6, 1e-100])
def test_slopes_that_hold_a_lake(tilt):
    """Limit: V = π·a²·h and ρ·g·V·sin α = 2a·γ·Δcos θ for a puddle; the rim adds some lc/2a, 0.2 % at 0.02 deg."""
    height, sine = puddle_height_mm(mean_angle_deg(110, 90), *WATER), math.sin(math.radians(tilt))
    per_base = 2 * WATER[0] * hysteresis_cosine(110, 90) / (WATER[1] * GRAVITY * 1e-3 * sine)  # V/a [mm²]
    expected = per_base * (per_base / (math.pi * height))
    assert_allclose(largest_held_volume_ul(tilt, 110, 90, *WATER), expected, rtol=3e-3)


def test_no_jump_where_drops_become_lakes():
    tilts = np.linspace(0.035, 0.025, 21)
    volumes = largest_held_volume_ul(tilts, 110, 90, *WATER)
    assert np.ptp(volumes * np.sin(np.radians(tilts)) ** 2) < 2e-3 * volumes[0] * math.sin(math.radians(0.035)) ** 2
    assert np.all(np.diff(volumes) > 0)
