"""Many solids × lubricants × liquids at once: the same answers as one by one, and honest about what is missing."""

import time

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.film.cloaking import cloaking, spreading_coefficient
from analysis.film.probability import cloaking_probability, stability_probability
from analysis.film.screening import CLOAKING_VERDICTS, VERDICTS, film_screening
from analysis.film.stability import CANNOT_TELL, STABLE, film_energies

SOLIDS, LUBRICANTS, LIQUIDS = 50, 20, 10
ONE = {
    "roughness": 2.0, "liquid_tension": 72.8, "lubricant_tension": 20.0, "interfacial_tension": 45.0,
    "liquid_angle_deg": 110.0, "lubricant_angle_deg": 10.0,
}  # fmt: skip


@pytest.fixture(scope="module")
def inputs():
    draw = np.random.default_rng(3)
    return {
        "roughness": (draw.uniform(1, 3, (SOLIDS, 1, 1)), 0.1),
        "liquid_tension": (draw.uniform(15, 75, LIQUIDS), 0.3),
        "lubricant_tension": (draw.uniform(15, 35, (LUBRICANTS, 1)), 0.5),
        "interfacial_tension": (draw.uniform(1, 55, (LUBRICANTS, LIQUIDS)), 2.9),
        "liquid_angle_deg": (draw.uniform(30, 130, (SOLIDS, 1, LIQUIDS)), 3.0),
        "lubricant_angle_deg": (draw.uniform(0, 40, (SOLIDS, LUBRICANTS, 1)), 3.0),
    }


@pytest.fixture(scope="module")
def found(inputs):
    return film_screening(**inputs, miscible=np.zeros((LUBRICANTS, LIQUIDS)), draws=500)


def at(inputs, place):
    """The inputs of one combination."""
    shape = (SOLIDS, LUBRICANTS, LIQUIDS)
    return {name: (float(np.broadcast_to(value, shape)[place]), u) for name, (value, u) in inputs.items()}


def test_same_as_one_by_one(inputs, found):
    places = [tuple(place) for place in np.random.default_rng(4).integers((SOLIDS, LUBRICANTS, LIQUIDS), size=(60, 3))]
    seen = set()
    for place in places:
        one = at(inputs, place)
        values = {name: value for name, (value, _) in one.items()}
        tensions = {name: one[name] for name in one if name.endswith("tension")}
        film = stability_probability(**one, draws=500)
        cloak = cloaking_probability(**tensions, draws=500)
        assert_allclose((found.first[place], found.second[place]), film_energies(**values), rtol=1e-12)
        assert_allclose(found.spreading[place], cloaking(**tensions).coefficient, rtol=1e-12)
        shares = found.probability_stable, found.probability_displaced, found.probability_not_predicted
        alone = [film.probabilities[verdict] for verdict in (STABLE, "displaced", "not predicted")]
        assert [share[place] for share in shares] == alone
        assert found.verdict_words[place] == film.outcome
        assert found.probability_cloaks[place] == cloak.probabilities["cloaks"]
        assert found.cloaking_words[place] == cloak.outcome
        seen.add(film.outcome)
    assert len(seen) >= 3  # the sample is worth a look


def test_ten_thousand_combinations_take_no_time(inputs):
    """Vectorised: processor time, so that a busy machine does not matter; a loop would take a minute."""
    start = time.process_time()
    found = film_screening(**inputs, miscible=False)
    assert time.process_time() - start < 2.0
    assert found.verdict.shape == (SOLIDS, LUBRICANTS, LIQUIDS)


def test_a_lubricant_that_mixes_or_reacts_is_refused_whatever_its_energies(inputs):
    """Common practice: no energy makes up for it."""
    mixes = np.zeros((LUBRICANTS, LIQUIDS))
    mixes[3, 4] = 1
    reacts = np.zeros((LUBRICANTS, LIQUIDS))
    reacts[5, 6] = 1
    mixes[5, 7], reacts[5, 7] = 1, 1
    found = film_screening(**inputs, miscible=mixes, reacts=reacts, draws=100)
    assert set(found.verdict_words[:, 3, 4]) == {"not suitable: mixes"}
    assert set(found.verdict_words[:, 5, 6]) == {"not suitable: reacts"}
    assert set(found.verdict_words[:, 5, 7]) == {"not suitable: mixes"}
    assert set(found.cloaking_words[:, 3, 4]) == {CANNOT_TELL}
    assert not found.is_suitable[:, 3, 4].any()
    elsewhere = np.ones((LUBRICANTS, LIQUIDS), dtype=bool)
    elsewhere[[3, 5, 5], [4, 6, 7]] = False
    assert (found.verdict[:, elsewhere] < VERDICTS.index("not suitable: mixes")).all()


@pytest.mark.parametrize("name", list(ONE))
def test_a_missing_value_ends_in_cannot_tell(name):
    found = film_screening(**{**ONE, name: np.array([ONE[name], np.nan])}, miscible=False, draws=100)
    assert found.verdict_words.tolist() == [STABLE, CANNOT_TELL]
    assert np.isnan(found.probability_stable).tolist() == [False, True]
    assert np.isnan(found.first).tolist() == [False, True]
    needed_for_cloaking = name.endswith("tension")
    assert found.cloaking_words[1] == (CANNOT_TELL if needed_for_cloaking else "cloaks")


def test_a_missing_uncertainty_or_a_missing_word_on_mixing_ends_in_cannot_tell():
    unsure = film_screening(**{**ONE, "roughness": (2.0, np.nan)}, miscible=False, draws=100)
    assert unsure.verdict_words.tolist() == [CANNOT_TELL]
    unknown = film_screening(**ONE, miscible=np.nan, draws=100)
    assert (unknown.verdict_words[0], unknown.cloaking_words[0]) == (CANNOT_TELL, CANNOT_TELL)
    assert unknown.first[0] > 0  # the energies are shown all the same
    assert film_screening(**ONE, miscible=False, reacts=np.nan, draws=100).verdict_words[0] == CANNOT_TELL
    alone = film_screening(**{**ONE, "interfacial_tension": np.nan}, miscible=True, draws=100)
    assert alone.verdict_words[0] == "not suitable: mixes"  # what is missing does not matter then


def test_suitable_is_stable_and_not_cloaked():
    tensions = np.array([20.0, 27.5])
    found = film_screening(
        **{**ONE, "lubricant_tension": tensions, "interfacial_tension": np.array([45.0, 52.1])}, miscible=False
    )
    assert_allclose(found.spreading, spreading_coefficient(72.8, tensions, np.array([45.0, 52.1])))
    assert found.cloaking_words.tolist() == ["cloaks", "does not cloak"]
    assert found.is_suitable.tolist() == [False, True]
    assert set(found.verdict_words) == {STABLE}


def test_code_zero_says_cannot_tell():
    assert VERDICTS[0] == CLOAKING_VERDICTS[0] == CANNOT_TELL


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"miscible": 2}, "miscible"),
        ({"reacts": np.array([0.5])}, "reacts"),
        ({"roughness": np.array([2.0, 0.9])}, "roughness"),
        ({"level": 0.4}, "level"),
    ],
)
def test_impossible_inputs_are_refused(changes, words):
    with pytest.raises(ValueError, match=words):
        film_screening(**{**ONE, "miscible": False, **changes})


def test_miscible_has_to_be_said():
    with pytest.raises(TypeError, match="miscible"):
        film_screening(**ONE)


def test_correlated_tensions_serve_both_questions():
    """Round trip: the same numbers as from the functions for one film."""
    case = {**ONE, "liquid_tension": (72.8, 5.0), "interfacial_tension": (50.0, 5.0)}
    together = {("liquid_tension", "interfacial_tension"): 0.8, ("roughness", "liquid_tension"): 0.1}
    found = film_screening(**case, miscible=False, correlations=together, draws=300)
    tensions = {name: case[name] for name in case if name.endswith("tension")}
    cloak = cloaking_probability(**tensions, correlations={("liquid_tension", "interfacial_tension"): 0.8}, draws=300)
    film = stability_probability(**case, correlations=together, draws=300)
    assert found.probability_cloaks[0] == cloak.probabilities["cloaks"]
    assert found.probability_stable[0] == film.probabilities[STABLE]
