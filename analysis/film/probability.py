"""How probable each verdict on a film is, given how well tensions, angles and roughness are known.

Every input is drawn from a normal distribution with its standard uncertainty. A draw beyond a physical bound
counts as the bound itself: an angle below 0° is a lubricant that spreads. The same random numbers serve every
case of an array, so that one case alone gives exactly the same answer, and differences between cases are not
blurred by chance.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import FILM_INPUTS, ROUNDING, Numbers, film_number, number, split
from analysis.film.cloaking import CLOAKS, DOES_NOT_CLOAK
from analysis.film.stability import CANNOT_TELL, DISPLACED, NOT_PREDICTED, STABLE
from analysis.film.states import STATES, FilmState, angle_under_liquid_deg, state_number
from analysis.formula import formula
from analysis.ranges import plain

Uncertain = Numbers | tuple[Numbers, Numbers]  # an exact number, or value and standard uncertainty
Correlations = Mapping[tuple[str, str], float]
NO_STATE = "not among the twelve states"
_BLOCK = 40_000  # elements of an array that still fit the processor's cache


@dataclass(frozen=True, slots=True)
class VerdictProbability:
    """Probability of each verdict [-], and the decision at the level asked for."""

    probabilities: dict[str, Numbers]
    outcome: str | np.ndarray  # the verdict that reaches the level, or "cannot tell"
    level: float
    draws: int
    seed: int

    @property
    def standard_errors(self) -> dict[str, Numbers]:
        """How far each probability may be off by chance, one standard deviation √(p(1 − p)/draws) [-]."""
        return {
            verdict: plain(np.sqrt(np.asarray(share) * (1 - np.asarray(share)) / self.draws))
            for verdict, share in self.probabilities.items()
        }


@formula(
    "P(stable) = P(ΔE1 > 0 and ΔE2 > 0), P(displaced) = P(ΔE1 < 0 and ΔE2 < 0)",
    source="wong_2011 jcgm_101",
    holds_when="inputs normally distributed, drawn again and again; a draw beyond a bound counts as the bound",
)
def stability_probability(
    *,
    roughness: Uncertain,
    liquid_tension: Uncertain,
    lubricant_tension: Uncertain,
    interfacial_tension: Uncertain,
    liquid_angle_deg: Uncertain,
    lubricant_angle_deg: Uncertain,
    level: float = 0.95,
    draws: int = 20_000,
    seed: int = 1,
    correlations: Correlations | None = None,
) -> VerdictProbability:
    """How probable it is that the film is stable, displaced, or that the two criteria differ in sign.

    Parameters
    ----------
    roughness, liquid_tension, lubricant_tension, interfacial_tension, liquid_angle_deg, lubricant_angle_deg
        As in `film_energies`, each an exact number or a pair (value, standard uncertainty); both may be arrays
        that broadcast [-], [mN/m], [deg].
    level : float
        Probability that a verdict must reach [-], above 0.5 up to 1.
    draws, seed : int
        Number of Monte Carlo draws, 100 or more, and what the random numbers start from.
    correlations : mapping
        {("liquid_tension", "interfacial_tension"): 0.5}: correlation of two inputs [-], −1 to 1; others are 0.

    Returns
    -------
    VerdictProbability
        Probabilities of "stable", "displaced" and "not predicted"; the outcome is "cannot tell" where none
        reaches the level or an array holds NaN. A share of cases with an energy of exactly 0 belongs to none.

    Raises
    ------
    ValueError
        As in `film_energies`; for an uncertainty below 0, a level or number of draws out of range, correlations
        that no set of inputs can have.

    Source: `wong_2011`, `jcgm_101`.

    >>> found = stability_probability(roughness=(2, 0.5), liquid_tension=72.8, lubricant_tension=20,
    ...     interfacial_tension=45, liquid_angle_deg=110, lubricant_angle_deg=10)
    >>> round(found.probabilities["stable"], 2), found.outcome
    (0.98, 'stable')
    """
    inputs = {
        "roughness": roughness,
        "liquid_tension": liquid_tension,
        "lubricant_tension": lubricant_tension,
        "interfacial_tension": interfacial_tension,
        "liquid_angle_deg": liquid_angle_deg,
        "lubricant_angle_deg": lubricant_angle_deg,
    }
    return _judged(_stability_events, inputs, level, draws, seed, correlations)


@formula(
    "P(cloaks) = P(γA − γAB − γB > 0)",
    source="smith_2013 jcgm_101",
    holds_when="inputs normally distributed, tensions of mutually saturated liquids",
)
def cloaking_probability(
    *,
    liquid_tension: Uncertain,
    lubricant_tension: Uncertain,
    interfacial_tension: Uncertain,
    level: float = 0.95,
    draws: int = 20_000,
    seed: int = 1,
    correlations: Correlations | None = None,
) -> VerdictProbability:
    """How probable it is that the lubricant cloaks the drop.

    Parameters
    ----------
    liquid_tension, lubricant_tension, interfacial_tension
        Each an exact number or a pair (value, standard uncertainty) [mN/m]; arrays broadcast.
    level, draws, seed, correlations
        As in `stability_probability`.

    Returns
    -------
    VerdictProbability
        Probabilities of "cloaks" and "does not cloak".

    Raises
    ------
    ValueError
        As in `stability_probability`.

    Source: `smith_2013`, `jcgm_101`.

    >>> cloaking_probability(liquid_tension=72.8, lubricant_tension=17, interfacial_tension=(53, 2.9)).outcome
    'cannot tell'
    """
    inputs = {
        "liquid_tension": liquid_tension,
        "lubricant_tension": lubricant_tension,
        "interfacial_tension": interfacial_tension,
    }
    return _judged(_cloaking_events, inputs, level, draws, seed, correlations)


@formula(
    "A3, W3: θ = 0; A2, W2: 0 < θ < θc; A1, W1: θ ≥ θc; cos θc = (1 − φ)/(r − φ)",
    source="smith_2013 jcgm_101",
    holds_when="texture with flat tops; inputs normally distributed, an angle drawn below 0° counts as 0°",
)
def state_probability(
    *,
    roughness: Uncertain,
    solid_fraction: Uncertain,
    liquid_tension: Uncertain,
    lubricant_tension: Uncertain,
    interfacial_tension: Uncertain,
    liquid_angle_deg: Uncertain,
    lubricant_angle_deg: Uncertain,
    angle_under_deg: Uncertain | None = None,
    level: float = 0.95,
    draws: int = 20_000,
    seed: int = 1,
    correlations: Correlations | None = None,
) -> VerdictProbability:
    """How probable each of the twelve states of a lubricant film around a drop is.

    Parameters
    ----------
    roughness, solid_fraction
        Of the texture [-], each an exact number or a pair (value, standard uncertainty); arrays broadcast.
    liquid_tension, lubricant_tension, interfacial_tension, liquid_angle_deg, lubricant_angle_deg
        As in `stability_probability` [mN/m], [deg].
    angle_under_deg
        Measured angle of the lubricant on the smooth solid under the liquid [deg]; left out, it is computed
        from the two angles in air as in `angle_under_liquid_deg`.
    level, draws, seed, correlations
        As in `stability_probability`.

    Returns
    -------
    VerdictProbability
        Probability of each key of `STATES`, and of pairs that are not among them.

    Raises
    ------
    ValueError
        As in `stability_probability` and `critical_angle_deg`.

    Source: `smith_2013`, `jcgm_101`.

    >>> state_probability(roughness=2, solid_fraction=0.25, liquid_tension=72.8, lubricant_tension=20.1,
    ...     interfacial_tension=45, liquid_angle_deg=110, lubricant_angle_deg=(20, 3)).outcome
    'A2-W2 cloaked'
    """
    inputs = {
        "roughness": roughness,
        "solid_fraction": solid_fraction,
        "liquid_tension": liquid_tension,
        "lubricant_tension": lubricant_tension,
        "interfacial_tension": interfacial_tension,
        "liquid_angle_deg": liquid_angle_deg,
        "lubricant_angle_deg": lubricant_angle_deg,
    }
    if angle_under_deg is not None:
        inputs["angle_under_deg"] = angle_under_deg
    return _judged(_state_events, inputs, level, draws, seed, correlations)


def pair(parameter: str, given: Uncertain) -> tuple[np.ndarray, np.ndarray]:
    """Value and standard uncertainty of an input as arrays, within the limits of the input.

    >>> pair("roughness", 2.0)
    (array(2.), array(0.))
    """
    value, uncertainty = split(FILM_INPUTS[parameter][0], given)
    words = f"standard uncertainty of the {FILM_INPUTS[parameter][0]}"
    return film_number(parameter, value), number(words, uncertainty, at_least=0)


def _stability_events(at) -> dict[str, np.ndarray]:
    lubricant_part = at["lubricant_tension"] * np.cos(np.radians(at["lubricant_angle_deg"]))
    liquid_part = at["liquid_tension"] * np.cos(np.radians(at["liquid_angle_deg"]))
    gain = at["roughness"] * (lubricant_part - liquid_part)
    first, second = at["interfacial_tension"], at["lubricant_tension"] - at["liquid_tension"]
    higher, lower = np.maximum(first, second), np.minimum(first, second)
    return {
        STABLE: gain > higher + ROUNDING,
        DISPLACED: gain < lower - ROUNDING,
        NOT_PREDICTED: (gain > lower + ROUNDING) & (gain < higher - ROUNDING),
    }


def _cloaking_events(at) -> dict[str, np.ndarray]:
    coefficient = at["liquid_tension"] - at["interfacial_tension"] - at["lubricant_tension"]
    return {CLOAKS: coefficient > ROUNDING, DOES_NOT_CLOAK: coefficient < -ROUNDING}


def _state_events(at) -> dict[str, np.ndarray]:
    texture = at.pop("roughness"), at.pop("solid_fraction")
    under_deg = at.pop("angle_under_deg", None)
    outside = state_number(at["lubricant_angle_deg"], *texture)
    under = state_number(angle_under_liquid_deg(**at) if under_deg is None else under_deg, *texture)
    is_cloaked = _cloaking_events(at)[CLOAKS]
    events = {code: _is_state(state, outside, under, is_cloaked) for code, state in STATES.items()}
    return {**events, NO_STATE: (under > outside) & (outside > 0)}


def _is_state(state: FilmState, outside, under, is_cloaked):
    return (outside == state.outside) & (under == state.under) & (is_cloaked == state.is_cloaked)


def _judged(events: Callable, given: dict[str, Uncertain], level, draws, seed, correlations) -> VerdictProbability:
    if not 0.5 < level <= 1:
        raise ValueError(f"the level must be above 0.5 and at most 1, not {level}")
    if not 100 <= draws < np.inf:
        raise ValueError(f"draws must be at least 100 and finite, not {draws}")
    if not seed >= 0:
        raise ValueError(f"the seed must be 0 or more, not {seed}")
    inputs = {name: pair(name, value) for name, value in given.items()}
    shares = _shares(events, inputs, _normal_draws(tuple(inputs), int(draws), seed, correlations or {}))
    verdicts = np.array([CANNOT_TELL, *shares])
    index = sum((np.asarray(share) >= level) * (place + 1) for place, share in enumerate(shares.values()))
    outcome = verdicts[index]
    shares = {verdict: plain(share) for verdict, share in shares.items()}
    return VerdictProbability(shares, outcome if np.ndim(outcome) else str(outcome), level, int(draws), seed)


def _normal_draws(names: tuple[str, ...], draws: int, seed: int, correlations: Correlations) -> np.ndarray:
    """Standard normal numbers, one row an input, with the correlations asked for."""
    matrix = np.eye(len(names))
    for (first, second), coefficient in correlations.items():
        if first not in names or second not in names or first == second:
            raise ValueError(f"a correlation needs two of {', '.join(names)}, not {first} and {second}")
        row, column = names.index(first), names.index(second)
        matrix[row, column] = matrix[column, row] = number("correlation", coefficient, at_least=-1, at_most=1)
    numbers = np.random.default_rng(seed).standard_normal((draws, len(names))).T
    if not correlations:
        return numbers
    values, vectors = np.linalg.eigh(matrix)
    if values[0] < -1e-9:
        raise ValueError("no set of inputs can have these correlations together")
    return vectors @ (np.sqrt(np.maximum(values, 0.0))[:, None] * (vectors.T @ numbers))


def _shares(events: Callable, inputs: dict[str, tuple[np.ndarray, np.ndarray]], numbers) -> dict[str, np.ndarray]:
    """Share of the draws in which each event happens, block by block of draws."""
    middle = [np.asarray(part) for one in inputs.values() for part in one]
    shape, draws = np.broadcast_shapes(*(part.shape for part in middle)), numbers.shape[1]
    step = max(1, _BLOCK // max(1, int(np.prod(shape))))
    counts: dict[str, np.ndarray] = {}
    for start in range(0, draws, step):
        block = numbers[:, start : start + step].reshape(len(inputs), -1, *(1 for _ in shape))
        drawn = {
            name: _bounded(name, value + uncertainty * z)
            for (name, (value, uncertainty)), z in zip(inputs.items(), block, strict=True)
        }
        for event, happens in events(drawn).items():
            counts[event] = counts.get(event, 0) + np.sum(happens, axis=0)
    missing = np.isnan(sum(np.asarray(part) for part in middle))
    return {event: np.where(missing, np.nan, np.broadcast_to(count, shape) / draws) for event, count in counts.items()}


def _bounded(name: str, drawn: np.ndarray) -> np.ndarray:
    limits = FILM_INPUTS[name][1]
    highest = limits.get("at_most", np.nextafter(limits["below"], 0) if "below" in limits else None)
    return np.clip(drawn, limits["at_least"], highest)
