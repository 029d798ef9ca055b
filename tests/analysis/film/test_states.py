"""Thermodynamic states of a filled texture: where one ends and the next begins, and the twelve there are."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.film.stability import film_energies
from analysis.film.states import (
    STATES,
    FilmState,
    angle_under_liquid_deg,
    critical_angle_deg,
    critical_spreading_coefficient,
    film_state,
    solid_spreading_coefficient,
    state_number,
)
from analysis.film.texture import square_posts
from tests.analysis.tables import table

SQUARE = table("post_textures").query("shape == 'square'").to_dict("records")


@pytest.mark.parametrize("row", SQUARE, ids=lambda row: f"pitch {row['pitch']}")
def test_critical_angle_of_posts(row):
    posts = square_posts(row["width"], row["pitch"], row["height"])
    assert_allclose(critical_angle_deg(posts.roughness, posts.solid_fraction), row["critical_angle"], atol=6e-4)


def test_critical_angle_at_its_bounds():
    """Limit: a flat solid is filled by nothing but a spreading liquid; a very deep texture by any below 90°."""
    assert critical_angle_deg(1.0, 0.3) == 0
    assert_allclose(critical_angle_deg(1e9, 0.3), 90.0, atol=1e-6)
    assert_allclose(critical_angle_deg(2.0, 0.0), 60.0)  # hand: cos = 1/2
    for fraction in (1.0, -0.1):  # at 1 the formula says 0/0: there is nothing to fill
        with pytest.raises(ValueError, match="solid fraction"):
            critical_angle_deg(1.0, fraction)
    found = critical_angle_deg(np.array([2.0, np.nan, 1.0]), 0.25)
    assert_allclose(found, [64.623, np.nan, 0.0], atol=6e-4)


@pytest.mark.parametrize(("roughness", "fraction"), [(2.0, 0.25), (1.1111, 0.0278), (1.0, 0.5), (30.0, 0.9)])
def test_spreading_coefficient_at_the_critical_angle(roughness, fraction):
    """Limit: γ(cos θc − 1) = −γ(r − 1)/(r − φ)."""
    angle = critical_angle_deg(roughness, fraction)
    assert_allclose(
        solid_spreading_coefficient(20.1, angle),
        critical_spreading_coefficient(20.1, roughness, fraction),
        atol=1e-12,
    )


def test_angle_under_the_liquid():
    """Hand: (20 cos 10° − 72.8 cos 95°)/45 = 26.041/45; beyond ±1 one of the two spreads."""
    assert_allclose(angle_under_liquid_deg(72.8, 20.0, 45.0, 95.0, 10.0), 54.642, atol=2e-3)
    assert angle_under_liquid_deg(72.8, 20.0, 10.0, 110.0, 10.0) == 0
    assert angle_under_liquid_deg(72.8, 20.0, 10.0, 20.0, 10.0) == 180
    assert angle_under_liquid_deg(72.8, 20.0, 0.0, 110.0, 10.0) == 0


def test_filled_beneath_the_drop_is_the_first_energy_criterion():
    """Limit: without flat tops cos θ > 1/r and ΔE1 > 0 are the same statement."""
    draw = np.random.default_rng(5)
    roughness, liquid, lubricant, between, liquid_angle, angle = (
        draw.uniform(low, high, 2000)
        for low, high in ((1, 4), (15, 75), (15, 35), (2, 55), (20, 120), (0, 60))
    )  # fmt: skip
    first, _ = film_energies(roughness, liquid, lubricant, between, liquid_angle, angle)
    under = angle_under_liquid_deg(liquid, lubricant, between, liquid_angle, angle)
    assert np.array_equal(first > 0, state_number(under, roughness, 0.0) >= 2)
    assert 200 < np.count_nonzero(first > 0) < 1800  # both happen


def test_there_are_twelve_states():
    """Two (cloaked or not) times six pairs; that six are allowed is our reading of the source."""
    assert len(STATES) == 12
    assert {(state.outside, state.under) for state in STATES.values()} == {
        (1, 1), (2, 1), (2, 2), (3, 1), (3, 2), (3, 3),
    }  # fmt: skip
    assert len({state.words for state in STATES.values()}) == 12
    assert "pins" in STATES["A2-W1 not cloaked"].words
    assert "touches no solid" in STATES["A3-W3 cloaked"].words
    assert not FilmState(1, 2, False).is_allowed
    assert "Not among" in FilmState(1, 3, True).words


@pytest.mark.parametrize(
    ("angle", "under", "coefficient", "code"),
    [
        # posts with critical angle 64.623°
        (0.0, 0.0, 7.7, "A3-W3 cloaked"),
        (0.0, 0.1, -5.0, "A3-W2 not cloaked"),
        (0.0, 90.0, -5.0, "A3-W1 not cloaked"),
        (64.6, 64.6, 0.0, "A2-W2 not cloaked"),  # at exactly 0 nothing drives the lubricant over the drop
        (64.6, 64.7, 1.0, "A2-W1 cloaked"),
        (64.7, 180.0, -1.0, "A1-W1 not cloaked"),
    ],
)
def test_state_of_a_film(angle, under, coefficient, code):
    found = film_state(
        roughness=2.0, solid_fraction=0.25, lubricant_angle_deg=angle, angle_under_deg=under,
        spreading_coefficient=coefficient,
    )  # fmt: skip
    assert found.code == code
    assert STATES[code] == found


def test_state_numbers_of_an_array():
    found = state_number(np.array([0.0, 30.0, 80.0, np.nan]), 2.0, 0.25)
    assert found.tolist() == [3, 2, 1, 0]
    assert state_number(0.0, 1.0, 0.5) == 3  # flat, and it spreads
    assert state_number(0.1, 1.0, 0.5) == 1  # flat, and it does not


def test_no_interfacial_tension_and_nothing_to_decide_is_no_angle():
    """Limit: 0/0; one step aside one of the two spreads."""
    assert np.isnan(angle_under_liquid_deg(20.0, 20.0, 0.0, 50.0, 50.0))
    assert angle_under_liquid_deg(20.0, 21.0, 0.0, 50.0, 50.0) == 0
    assert angle_under_liquid_deg(21.0, 20.0, 0.0, 50.0, 50.0) == 180


def test_a_flat_solid_has_no_room_for_a_coefficient_below_zero():
    assert str(critical_spreading_coefficient(20.1, 1.0, 0.5)) == "0.0"  # not −0


def test_rounding_does_not_cloak_a_drop():
    found = film_state(
        roughness=2.0, solid_fraction=0.25, lubricant_angle_deg=0.0, angle_under_deg=0.0,
        spreading_coefficient=7e-15,
    )  # fmt: skip
    assert found.code == "A3-W3 not cloaked"


@pytest.mark.parametrize("texture", [(2.0, 0.25), (1.5, 0.0), (7.3, 0.61)])
def test_at_the_critical_angle_the_texture_is_not_filled(texture):
    """Limit: state 2 ends below it."""
    angle = critical_angle_deg(*texture)
    assert state_number(angle, *texture) == 1
    assert state_number(angle * (1 - 1e-12), *texture) == 2
