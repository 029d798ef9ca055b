"""Does a lubricant film stay on its textured solid when a drop of another liquid lies on it?

Two energy criteria: both above zero, the film is stable; both below zero, the liquid displaces it; signs that
differ predict nothing and call for an experiment. A sign counts only where twice its standard uncertainty
cannot flip it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.propagation import first_order

STABLE = "stable"
DISPLACED = "displaced"
NOT_PREDICTED = "not predicted"  # signs differ: an experiment decides
CANNOT_TELL = "cannot tell"  # the uncertainty of the inputs could flip a sign
COVERAGE = 2.0  # multiple of the standard uncertainty, about 95 %

Estimate = tuple[float, float]  # value and standard uncertainty


@dataclass(frozen=True, slots=True)
class FilmStability:
    """The two energy differences per projected area [mN/m], standard uncertainties, meaning."""

    first: Estimate  # film of lubricant with liquid on top, against the solid wetted by the liquid
    second: Estimate  # bare film of lubricant, against the solid wetted by the liquid
    outcome: str


def film_energies(
    roughness: float,
    liquid_tension: float,
    lubricant_tension: float,
    interfacial_tension: float,
    liquid_angle_deg: float,
    lubricant_angle_deg: float,
) -> tuple[float, float]:
    """The two energy differences of a lubricant film, without uncertainties.

    Parameters
    ----------
    roughness : float
        True over projected area of the texture [-], 1 or more.
    liquid_tension, lubricant_tension, interfacial_tension : float
        Liquid and lubricant against air, and against each other [mN/m].
    liquid_angle_deg, lubricant_angle_deg : float
        Angles of liquid and lubricant on the smooth functionalised solid in air [deg].

    Returns
    -------
    tuple of float
        ΔE1 = R(γB cos θB − γA cos θA) − γAB and ΔE2 = R(γB cos θB − γA cos θA) + γA − γB [mN/m].
        ΔE2 − ΔE1 = γA + γAB − γB always.

    Raises
    ------
    ValueError
        For a roughness below 1, a tension below 0, an angle outside 0 to 180, or NaN.

    Holds for liquids that do not mix or react, at equilibrium. Source: `wong_2011`.

    >>> [round(energy, 2) for energy in film_energies(2.0, 72.8, 20.0, 45.0, 110, 10)]
    [44.19, 141.99]
    """
    if not roughness >= 1:
        raise ValueError(f"true over projected area is 1 or more, not {roughness}")
    if not all(tension >= 0 for tension in (liquid_tension, lubricant_tension, interfacial_tension)):
        raise ValueError("a tension cannot lie below 0 mN/m")
    if not all(0 <= angle <= 180 for angle in (liquid_angle_deg, lubricant_angle_deg)):
        raise ValueError("a contact angle lies between 0 and 180 degrees")
    return _energies(
        roughness,
        liquid_tension,
        lubricant_tension,
        interfacial_tension,
        liquid_angle_deg,
        lubricant_angle_deg,
    )


def film_stability(
    *,
    roughness: Estimate,
    liquid_tension: Estimate,
    lubricant_tension: Estimate,
    interfacial_tension: Estimate,
    liquid_angle_deg: Estimate,
    lubricant_angle_deg: Estimate,
) -> FilmStability:
    """The two energy criteria with the standard uncertainties of their inputs propagated.

    Parameters
    ----------
    roughness, liquid_tension, … : tuple of float
        As in `film_energies`, each as value and standard uncertainty (0 for an exact number).

    Returns
    -------
    FilmStability
        `outcome` is stable, displaced, not predicted (signs that differ, each beyond doubt) or cannot tell (a
        sign that twice its standard uncertainty could flip).

    Raises
    ------
    ValueError
        As in `film_energies`, and for an uncertainty below 0 or NaN.

    Source: `wong_2011`, `gum`.

    >>> film_stability(roughness=(2.0, 0.1), liquid_tension=(72.8, 0.2), lubricant_tension=(20.0, 0.5),
    ...     interfacial_tension=(45.0, 3.0), liquid_angle_deg=(110, 2), lubricant_angle_deg=(10, 2)).outcome
    'stable'
    """
    inputs = {
        "roughness": roughness,
        "liquid_tension": liquid_tension,
        "lubricant_tension": lubricant_tension,
        "interfacial_tension": interfacial_tension,
        "liquid_angle_deg": liquid_angle_deg,
        "lubricant_angle_deg": lubricant_angle_deg,
    }
    film_energies(**{name: value for name, (value, _) in inputs.items()})  # refuses what is impossible
    first = first_order(lambda **at: _energies(**at)[0], inputs)
    second = first_order(lambda **at: _energies(**at)[1], inputs)
    return FilmStability(first, second, _outcome(sign_of(*first), sign_of(*second)))


def sign_of(value: float, uncertainty: float) -> int:
    """1 or −1 where twice the standard uncertainty cannot flip the sign, otherwise 0.

    >>> sign_of(7.7, 3.0), sign_of(2.8, 3.0), sign_of(-7.7, 3.0)
    (1, 0, -1)
    """
    if abs(value) <= COVERAGE * uncertainty:
        return 0
    return 1 if value > 0 else -1


def _energies(
    roughness,
    liquid_tension,
    lubricant_tension,
    interfacial_tension,
    liquid_angle_deg,
    lubricant_angle_deg,
):
    lubricant_part = lubricant_tension * math.cos(math.radians(lubricant_angle_deg))
    liquid_part = liquid_tension * math.cos(math.radians(liquid_angle_deg))
    gain = roughness * (lubricant_part - liquid_part)
    return gain - interfacial_tension, gain + liquid_tension - lubricant_tension


def _outcome(first: int, second: int) -> str:
    if 0 in (first, second):
        return CANNOT_TELL
    if first != second:
        return NOT_PREDICTED
    return STABLE if first > 0 else DISPLACED
