"""How probable each verdict on a film is: against exact cases and the first-order answer."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import multivariate_normal, norm

from analysis.film.probability import cloaking_probability, stability_probability, state_probability
from analysis.film.stability import (
    CANNOT_TELL,
    DISPLACED,
    NOT_PREDICTED,
    STABLE,
    film_energies,
    film_stability,
)
from analysis.film.states import STATES
from tests.analysis.tables import table

NAMES = (
    "roughness",
    "liquid_tension",
    "lubricant_tension",
    "interfacial_tension",
    "liquid_angle_deg",
    "lubricant_angle_deg",
)
VALUES = dict(zip(NAMES, (2.0, 72.8, 20.0, 45.0, 110.0, 10.0), strict=True))
DRAWS = 40_000
FOUR_ERRORS = 4 * np.sqrt(0.25 / DRAWS)  # 1 in 16 000 by chance, and the seed is fixed


def exact_but(**uncertain):
    return {**VALUES, **uncertain}


@pytest.mark.parametrize("row", table("film_energies").to_dict("records"), ids=str)
def test_exact_inputs_give_the_exact_verdict(row):
    """Limit: without uncertainty one verdict has probability 1."""
    *inputs, _, _, outcome = row.values()
    found = stability_probability(**dict(zip(NAMES, inputs, strict=True)), draws=100)
    assert found.outcome == outcome
    assert found.probabilities[outcome] == 1
    assert set(found.probabilities) == {STABLE, DISPLACED, NOT_PREDICTED}


@pytest.mark.parametrize("uncertainty", [5.0, 20.0, 44.0, 200.0])
def test_with_one_uncertain_tension_the_answer_is_exact(uncertainty):
    """Independent (scipy): ΔE1 = 89.19 − γAB, so P(stable) = Φ((89.19 − 45)/u), and ΔE2 is beyond doubt."""
    found = stability_probability(**exact_but(interfacial_tension=(45.0, uncertainty)), draws=DRAWS)
    gain = film_energies(*VALUES.values())[0] + 45.0
    assert_allclose(found.probabilities[STABLE], norm.cdf((gain - 45.0) / uncertainty), atol=FOUR_ERRORS)
    assert found.probabilities[DISPLACED] == 0
    assert_allclose(sum(found.probabilities.values()), 1)


def test_roughness_cannot_lie_below_one():
    """Hand: R = 1 ± 0.5 has half of its draws at exactly 1, where ΔE1 = −0.405; it turns positive at R = 1.0091."""
    found = stability_probability(**exact_but(roughness=(1.0, 0.5)), draws=DRAWS)
    turn = 45.0 / (film_energies(*VALUES.values())[0] + 45.0) * 2
    assert_allclose(found.probabilities[STABLE], norm.sf((turn - 1) / 0.5), atol=FOUR_ERRORS)
    assert found.probabilities[DISPLACED] == 0
    assert found.outcome == CANNOT_TELL


def test_small_uncertainties_agree_with_the_first_order_answer():
    """Independent (scipy): ΔE1 and ΔE2 as a bivariate normal with the first-order covariance of the inputs."""
    inputs = {
        "roughness": (1.05, 0.02), "liquid_tension": (72.8, 0.3), "lubricant_tension": (20.0, 0.4),
        "interfacial_tension": (45.0, 1.5), "liquid_angle_deg": (110.0, 1.0), "lubricant_angle_deg": (20.0, 2.0),
    }  # fmt: skip
    middle = np.array([value for value, _ in inputs.values()])
    slopes = np.empty((2, 6))
    for place, (value, _) in enumerate(inputs.values()):
        step = 1e-4 * value
        up, down = middle.copy(), middle.copy()
        up[place], down[place] = value + step, value - step
        slopes[:, place] = (np.array(film_energies(*up)) - np.array(film_energies(*down))) / (2 * step)
    covariance = slopes @ np.diag([u**2 for _, u in inputs.values()]) @ slopes.T
    means = np.array(film_energies(*middle))
    both_above = multivariate_normal(-means, covariance).cdf([0.0, 0.0])
    found = stability_probability(**inputs, draws=DRAWS)
    assert 0.5 < both_above < 0.9  # the case is worth a look
    assert_allclose(found.probabilities[STABLE], both_above, atol=FOUR_ERRORS + 0.01)  # curvature of the cosines
    assert film_stability(**inputs).outcome == found.outcome == CANNOT_TELL


def test_correlation_of_inputs_counts():
    """Independent (scipy): γA and γAB equal in spread; ΔE1 has slopes −R cos θA = 0.684 and −1 to them."""
    slope = -2 * np.cos(np.radians(110.0))
    case = exact_but(liquid_tension=(72.8, 20.0), interfacial_tension=(80.0, 20.0))
    mean = film_energies(*VALUES.values())[0] - 35.0
    for rho in (-0.9, 0.0, 0.9, 1.0):
        spread = 20 * np.sqrt(slope**2 + 1 - 2 * rho * slope)
        found = stability_probability(
            **case, draws=DRAWS, correlations={("liquid_tension", "interfacial_tension"): rho}
        )
        assert_allclose(found.probabilities[STABLE], norm.cdf(mean / spread), atol=FOUR_ERRORS)


def test_the_level_decides_and_nothing_else():
    case = exact_but(interfacial_tension=(45.0, 30.0))  # P(stable) = Φ(44.19/30) = 0.930
    assert stability_probability(**case, level=0.95).outcome == CANNOT_TELL
    assert stability_probability(**case, level=0.9).outcome == STABLE


def test_the_seed_decides_the_draws():
    case = exact_but(interfacial_tension=(45.0, 30.0))
    first, again, other = (stability_probability(**case, seed=seed).probabilities[STABLE] for seed in (1, 1, 2))
    assert first == again != other
    found = stability_probability(**case, draws=400)
    share = found.probabilities[STABLE]
    assert_allclose(found.standard_errors[STABLE], (share * (1 - share) / 400) ** 0.5)


def test_each_case_of_an_array_gets_the_answer_it_gets_alone():
    angles, between = np.array([[110.0], [95.0], [40.0]]), np.array([45.0, 20.0, np.nan])
    case = {"roughness": (2.0, 0.3), "liquid_tension": (72.8, 0.3), "lubricant_tension": (20.0, 0.5)}
    case["lubricant_angle_deg"] = (10.0, 3.0)
    found = stability_probability(**case, liquid_angle_deg=(angles, 3.0), interfacial_tension=(between, 3.0), draws=500)
    for row, column in np.ndindex(3, 2):
        alone = stability_probability(
            **case, liquid_angle_deg=(angles[row, 0], 3.0), interfacial_tension=(between[column], 3.0), draws=500
        )
        assert alone.outcome == found.outcome[row, column]
        for verdict, share in alone.probabilities.items():
            assert share == found.probabilities[verdict][row, column]
    assert found.outcome[:, 2].tolist() == [CANNOT_TELL] * 3
    assert np.isnan(found.probabilities[STABLE][:, 2]).all()


@pytest.mark.parametrize(("interfacial", "uncertainty"), [(53.0, 2.9), (45.0, 2.9), (60.0, 1.0)])
def test_cloaking(interfacial, uncertainty):
    """Independent (scipy): S is normal as long as no tension comes near 0."""
    found = cloaking_probability(
        liquid_tension=(72.8, 0.2), lubricant_tension=(17.0, 0.5), interfacial_tension=(interfacial, uncertainty),
        draws=DRAWS,
    )  # fmt: skip
    spread = np.sqrt(0.2**2 + 0.5**2 + uncertainty**2)
    assert_allclose(found.probabilities["cloaks"], norm.cdf((55.8 - interfacial) / spread), atol=FOUR_ERRORS)
    assert_allclose(sum(found.probabilities.values()), 1)
    assert found.outcome == {53.0: CANNOT_TELL, 45.0: "cloaks", 60.0: "does not cloak"}[interfacial]


def test_states_with_an_angle_near_zero():
    """Independent (scipy): an angle of 3° ± 3° is 0 with Φ(−1); below the critical angle otherwise."""
    found = state_probability(
        roughness=2.0, solid_fraction=0.25, liquid_tension=72.8, lubricant_tension=20.1, interfacial_tension=45.0,
        liquid_angle_deg=110.0, lubricant_angle_deg=(3.0, 3.0), draws=DRAWS,
    )  # fmt: skip
    # hand: beneath the drop cos θ = (20.1·0.9986 + 24.90)/45 = 0.999, almost the same for any such angle: W2 or W3
    covered = sum(share for code, share in found.probabilities.items() if code.startswith("A3"))
    assert_allclose(covered, norm.cdf(-1.0), atol=FOUR_ERRORS)
    assert_allclose(sum(found.probabilities.values()), 1)
    assert found.outcome == CANNOT_TELL
    assert set(found.probabilities) == {*STATES, "not among the twelve states"}


def test_states_with_a_measured_angle_under_the_liquid():
    """Independent (scipy): only the angle under the liquid is uncertain; critical angle 64.623°."""
    found = state_probability(
        roughness=2.0, solid_fraction=0.25, liquid_tension=72.8, lubricant_tension=27.5, interfacial_tension=52.1,
        liquid_angle_deg=110.0, lubricant_angle_deg=20.0, angle_under_deg=(60.0, 5.0), draws=DRAWS,
    )  # fmt: skip
    share = norm.cdf((64.62307 - 60.0) / 5.0)
    assert_allclose(found.probabilities["A2-W2 not cloaked"], share, atol=FOUR_ERRORS)
    assert_allclose(found.probabilities["A2-W1 not cloaked"], 1 - share, atol=FOUR_ERRORS)


def test_a_pair_that_is_none_of_the_twelve_is_said():
    found = state_probability(
        roughness=2.0, solid_fraction=0.25, liquid_tension=72.8, lubricant_tension=27.5, interfacial_tension=52.1,
        liquid_angle_deg=110.0, lubricant_angle_deg=80.0, angle_under_deg=10.0, draws=100,
    )  # fmt: skip
    assert found.outcome == "not among the twelve states"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"level": 0.5}, "level"),
        ({"level": np.nan}, "level"),
        ({"draws": 10}, "draws"),
        ({"roughness": (2.0, -0.1)}, "standard uncertainty of the roughness"),
        ({"roughness": (0.5, 0.1)}, "roughness"),
        ({"liquid_angle_deg": (np.nan, 1.0)}, "contact angle"),
        ({"correlations": {("roughness", "roughness"): 0.5}}, "correlation"),
        ({"correlations": {("roughness", "colour"): 0.5}}, "correlation"),
        ({"correlations": {("roughness", "liquid_tension"): 1.5}}, "correlation"),
        (
            {"correlations": {(a, b): -0.9 for a in NAMES[:3] for b in NAMES[:3] if a < b}},
            "no set of inputs",
        ),
    ],
)
def test_impossible_inputs_are_refused(changes, words):
    with pytest.raises(ValueError, match=words):
        stability_probability(**{**VALUES, **changes})


def test_an_energy_or_coefficient_of_zero_belongs_to_no_verdict():
    """Limit: exact inputs with S = 65.1 − 45 − 20.1 = 0, and with ΔE1 = 0; rounding must not decide."""
    drop = cloaking_probability(liquid_tension=65.1, lubricant_tension=20.1, interfacial_tension=45.0, draws=100)
    assert list(drop.probabilities.values()) == [0, 0]
    assert drop.outcome == CANNOT_TELL
    for lubricant in (15.1, 17.9, 20.1, 23.3):
        film = stability_probability(
            roughness=1.7, liquid_tension=72.8, lubricant_tension=lubricant, interfacial_tension=1.7 * lubricant,
            liquid_angle_deg=90.0, lubricant_angle_deg=0.0, draws=100,
        )  # fmt: skip
        assert list(film.probabilities.values()) == [0, 0, 0]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"draws": np.inf}, "draws must be at least 100 and finite, not inf"),
        ({"draws": np.nan}, "draws must be at least 100 and finite, not nan"),
        ({"seed": -1}, "seed must be 0 or more, not -1"),
        ({"roughness": (2.0, 0.1, 3.0)}, r"roughness .* a number or a pair"),
    ],
)
def test_draws_that_cannot_be_made_are_refused(changes, words):
    with pytest.raises(ValueError, match=words):
        stability_probability(**{**VALUES, **changes})


def test_a_second_energy_of_zero_belongs_to_no_verdict():
    """Limit: −R·γB = γB − γA, so ΔE2 is 0 and ΔE1 below it; rounding must not make it displaced."""
    for lubricant in (15.1, 17.9, 20.1, 23.3, 30.7):
        film = stability_probability(
            roughness=1.7, liquid_tension=2.7 * lubricant, lubricant_tension=lubricant, interfacial_tension=20.0,
            liquid_angle_deg=90.0, lubricant_angle_deg=180.0, draws=100,
        )  # fmt: skip
        assert list(film.probabilities.values()) == [0, 0, 0]
