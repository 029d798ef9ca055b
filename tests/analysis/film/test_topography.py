"""Roughness factor and room below the tops of measured heights."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.special import ellipe

from analysis.film.texture import square_posts
from analysis.film.topography import height_map, height_profile


def sine(amplitude, periods, points):
    return amplitude * np.sin(2 * np.pi * periods * np.arange(points + 1) / points)


@pytest.mark.parametrize("slope", [0.3, 1.0, 5.0])
def test_a_sine_profile(slope):
    """Independent (scipy.special.ellipe): length ratio (2/π)√(1+s²)·E(s²/(1+s²)), s the steepest slope."""
    points, length = 8000, 100.0
    amplitude = slope * length / (2 * np.pi * 4)
    found = height_profile(sine(amplitude, 4, points), length / points)
    ratio = 2 / np.pi * np.sqrt(1 + slope**2) * ellipe(slope**2 / (1 + slope**2))
    assert_allclose(found.texture.roughness, ratio, rtol=1e-5)
    assert_allclose(found.developed_ratio_pct, 100 * (ratio - 1), rtol=1e-4)
    # hand: 2A/π and A/√2; one point in 8001 counts twice
    assert_allclose(found.mean_deviation_um, 2 * amplitude / np.pi, rtol=1e-3)
    assert_allclose(found.root_mean_square_um, amplitude / np.sqrt(2), rtol=1e-3)
    full = height_profile(sine(amplitude, 4, points), length / points, top_percentile=100)
    assert_allclose(full.texture.void_um, amplitude, rtol=1e-6)  # hand: the mean lies A below the tops


def test_a_corrugated_map_is_its_profile():
    """Limit: grooves have the area ratio of the length ratio across them, whichever way they run."""
    profile = sine(2.0, 3, 300)
    along = np.tile(profile, (5, 1))
    ratio = height_profile(profile, 0.5).texture.roughness
    assert_allclose(height_map(along, (7.0, 0.5)).texture.roughness, ratio, rtol=1e-12)
    assert_allclose(height_map(along.T, (0.5, 7.0)).texture.roughness, ratio, rtol=1e-12)


def test_a_sphere_cap_has_the_area_it_should_have():
    """Hand: within the square |x|, |y| ≤ 0.3R the mean of 1/cos of the slope is ∫∫ R/√(R²−x²−y²)."""
    from scipy.integrate import dblquad

    axis = np.linspace(-0.3, 0.3, 401)
    x, y = np.meshgrid(axis, axis)
    area, _ = dblquad(lambda a, b: 1 / np.sqrt(1 - a**2 - b**2), -0.3, 0.3, -0.3, 0.3)
    found = height_map(np.sqrt(1 - x**2 - y**2), axis[1] - axis[0])
    assert_allclose(found.texture.roughness, area / 0.36, rtol=1e-5)


def test_a_tilted_plane():
    """Hand: √(1 + 0.5² + 2²); levelled it is flat."""
    rows, columns = np.meshgrid(np.arange(6.0), np.arange(9.0), indexing="ij")
    plane = 0.5 * columns * 0.25 + 2.0 * rows * 3.0 + 7.0
    assert_allclose(height_map(plane, (3.0, 0.25)).texture.roughness, np.sqrt(1 + 0.25 + 4))
    flat = height_map(plane, (3.0, 0.25), is_levelled=False)
    assert_allclose((flat.texture.roughness, flat.mean_deviation_um), (1.0, 0.0), atol=1e-9)
    line = height_profile(3.0 * np.arange(5.0) + 1, 4.0, is_levelled=False)
    assert_allclose((line.texture.roughness, line.root_mean_square_um), (1.0, 0.0), atol=1e-9)


def test_a_mapped_array_of_posts_is_the_drawn_one():
    """Limit: pixels of 1/10 of a post; walls cost one pixel, which is the tolerance of the roughness factor."""
    cell = np.zeros((20, 20))
    cell[5:15, 5:15] = 10.0
    found = height_map(np.tile(cell, (10, 10)), 1.0)
    drawn = square_posts(10, 20, 10)
    assert_allclose(found.texture.solid_fraction, drawn.solid_fraction)
    assert_allclose(found.texture.void_um, drawn.void_um)
    assert_allclose(found.texture.roughness, drawn.roughness, rtol=0.06)
    assert found.texture.height_um == 10.0
    assert any("80°" in note for note in found.texture.notes)


def test_a_spike_does_not_make_the_tops():
    heights = np.zeros((30, 30))
    heights[3, 4] = 50.0
    assert height_map(heights, 1.0).texture.void_um == 0
    assert height_map(heights, 1.0, top_percentile=100).texture.void_um > 49
    assert_allclose(height_map(heights, 1.0, top_um=5.0).texture.void_um, 5 * 899 / 900)


def test_scale_does_not_matter():
    """Limit: heights and pixel in other units give the same ratio."""
    heights = np.random.default_rng(2).normal(0, 1, (40, 30))
    first, second = height_map(heights, 0.5), height_map(1000 * heights, 500.0)
    assert_allclose(first.texture.roughness, second.texture.roughness)
    assert_allclose(second.mean_deviation_um, 1000 * first.mean_deviation_um)
    assert first.texture.roughness == pytest.approx(height_map(heights[::-1, ::-1].T, 0.5).texture.roughness)
    assert "at least" in first.texture.notes[0]


@pytest.mark.parametrize(
    ("heights", "words"),
    [
        (np.zeros((1, 5)), "at least 2"),
        (np.zeros(5), "2 dimension"),
        (np.array([[0.0, 1.0], [np.nan, 0.0]]), "finite"),
        (np.zeros((0, 0)), "at least 2"),
    ],
)
def test_maps_that_say_nothing_are_refused(heights, words):
    with pytest.raises(ValueError, match=words):
        height_map(heights, 1.0)


def test_other_refusals():
    with pytest.raises(ValueError, match="pixel"):
        height_map(np.zeros((3, 3)), 0.0)
    with pytest.raises(ValueError, match="percentile"):
        height_map(np.zeros((3, 3)), 1.0, top_percentile=0)
    with pytest.raises(ValueError, match="at least 2"):
        height_profile([1.0], 1.0)
    with pytest.raises(ValueError, match="solid fraction"):  # a flat map has no texture to fill
        _ = height_map(np.zeros((3, 3)), 1.0).texture.critical_angle_deg


def test_a_flat_map_of_any_size_has_no_less_than_its_area():
    """Limit: r = 1; the mean of equal numbers may be rounded to a little less."""
    for points in range(2, 60):
        found = height_map(np.full((points, points + 3), 0.7), (0.1, 0.3))
        assert 1 <= found.texture.roughness < 1 + 1e-12
        assert found.developed_ratio_pct >= 0
        assert height_profile(np.zeros(points), 0.7).texture.roughness >= 1


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: height_map([[0, 1], [2, 3]], 1.0, top_um=-5.0), "plane of the tops must be at least 0.0 µm, not -5"),
        (lambda: height_map([[0, 1], [2, 3]], (1.0, 2.0, 3.0)), "pixel must be one size or a pair"),
        (lambda: height_profile([0, 1, 2], [1.0, 2.0]), "spacing must be one number"),
        (lambda: height_profile([0, 1, 2], np.nan), "spacing must be a finite number"),
    ],
)
def test_what_is_no_map_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_tops_at_the_lowest_height_leave_no_room():
    found = height_map([[0, 1], [2, 3]], 1.0, top_um=0.0).texture  # limit
    assert (found.void_um, found.height_um, found.solid_fraction) == (0.0, 0.0, 1.0)
