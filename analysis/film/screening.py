"""Many solids × lubricants × challenge liquids at once: which lubricant film is worth an experiment?

Inputs are arrays that broadcast: give solids one axis, lubricants the next, liquids the last. What is missing is
NaN and ends in "cannot tell", never in a guess.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import split
from analysis.film.cloaking import CLOAKS, DOES_NOT_CLOAK, spreading_coefficient
from analysis.film.probability import Correlations, Uncertain, cloaking_probability, pair, stability_probability
from analysis.film.stability import CANNOT_TELL, DISPLACED, NOT_PREDICTED, STABLE, film_energies
from analysis.formula import formula

MIXES = "not suitable: mixes"
REACTS = "not suitable: reacts"
# A verdict code is the place of its words here; 0 is what an empty array says.
VERDICTS = (CANNOT_TELL, STABLE, NOT_PREDICTED, DISPLACED, MIXES, REACTS)
CLOAKING_VERDICTS = (CANNOT_TELL, DOES_NOT_CLOAK, CLOAKS)


@dataclass(frozen=True, slots=True)
class Screening:
    """Energies [mN/m], verdict codes and probabilities [-] of every combination, all of one shape."""

    first: np.ndarray  # ΔE1
    second: np.ndarray  # ΔE2
    probability_stable: np.ndarray
    probability_displaced: np.ndarray
    probability_not_predicted: np.ndarray
    verdict: np.ndarray  # codes: places in VERDICTS
    spreading: np.ndarray  # coefficient of the lubricant on the liquid
    probability_cloaks: np.ndarray
    cloaking: np.ndarray  # codes: places in CLOAKING_VERDICTS
    level: float
    draws: int
    seed: int

    @property
    def verdict_words(self) -> np.ndarray:
        """The verdicts in words."""
        return np.array(VERDICTS)[self.verdict]

    @property
    def cloaking_words(self) -> np.ndarray:
        """The verdicts on cloaking in words."""
        return np.array(CLOAKING_VERDICTS)[self.cloaking]

    @property
    def is_suitable(self) -> np.ndarray:
        """Where the film is stable and the lubricant does not cloak the drop."""
        stable = self.verdict == VERDICTS.index(STABLE)
        return stable & (self.cloaking == CLOAKING_VERDICTS.index(DOES_NOT_CLOAK))


@formula(
    "ΔE1 = R(γB cos θB − γA cos θA) − γAB; ΔE2 = ΔE1 + γA + γAB − γB; S = γA − γAB − γB",
    source="wong_2011 smith_2013 jcgm_101",
    holds_when="liquids that do not mix or react; each combination is judged with its own inputs",
)
def film_screening(
    *,
    roughness: Uncertain,
    liquid_tension: Uncertain,
    lubricant_tension: Uncertain,
    interfacial_tension: Uncertain,
    liquid_angle_deg: Uncertain,
    lubricant_angle_deg: Uncertain,
    miscible: bool | float | np.ndarray,
    reacts: bool | float | np.ndarray = False,
    level: float = 0.95,
    draws: int = 1000,
    seed: int = 1,
    correlations: Correlations | None = None,
) -> Screening:
    """Judge every combination of solid, lubricant and challenge liquid at once.

    Parameters
    ----------
    roughness, liquid_tension, lubricant_tension, interfacial_tension, liquid_angle_deg, lubricant_angle_deg
        As in `film_energies`, each an array or a pair (values, standard uncertainties) of arrays that broadcast
        [-], [mN/m], [deg]; NaN where a value is not known.
    miscible, reacts : bool or array
        Whether lubricant and liquid mix, or react [-]: 0, 1, or NaN where nobody knows, which gives
        "cannot tell". There is no default for `miscible`: it has to be looked up or tried.
    level, draws, seed, correlations
        As in `stability_probability`; with 1000 draws a probability of 0.95 is off by 0.007 (one standard
        deviation).

    Returns
    -------
    Screening
        Arrays of the common shape (of length 1 for one combination). A combination that mixes or reacts is
        refused whatever its energies, and is given no verdict on cloaking.

    Raises
    ------
    ValueError
        As in `stability_probability`, and for `miscible` or `reacts` other than 0, 1 or NaN.

    Source: `wong_2011`, `smith_2013`, `jcgm_101`.

    >>> found = film_screening(roughness=2.0, liquid_tension=np.array([72.8, 27.5]), lubricant_tension=20.1,
    ...     interfacial_tension=np.array([45.0, np.nan]), liquid_angle_deg=np.array([110, 40]),
    ...     lubricant_angle_deg=10.0, miscible=np.array([0, 1]))
    >>> found.verdict_words.tolist()
    ['stable', 'not suitable: mixes']
    """
    tensions = {
        "liquid_tension": liquid_tension,
        "lubricant_tension": lubricant_tension,
        "interfacial_tension": interfacial_tension,
    }
    inputs = {
        "roughness": roughness,
        **tensions,
        "liquid_angle_deg": liquid_angle_deg,
        "lubricant_angle_deg": lubricant_angle_deg,
    }
    inputs = {name: _with_axis(name, given) for name, given in inputs.items()}
    tensions = {name: inputs[name] for name in tensions}
    mixes, reacting = _yes_or_no("miscible", miscible), _yes_or_no("reacts", reacts)
    chances = {"level": level, "draws": draws, "seed": seed}
    film = stability_probability(**inputs, **chances, correlations=correlations).probabilities
    among = {both: value for both, value in (correlations or {}).items() if set(both) <= set(tensions)}
    cloak = cloaking_probability(**tensions, **chances, correlations=among).probabilities
    values = {name: pair(name, given)[0] for name, given in inputs.items()}
    first, second = film_energies(**values)
    spreading = spreading_coefficient(*(values[name] for name in tensions))
    shape = np.broadcast_shapes(np.shape(film[STABLE]), mixes.shape, reacting.shape)
    verdict = _refused(_codes(VERDICTS, film, level), mixes, reacting)
    cloaks = np.where(verdict >= VERDICTS.index(MIXES), 0, _codes(CLOAKING_VERDICTS, cloak, level))
    return Screening(
        *(
            np.array(np.broadcast_to(part, shape))
            for part in (
                first, second, film[STABLE], film[DISPLACED], film[NOT_PREDICTED], verdict,
                spreading, cloak[CLOAKS], np.where(np.isnan(mixes + reacting), 0, cloaks),
            )
        ),
        level, int(draws), seed,
    )  # fmt: skip


def _with_axis(name: str, given: Uncertain) -> tuple[np.ndarray, np.ndarray]:
    """A single number as an array of one, so that NaN counts as missing there too."""
    value, uncertainty = split(name.replace("_", " "), given)
    return np.atleast_1d(np.asarray(value, dtype=float)), np.atleast_1d(np.asarray(uncertainty, dtype=float))


def _yes_or_no(name: str, given) -> np.ndarray:
    found = np.asarray(given, dtype=float)
    if np.any((found != 0) & (found != 1) & ~np.isnan(found)):
        raise ValueError(f"{name} must be 0, 1 or NaN for not known, not {given}")
    return found


def _codes(words: tuple[str, ...], shares: dict, level: float) -> np.ndarray:
    """Place of the verdict that reaches the level, 0 where none does or the share is NaN."""
    return sum((np.asarray(shares[word]) >= level) * words.index(word) for word in words if word in shares)


def _refused(codes: np.ndarray, mixes: np.ndarray, reacting: np.ndarray) -> np.ndarray:
    known = np.where(np.isnan(mixes + reacting), 0, codes)
    known = np.where(reacting == 1, VERDICTS.index(REACTS), known)
    return np.where(mixes == 1, VERDICTS.index(MIXES), known)
