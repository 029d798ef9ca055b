"""Checks of a lubricated coupon: does the film stay, does the lubricant cloak the drop?"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from analysis.checks.facts import plus_minus
from analysis.checks.grounds import rests_on
from analysis.film.cloaking import CLOAKS, DOES_NOT_CLOAK, cloaking
from analysis.film.inputs import film_inputs
from analysis.film.probability import VerdictProbability, cloaking_probability, stability_probability
from analysis.film.stability import DISPLACED, NOT_PREDICTED, STABLE, film_stability
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, Check, Run

_FILM = {
    STABLE: (HOLDS, "Both energy criteria lie above zero: the film is stable"),
    DISPLACED: (DOES_NOT_HOLD, "Both energy criteria lie below zero: the liquid displaces the film"),
    NOT_PREDICTED: (CANNOT_TELL, "The two criteria differ in sign: not predicted, an experiment decides"),
}
_CLOAKING = {
    DOES_NOT_CLOAK: (HOLDS, "The lubricant is not predicted to cloak the drop"),
    CLOAKS: (DOES_NOT_HOLD, "The lubricant is predicted to cloak the drop; some then leaves with every drop"),
}


@rests_on(
    "film.stability.film_energies",
    "film.probability.stability_probability",
    needs=(
        "roughness_factor",
        "liquid.surface_tension",
        "lubricant.surface_tension",
        "lubricant.interfacial_tension",
        "lubricant.interfacial_tension_water",
        "smooth_angle.liquid",
        "smooth_angle.lubricant",
    ),
    turns="It turns when a criterion changes its sign by more than twice its standard uncertainty; a rougher texture, "
    "a lower angle of the lubricant or a higher one of the liquid raise both.",
)
def film_energies(run: Run, baseline: Run | None = None) -> Check | None:
    """The lubricant film is stable under the run's liquid: both energy criteria above zero."""
    if run.lubricant is None:
        return None
    title, source = "Lubricant film stable under the liquid", "wong_2011"
    found = film_inputs(run)
    if found.missing:
        why = f"Cannot be computed without {', '.join(found.missing)}."
        return Check("film_energies", title, CANNOT_TELL, why, found.numbers(), source)
    film = film_stability(**found.estimates)
    first, second = plus_minus(film.first), plus_minus(film.second)
    flips = CANNOT_TELL, "The uncertainty of the inputs could flip the sign of a criterion"
    outcome, words = _FILM.get(film.outcome, flips)
    why = f"{words}; ΔE1 = {first} mN/m, ΔE2 = {second} mN/m (standard uncertainty).{found.sentence()}"
    numbers = found.numbers() | {"ΔE1 [mN/m]": first, "ΔE2 [mN/m]": second}
    numbers |= _probabilities(stability_probability, tuple(found.estimates.items()))
    return Check("film_energies", title, outcome, why, numbers, source)


@rests_on(
    "film.cloaking.spreading_coefficient",
    "film.probability.cloaking_probability",
    needs=(
        "liquid.surface_tension",
        "lubricant.surface_tension",
        "lubricant.interfacial_tension",
        "lubricant.interfacial_tension_water",
    ),
    turns="It turns when the coefficient changes its sign by more than twice its standard uncertainty; values of "
    "mutually saturated liquids decide.",
)
def cloaking_sign(run: Run, baseline: Run | None = None) -> Check | None:
    """The lubricant does not cloak the drop: its spreading coefficient on the liquid lies below zero."""
    if run.lubricant is None:
        return None
    title, source = "Lubricant does not cloak the drop", "smith_2013"
    found = film_inputs(run).only("liquid_tension", "lubricant_tension", "interfacial_tension")
    if found.missing:
        why = f"Cannot be computed without {', '.join(found.missing)}."
        return Check("cloaking", title, CANNOT_TELL, why, found.numbers(), source)
    sign = cloaking(**found.estimates)
    coefficient = plus_minus((sign.coefficient, sign.uncertainty))
    flips = CANNOT_TELL, "The uncertainty of the tensions could flip the sign"
    outcome, words = _CLOAKING.get(sign.outcome, flips)
    why = (
        f"{words}: spreading coefficient {coefficient} mN/m (standard uncertainty), "
        f"from the tensions on record; those of mutually saturated liquids decide.{found.sentence()}"
    )
    numbers = found.numbers() | {"spreading coefficient [mN/m]": coefficient}
    numbers |= _probabilities(cloaking_probability, tuple(found.estimates.items()))
    return Check("cloaking", title, outcome, why, numbers, source)


@lru_cache(maxsize=256)  # the runs of a batch share their film
def _probabilities(probability: Callable[..., VerdictProbability], estimates: tuple) -> dict[str, str]:
    """How probable each verdict is, given the standard uncertainties of the inputs."""
    found = probability(**dict(estimates)).probabilities
    return {f"probability: {verdict} [%]": _percent(share) for verdict, share in found.items()}


def _percent(share: float) -> str:
    """As far as twenty thousand draws can tell."""
    return "above 99.9" if share > 0.999 else "below 0.1" if share < 0.001 else f"{100 * share:.1f}"
