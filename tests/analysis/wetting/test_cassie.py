"""Apparent angles over air: published meshes, worked numbers, exact limits."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.cassie import (
    cassie_baxter_angle_deg,
    fibre_angle_deg,
    fibre_shares,
    flat_tops_angle_deg,
    particle_angle_deg,
    particle_shares,
    particles_on_fibres_angle_deg,
    weave_angle_deg,
)
from analysis.wetting.spacing import fibre_spacing_ratio
from tests.analysis.tables import table

ANGLES = np.array([0.0, 10, 35, 90, 110, 150, 179, 180])


@pytest.mark.parametrize(
    ("angle", "tops", "expected"),
    [
        # independent: numpy 2.4.6
        (110, 0.10, 159.100),
        (120, 0.05, 167.161),
        (110, 0.25, 146.668),  # square posts 10/20/10 µm
        (110, 0.19635, 150.552),  # round posts 10/20/10 µm
        (110, 0.25 * 0.30, 161.925),  # posts on posts
    ],
)
def test_flat_tops(angle, tops, expected):
    assert_allclose(flat_tops_angle_deg(angle, tops), expected, atol=6e-4)
    assert_allclose(cassie_baxter_angle_deg(angle, tops, 1 - tops), expected, atol=6e-4)


def test_flat_tops_at_their_limits():
    """Limit: no solid gives 180°, all solid the smooth angle; digits are kept near 180°."""
    assert_allclose(flat_tops_angle_deg(ANGLES, 1), ANGLES, atol=1e-12)
    assert_allclose(flat_tops_angle_deg(ANGLES, 0), 180)
    # hand: 180° − θ* = √φ·(180° − θ) to first order
    assert_allclose(180 - flat_tops_angle_deg(179.9999, 0.25), 0.00005, rtol=1e-6)


@pytest.mark.parametrize("row", table("mesh_angles").to_dict("records"), ids=str)
def test_published_meshes(row):
    ratio = fibre_spacing_ratio(row["fibre_diameter_um"], row["gap_um"])
    found = fibre_angle_deg(35, ratio)
    assert_allclose(found, row["recomputed_hexadecane_deg"], atol=6e-3)
    assert_allclose(found, row["hexadecane_deg"], atol=0.6)  # published, whole degrees with D* rounded to 0.1
    assert abs(found - row["measured_hexadecane_deg"]) <= row["measured_hexadecane_spread_deg"]
    # published: the paper's water column belongs to about 105° on the smooth solid (as the check of it found)
    assert_allclose(fibre_angle_deg(105, ratio), row["water_deg"], atol=1)


def test_published_mesh_with_the_rounded_ratio():
    """Independent: numpy 2.4.6, 93.1 with D* = 2.8 as printed."""
    assert_allclose(fibre_angle_deg(35, 2.8), 93.1, atol=0.06)


@pytest.mark.parametrize(("young", "ratio", "expected"), [(25, 1.8117, 35.0), (46, 1.81, 63.96)])
def test_published_particles(young, ratio, expected):
    """Published chain: heptane 25° → 35°, hexadecane 46° → 64°; recomputed with numpy 2.4.6."""
    assert_allclose(particle_angle_deg(young, ratio), expected, atol=6e-3)


@pytest.mark.parametrize("ratio", [1, 1.5, 2.2, 10])
def test_curved_tops_follow_from_their_shares(ratio):
    """Limit: the general formula with f1 and f2 gives the closed forms for fibres and particles."""
    for shares, closed in ((fibre_shares, fibre_angle_deg), (particle_shares, particle_angle_deg)):
        found = shares(ANGLES[1:], ratio)
        assert np.all(found.wetted + found.open >= 1 - 1e-12)
        general = cassie_baxter_angle_deg(ANGLES[1:], found.wetted, found.open)
        assert_allclose(general, closed(ANGLES[1:], ratio), atol=2e-6)


def test_one_less_the_wetted_share_is_wrong_on_fibres():
    """Trap: with f2 = 1 − f1 the angle of hexadecane on the mesh would come out 40° off."""
    ratio = fibre_spacing_ratio(36, 43)
    shares = fibre_shares(35, ratio)
    assert shares.wetted + shares.open > 1.5
    with pytest.raises(ValueError, match="open area"):
        cassie_baxter_angle_deg(35, shares.wetted, 1 - shares.wetted)
    water = fibre_shares(105, ratio)
    wrong = cassie_baxter_angle_deg(105, water.wetted, 1 - water.wetted)
    assert abs(wrong - fibre_angle_deg(105, ratio)) > 5


def test_shares_that_leave_a_gap_are_refused():
    with pytest.raises(ValueError, match=r"f1 \+ f2 must be at least"):
        cassie_baxter_angle_deg(110, 0.1, 0.8)


def test_fibres_at_their_limits():
    """Limit: wide apart or at 180° all is air; a half-wetted fibre gives cos θ* = 1/D* − 1 at 90°."""
    assert_allclose(fibre_angle_deg(180, [1, 3]), 180, atol=1e-5)
    assert_allclose(fibre_angle_deg(60, 1e12), 180, atol=1e-3)
    assert_allclose(fibre_angle_deg(90, 2), 120)
    assert_allclose(fibre_angle_deg(0, 1), 0)  # π/D* − 1 exceeds 1: wetted
    assert_allclose(particle_angle_deg(90, math.pi / (2 * math.sqrt(3)) / 0.5), 120)


def test_weave_touches_more_than_parallel_fibres():
    """Hand: at D* = 2 and 90°, cos θ* = −1 + 3/4; limit: equal at D* = 1, 2 − 1/D* times the term else."""
    assert_allclose(weave_angle_deg(90, 2), math.degrees(math.acos(-0.25)))
    assert_allclose(weave_angle_deg(ANGLES, 1), fibre_angle_deg(ANGLES, 1), atol=1e-6)
    assert np.all(weave_angle_deg(ANGLES[1:-1], 3.0) < fibre_angle_deg(ANGLES[1:-1], 3.0))
    angle, ratio = 70.0, 2.5
    above = [1 + math.cos(math.radians(form(angle, ratio))) for form in (weave_angle_deg, fibre_angle_deg)]
    assert_allclose(above[0] / above[1], 2 - 1 / ratio)


def test_particles_make_fibres_more_repellent():
    """Limit: one formula inside the other; published: with particles of D*p 1.81 heptane meets 35° on the fibre."""
    assert_allclose(particles_on_fibres_angle_deg(25, 1.8117, 6), fibre_angle_deg(35, 6), atol=5e-3)
    assert np.all(particles_on_fibres_angle_deg(ANGLES[:-1], 2.0, 3.0) > fibre_angle_deg(ANGLES[:-1], 3.0))


def test_arrays_keep_shape_and_gaps():
    found = fibre_angle_deg([[35.0, math.nan]], [[2.2], [2.8]])
    assert found.shape == (2, 2)
    assert np.isnan(found).tolist() == [[False, True], [False, True]]


@pytest.mark.parametrize(
    ("function", "arguments", "word"),
    [
        (flat_tops_angle_deg, (110, 1.1), "solid fraction"),
        (flat_tops_angle_deg, (181, 0.1), "contact angle"),
        (fibre_angle_deg, (35, 0.9), "spacing ratio"),
        (weave_angle_deg, (35, math.nan), "spacing ratio"),
        (particle_angle_deg, (math.nan, 2), "contact angle"),
        (cassie_baxter_angle_deg, (90, -0.1, 1), "wetted area"),
        (particles_on_fibres_angle_deg, (90, 0.5, 2), "spacing ratio"),
    ],
)
def test_impossible_textures_are_refused(function, arguments, word):
    with pytest.raises(ValueError, match=word):
        function(*arguments)
