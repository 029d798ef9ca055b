"""The two energy criteria of a lubricant film, and how sure their signs are."""

import math

import pytest
from numpy.testing import assert_allclose

from analysis.film.stability import CANNOT_TELL, STABLE, film_energies, film_stability, sign_of
from tests.analysis.tables import table

NAMES = (
    "roughness",
    "liquid_tension",
    "lubricant_tension",
    "interfacial_tension",
    "liquid_angle_deg",
    "lubricant_angle_deg",
)
STEADY = dict(zip(NAMES, [(2, 0.1), (72.8, 0.2), (20, 0.5), (45, 3), (110, 2), (10, 2)], strict=True))


@pytest.mark.parametrize("row", table("film_energies").to_dict("records"), ids=str)
def test_energies_and_what_their_signs_mean(row):
    *inputs, first, second, outcome = row.values()
    found = film_energies(*inputs)
    assert_allclose(found, (first, second), atol=6e-3)
    exact = film_stability(**{name: (value, 0.0) for name, value in zip(NAMES, inputs, strict=True)})
    assert exact.outcome == outcome


def test_difference_of_the_two_energies():
    """Limit: ΔE2 − ΔE1 = γA + γAB − γB whatever the solid."""
    first, second = film_energies(1.7, 52.0, 21.0, 13.0, 75, 20)
    assert_allclose(second - first, 52.0 + 13.0 - 21.0)


def test_uncertainties_are_propagated():
    """Independent: uncertainties 3.2.3, first order: ΔE1 44.190 ± 7.262, ΔE2 141.990 ± 6.565."""
    film = film_stability(**STEADY)
    assert_allclose(film.first, (44.19044, 7.262495), rtol=2e-3)
    assert_allclose(film.second, (141.99044, 6.565345), rtol=2e-3)
    assert film.outcome == STABLE


def test_a_sign_that_the_uncertainty_could_flip_is_not_told():
    wide = film_stability(**{**STEADY, "roughness": (2, 0.5)})  # ΔE1 = 44 with ± 23: less than twice
    assert wide.outcome == CANNOT_TELL
    assert [sign_of(2.0, 1.0), sign_of(2.1, 1.0), sign_of(-2.1, 1.0)] == [0, 1, -1]


@pytest.mark.parametrize(
    ("name", "bad"),
    [
        ("roughness", 0.9),
        ("liquid_tension", -1),
        ("liquid_angle_deg", 181),
        ("lubricant_angle_deg", math.nan),
    ],
)
def test_impossible_inputs_are_refused(name, bad):
    with pytest.raises(ValueError, match=r"projected|tension|angle"):
        film_stability(**{**STEADY, name: (bad, 0.1)})
    with pytest.raises(ValueError, match="uncertainty"):
        film_stability(**{**STEADY, name: (STEADY[name][0], math.nan)})
