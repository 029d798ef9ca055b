"""The two energy criteria of a lubricant film, and how sure their signs are."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.film.stability import (
    CANNOT_TELL,
    DISPLACED,
    NOT_PREDICTED,
    STABLE,
    energy_gap,
    film_energies,
    film_stability,
    meaning_of_signs,
    outcome_of_signs,
    sign_of,
)
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


def test_arrays_give_what_single_films_give():
    rows = table("film_energies")
    together = film_energies(*(rows[name].to_numpy() for name in rows.columns[:6]))
    alone = [film_energies(*row) for row in rows.iloc[:, :6].itertuples(index=False)]
    assert_allclose(np.transpose(together), alone, rtol=1e-14)
    assert isinstance(alone[0][0], float)


def test_missing_values_of_an_array_stay_in_their_place():
    first, second = film_energies(np.array([[2.0], [np.nan]]), 72.8, 20.0, np.array([45.0, np.nan]), 110, 10)
    assert np.isnan(first).tolist() == [[False, True], [True, True]]
    assert np.isnan(second).tolist() == [[False, False], [True, True]]  # ΔE2 needs no interfacial tension


@pytest.mark.parametrize("liquids", [(52.0, 21.0, 13.0), (72.8, 20.0, 45.0), (17.2, 30.0, 2.0), (0.0, 0.0, 0.0)])
def test_gap_of_the_energies_depends_on_the_liquids_alone(liquids):
    """Limit: the identity, for a rough and a flat solid of any wetting."""
    for roughness, angle in [(1.0, 0.0), (1.7, 75.0), (20.0, 180.0)]:
        first, second = film_energies(roughness, *liquids, angle, 180 - angle)
        assert_allclose(second - first, energy_gap(*liquids), atol=1e-9)


def test_signs_that_differ_say_which_way_and_are_neither_stable_nor_displaced():
    """Trap: ΔE1 < 0 < ΔE2 is not half a verdict. The other order happens only where the liquid spreads."""
    assert outcome_of_signs(-1, 1) == outcome_of_signs(1, -1) == NOT_PREDICTED
    assert "an experiment decides" in meaning_of_signs(-1, 1)
    assert "spreads over the lubricant" in meaning_of_signs(1, -1)
    assert energy_gap(20.0, 35.0, 5.0) < 0  # hand: 20 + 5 − 35
    exact = dict(zip(NAMES, [(2, 0), (20, 0), (35, 0), (5, 0), (60, 0), (75, 0)], strict=True))
    film = film_stability(**exact)  # hand: 2(35 cos 75° − 20 cos 60°) = −1.88: −6.88 and −16.88
    assert_allclose([film.first[0], film.second[0]], [-6.88266, -16.88266], rtol=1e-6)
    assert (film.outcome, film.meaning) == (DISPLACED, meaning_of_signs(-1, -1))
    beads = film_stability(**{**exact, "lubricant_angle_deg": (60, 0)})  # hand: 2·(17.5 − 10) = 15: 10 and 0
    assert beads.outcome == CANNOT_TELL  # ΔE2 is exactly 0
    spreads = film_stability(**{**exact, "lubricant_angle_deg": (62, 0)})  # hand: 12.863: 7.863 and −2.137
    assert (spreads.outcome, spreads.meaning) == (NOT_PREDICTED, meaning_of_signs(1, -1))


def test_a_refusal_names_quantity_value_and_limit():
    with pytest.raises(ValueError, match=r"contact angle of the liquid must be at most 180 °, not 181"):
        film_energies(2.0, 72.8, 20.0, 45.0, np.array([110.0, 181.0]), 10.0)
    with pytest.raises(ValueError, match=r"roughness .* at least 1, not 0.9"):
        film_energies(0.9, 72.8, 20.0, 45.0, 110.0, 10.0)
    with pytest.raises(ValueError, match="liquid tension"):
        film_energies(2.0, math.inf, 20.0, 45.0, 110.0, 10.0)


def test_many_films_with_uncertainties_give_what_each_gives_alone():
    rows = table("film_energies").iloc[:, :6]
    spread = (0.1, 0.2, 0.5, 3.0, 2.0, 2.0)
    arrays = {name: (rows[column].to_numpy(), u) for name, column, u in zip(NAMES, rows, spread, strict=True)}
    together = film_stability(**arrays)
    for place, row in enumerate(rows.itertuples(index=False)):
        alone = film_stability(**{name: (value, u) for name, value, u in zip(NAMES, row, spread, strict=True)})
        assert_allclose([part[place] for part in together.first], alone.first, rtol=1e-12)
        assert_allclose([part[place] for part in together.second], alone.second, rtol=1e-12)
        assert (together.outcome[place], together.meaning[place]) == (alone.outcome, alone.meaning)
    missing = film_stability(**{**STEADY, "interfacial_tension": (np.array([45.0, np.nan]), 3)})
    assert missing.outcome.tolist() == [STABLE, CANNOT_TELL]


def test_an_energy_of_nothing_but_rounding_has_no_sign():
    """Limit: R·γB·cos 0° − R·γA·cos 90° = γAB, so ΔE1 is 0; and in binary a little more or less."""
    for lubricant in np.linspace(15.1, 34.9, 23):
        exact = dict(
            zip(NAMES, [(1.7, 0), (72.8, 0), (lubricant, 0), (1.7 * lubricant, 0), (90, 0), (0, 0)], strict=True)
        )
        film = film_stability(**exact)
        assert abs(film.first[0]) < 1e-12
        assert film.outcome == CANNOT_TELL
    assert sign_of(np.array([1e-12, -1e-12, 1e-6, np.nan]), 0).tolist() == [0, 0, 1, 0]


@pytest.mark.parametrize("signs", [(2, 1), (-2, 1), (1, np.array([1, 3])), (0.5, 1)])
def test_what_is_no_sign_has_no_outcome(signs):
    with pytest.raises(ValueError, match="a sign must be −1, 0 or 1"):
        outcome_of_signs(*signs)
    with pytest.raises(ValueError, match="a sign must be −1, 0 or 1"):
        meaning_of_signs(*signs)
