"""Facts of the trade that the wetting models must reproduce (common practice, no source).

A dry hydrophobic texture that sheds water does not shed oil: the oil's angle on the same chemistry lies below 90°,
so that it enters the texture and pins. Filled with a lubricant that suits it, the same texture sheds both.
"""

import math

import numpy as np
import pytest

from analysis.wetting.angles import young_angle_deg
from analysis.wetting.cassie import flat_tops_angle_deg
from analysis.wetting.largest_drop import largest_held_volume_ul
from analysis.wetting.retention import CANNOT_SLIDE, contact_width_mm, retention_force_un, sliding_angle_deg
from analysis.wetting.texture_state import CASSIE, WENZEL, crossover_angle_deg, robustness, texture_state

SOLID = 20.5  # tension of a hydrocarbon-like hydrophobic layer, all of it dispersive [mN/m]
WATER = {"tension": 72.8, "dispersive": 21.8, "density": 998}
OIL = {"tension": 27.5, "dispersive": 27.5, "density": 773}  # like hexadecane
ROUGHNESS, TOPS = 3.0, 0.10  # a fine, deep texture


def smooth_angle(liquid, solid=SOLID):
    """Young's angle, the tension between solid and liquid by Fowkes (hand: γs + γl − 2√(γs·γl,d))."""
    between = solid + liquid["tension"] - 2 * math.sqrt(solid * liquid["dispersive"])
    return young_angle_deg(solid, between, liquid["tension"])


def slides_at(liquid, advancing, receding, volume_ul=10):
    held = liquid["tension"], liquid["density"]
    width = contact_width_mm(volume_ul, advancing, receding, *held)
    force = retention_force_un(width, liquid["tension"], advancing, receding)
    return sliding_angle_deg(force, volume_ul, liquid["density"])


def on_texture(young, roughness=ROUGHNESS, tops=TOPS):
    return texture_state(young, roughness, tops).stable_angle_deg


@pytest.mark.parametrize("solid", [20.5, 22, 24])
def test_the_same_chemistry_repels_water_and_not_oil(solid):
    water, oil = smooth_angle(WATER, solid), smooth_angle(OIL, solid)
    assert 105 < water < 115
    assert oil < 70 < 90 < water


def test_water_rests_on_the_dry_texture_and_slides_off():
    water = smooth_angle(WATER)
    assert water > crossover_angle_deg(ROUGHNESS, TOPS)
    found = texture_state(water, ROUGHNESS, TOPS)
    assert found.stable == CASSIE
    assert found.stable_angle_deg > 150
    # a hysteresis of 15° on the smooth layer is carried by a tenth of the surface
    advancing, receding = flat_tops_angle_deg([water + 5, water - 10], TOPS)
    assert slides_at(WATER, advancing, receding) < 10


def test_oil_enters_every_dry_texture_with_flat_tops():
    oil = smooth_angle(OIL)
    roughness, tops = np.meshgrid(np.linspace(1.01, 20, 30), np.linspace(0.001, 0.99, 30))
    found = texture_state(oil, roughness, tops)
    assert np.all(found.stable == WENZEL)
    assert np.all(found.stable_angle_deg < oil)
    assert found.stable_angle_deg[0, -1] == 0  # a deep texture draws it in


def test_oil_leaves_a_film_where_it_recedes():
    """Receding over its own filled texture its angle is 0°: no dry surface is left behind."""
    oil = smooth_angle(OIL)
    assert on_texture(oil - 10) == 0
    assert on_texture(smooth_angle(WATER) - 5) > 150


@pytest.mark.parametrize("young", [72.0, 76, 80])
def test_liquids_just_below_90_degrees_pin(young):
    """The same 15° of hysteresis on the smooth layer, multiplied by the roughness instead of divided by ten."""
    liquid = {"tension": 48.0, "density": 1113}  # like ethylene glycol
    advancing, receding = on_texture(young + 5), on_texture(young - 10)
    assert advancing < young + 5
    assert slides_at(liquid, advancing, receding, volume_ul=5) == CANNOT_SLIDE
    water = flat_tops_angle_deg(np.array([5.0, -10.0]) + smooth_angle(WATER), TOPS)
    held = largest_held_volume_ul(90, advancing, receding, liquid["tension"], liquid["density"])
    assert held > 100 * largest_held_volume_ul(90, *water, WATER["tension"], WATER["density"])


def test_even_curved_fibres_hold_oil_less_firmly_than_water():
    """Oil may hang on fibres, but the pressure that it withstands is the smaller."""
    lengths = [math.sqrt(item["tension"] / item["density"] / 9.80665 * 1e3) for item in (WATER, OIL)]  # mm
    water, oil = robustness([smooth_angle(WATER), smooth_angle(OIL)], 3.0, 10.0, lengths)
    assert oil < water / 3


@pytest.mark.parametrize("hysteresis", [1.0, 2.0, 3.0])
def test_the_filled_texture_sheds_both(hysteresis):
    """On a lubricant both liquids have 1 to 3° of hysteresis, whatever their angle."""
    for liquid, angle in ((WATER, 110.0), (OIL, 50.0)):
        assert slides_at(liquid, angle, angle - hysteresis) < 10
