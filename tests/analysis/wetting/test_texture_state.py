"""Which state of a drop on a texture is stable, and how far it is from collapse."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.angles import wenzel_angle_deg
from analysis.wetting.capillary import capillary_length_mm
from analysis.wetting.cassie import flat_tops_angle_deg
from analysis.wetting.spacing import fibre_spacing_ratio
from analysis.wetting.texture_state import (
    CASSIE,
    EQUAL,
    WENZEL,
    crossover_angle_deg,
    largest_spacing_ratio,
    robustness,
    texture_state,
)
from tests.analysis.tables import table

POSTS = [  # independent: numpy 2.4.6; square and round posts of 10 µm, pitch 20 µm, height 10 µm, smooth angle 110°
    (2.00000, 0.25000, 133.160, 146.668, 115.377),
    (1.78540, 0.19635, 127.636, 150.552, 120.381),
]


@pytest.mark.parametrize(("roughness", "tops", "wenzel", "cassie", "crossover"), POSTS)
def test_posts(roughness, tops, wenzel, cassie, crossover):
    found = texture_state(110, roughness, tops)
    angles = found.wenzel_angle_deg, found.cassie_angle_deg, found.crossover_angle_deg
    assert_allclose(angles, (wenzel, cassie, crossover), atol=1e-3)  # r and φ are given to five digits
    assert (found.stable, found.stable_angle_deg) == (WENZEL, found.wenzel_angle_deg)  # 110° is below the crossover


@pytest.mark.parametrize(("roughness", "tops"), [(1.5, 0.1), (2, 0.25), (5, 0.5), (1.01, 0.99)])
def test_both_states_have_the_same_angle_at_the_crossover(roughness, tops):
    """Limit."""
    angle = crossover_angle_deg(roughness, tops)
    assert_allclose(wenzel_angle_deg(angle, roughness), flat_tops_angle_deg(angle, tops), atol=1e-6)
    assert texture_state(angle, roughness, tops).stable == EQUAL
    below, above = texture_state([angle - 0.01, angle + 0.01], roughness, tops).stable
    assert (below, above) == (WENZEL, CASSIE)


def test_lower_energy_is_the_lower_apparent_angle():
    """Independent of the crossover: a drop of fixed volume has less energy the lower its angle is."""
    chance = np.random.default_rng(3)
    young, roughness, tops = chance.uniform(30, 175, 300), chance.uniform(1.05, 3, 300), chance.uniform(0.02, 0.9, 300)
    found = texture_state(young, roughness, tops)
    is_open = found.wenzel_angle_deg < 180  # a saturated angle tells no energy
    lower = np.where(found.wenzel_angle_deg < found.cassie_angle_deg, WENZEL, CASSIE)
    assert is_open.sum() > 150
    assert np.array_equal(found.stable[is_open], lower[is_open])
    assert np.array_equal(found.cassie_excess > 0, found.stable == WENZEL)


def test_crossover_is_never_below_90():
    """Limit: cos θc = (φ − 1)/(r − φ) ≤ 0."""
    roughness, tops = np.meshgrid([1.0001, 1.5, 3, 100], [0, 0.1, 0.5, 0.9999])
    assert np.all(crossover_angle_deg(roughness, tops) > 90 - 1e-9)
    assert crossover_angle_deg(2, 1) == pytest.approx(90)
    assert crossover_angle_deg(1, 0.5) == pytest.approx(180)  # without roughness nothing drives the liquid out


def test_a_smooth_surface_has_no_two_states():
    with pytest.raises(ValueError, match="smooth surface"):
        crossover_angle_deg(1, 1)


def test_state_of_a_gap_is_empty():
    found = texture_state([120, math.nan], 2, 0.1)
    assert found.stable.tolist() == [CASSIE, ""]
    assert np.isnan(found.stable_angle_deg).tolist() == [False, True]


@pytest.mark.parametrize("row", table("mesh_angles").to_dict("records"), ids=str)
def test_robustness_of_published_meshes(row):
    """Published with D* rounded to 0.1, so within 2 %; recomputed from the dimensions to the digits given."""
    ratio = fibre_spacing_ratio(row["fibre_diameter_um"], row["gap_um"])
    found = robustness(35, ratio, row["fibre_diameter_um"] / 2, 1.9)
    assert_allclose(found, row["recomputed_robustness"], atol=6e-3)
    assert_allclose(found, row["robustness"], rtol=0.02)


@pytest.mark.parametrize(
    ("angle", "wanted", "length", "printed", "recomputed"),
    [
        # published chain on fibres of R = 10 µm; recomputed with numpy 2.4.6
        (35, 1, 1.7, 6, 6.0008),
        (60, 1, 1.9, 10, 9.919),
        (60, 10, 1.9, 3.3, 3.3355),
    ],
)
def test_widest_spacing_for_a_robustness(angle, wanted, length, printed, recomputed):
    found = largest_spacing_ratio(angle, wanted, 10, length)
    assert_allclose(found, recomputed, atol=6e-4)
    assert_allclose(found, printed, rtol=0.015)
    assert_allclose(robustness(angle, found, 10, length), wanted)  # limit: round trip


def test_robustness_of_hexadecane_on_the_fibres_of_the_chain():
    """Published 3.1 at D* 6; recomputed 3.140 with the printed 64° of its particles."""
    assert_allclose(robustness(64, 6, 10, 1.9), 3.140, atol=6e-4)


def test_capillary_lengths_of_the_paper():
    """Published to one decimal: hexadecane 1.9 mm, heptane 1.7 mm; densities from memory."""
    assert round(capillary_length_mm(27.47, 773), 1) == 1.9
    assert round(capillary_length_mm(20.14, 684), 1) == 1.7


def test_robustness_shrinks_with_size_and_gap():
    assert np.all(np.diff(robustness(60, [1.5, 2, 4, 8], 10, 1.9)) < 0)
    assert_allclose(robustness(60, 3, [1, 10], 1.9)[0] / robustness(60, 3, 10, 1.9), 10)  # limit: as 1/R
    assert robustness(0, 3, 10, 1.9) == 0  # limit: a liquid that spreads is not held


@pytest.mark.parametrize("arguments", [(60, 1, 10, 1.9), (60, 2, 0, 1.9), (60, 2, 10, 0), (math.nan, 2, 10, 1)])
def test_impossible_fibres_are_refused(arguments):
    with pytest.raises(ValueError, match="must be"):
        robustness(*arguments)
