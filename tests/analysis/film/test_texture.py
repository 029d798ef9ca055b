"""What posts, fibres and weaves offer a lubricant."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad

from analysis.film.texture import cylinder_posts, fibres, hierarchical, open_area, plain_weave, square_posts
from tests.analysis.tables import table

MADE = {"square": square_posts, "round": cylinder_posts}


@pytest.mark.parametrize(
    "row", table("post_textures").to_dict("records"), ids=lambda row: f"{row['shape']} {row['pitch']}"
)
def test_posts(row):
    posts = MADE[row["shape"]](row["width"], row["pitch"], row["height"])
    assert_allclose(posts.solid_fraction, row["solid_fraction"], atol=6e-5)
    assert_allclose(posts.roughness, row["roughness"], atol=6e-5)
    for name, found in [("critical_angle", posts.critical_angle_deg), ("void", posts.void_um)]:
        if not np.isnan(row[name]):
            assert_allclose(found, row[name], atol=6e-4)


def test_posts_as_arrays_and_as_volume_per_area():
    posts = square_posts(10.0, np.array([[15.0], [np.nan]]), np.array([10.0, 0.0]))
    assert_allclose(posts.roughness, [[2.777778, 1.0], [np.nan, np.nan]], rtol=1e-6)
    assert_allclose(posts.void_um[0], [5.555556, 0.0], rtol=1e-6)
    assert_allclose(square_posts(10, 20, 10).void_ul_cm2, 0.75)  # hand: 7.5 µm over 1 cm² is 0.75 µL
    assert isinstance(cylinder_posts(10, 20, 10).roughness, float)


def test_a_fibre_layer_against_integration():
    """Independent (scipy): area and room of half a pitch from the outline of the fibre."""
    diameter, gap = 12.0, 30.0
    pitch, radius = diameter + gap, diameter / 2
    solid, _ = quad(lambda x: 2 * np.sqrt(radius**2 - x**2), -radius, radius)
    layer = fibres(diameter, gap)
    assert_allclose(layer.void_um, diameter - solid / pitch, rtol=1e-9)
    assert_allclose(layer.roughness, 1 + np.pi * diameter / pitch)  # hand: girth plus floor
    assert_allclose(fibres(diameter, 0.0, has_floor=False).roughness, np.pi)  # limit: touching fibres
    assert layer.solid_fraction == 0
    assert "round tops" in layer.notes[0]


def test_a_plain_weave_against_the_usual_porosity_of_wire_screens():
    """From memory: porosity 1 − 1.05·πNd/4 of a screen two wires thick, N wires per length, crimp 1.05."""
    crimp = 1.05
    pitch = 100.0
    diameter = pitch * np.sqrt(crimp**2 - 1)  # straight from crossing to crossing this is that crimp
    weave = plain_weave(diameter, pitch - diameter)
    assert_allclose(weave.void_um / (2 * diameter), 1 - crimp * np.pi * diameter / (4 * pitch))
    assert weave.height_um == 2 * diameter


def test_a_wide_weave_is_two_layers_of_straight_fibres():
    """Limit: gap far above the wire."""
    weave, layer = plain_weave(1.0, 999.0), fibres(1.0, 999.0)
    assert_allclose(weave.roughness - 1, 2 * (layer.roughness - 1), rtol=1e-6)
    assert_allclose(2 - weave.void_um, 2 * (1 - layer.void_um), rtol=1e-6)


@pytest.mark.parametrize(
    ("wire", "gap", "share"),
    [
        # published: Nat. Sustain. 2020, DOI 10.1038/s41893-020-0591-9, sizes; shares recomputed from them
        (36, 43, 0.2963),
        (28, 51, 0.4168),
        (1.0, 2**0.5 + 1, 0.5),  # hand: D* = 2 + √2
    ],
)
def test_open_area_of_a_mesh(wire, gap, share):
    assert_allclose(open_area(wire, gap), share, atol=6e-5)


def test_hierarchical():
    """Hand: r 2·2, φ 0.25·0.25, room 7.5 + 2·0.075."""
    both = hierarchical(square_posts(10, 20, 10), square_posts(0.1, 0.2, 0.1))
    assert_allclose((both.roughness, both.solid_fraction, both.void_um), (4.0, 0.0625, 7.65))
    assert both.notes == ()
    assert "not small" in hierarchical(square_posts(10, 20, 10), square_posts(1, 2, 5)).notes[0]
    flat = square_posts(1, 2, 0)
    assert_allclose(hierarchical(square_posts(10, 20, 10), flat).roughness, 2.0)  # limit


@pytest.mark.parametrize(
    ("make", "sizes", "words"),
    [
        (square_posts, (20, 20, 10), "pitch"),
        (square_posts, (10, 20, -1), "height"),
        (square_posts, (0, 20, 1), "width"),
        (cylinder_posts, (21, 20, 10), "pitch"),
        (cylinder_posts, (np.nan, 20, 10), "diameter"),
        (fibres, (10, -1), "gap"),
        (plain_weave, (10, 0), "no room"),
    ],
)
def test_impossible_textures_are_refused(make, sizes, words):
    with pytest.raises(ValueError, match=words):
        make(*sizes)


def test_a_free_layer_with_less_area_than_the_ground_is_refused():
    with pytest.raises(ValueError, match="less area"):
        fibres(10.0, 50.0, has_floor=False)
