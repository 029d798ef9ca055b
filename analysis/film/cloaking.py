"""Does the lubricant creep over a drop and cloak it? The sign of its spreading coefficient says so."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.film.stability import Estimate, sign_of
from analysis.propagation import first_order

CLOAKS = "cloaks"
DOES_NOT_CLOAK = "does not cloak"
CANNOT_TELL = "cannot tell"

# An interfacial tension without a stated uncertainty, or estimated, is known to ±5 mN/m at best (half-width).
ASSUMED_INTERFACIAL_HALF_WIDTH = 5.0  # mN/m


@dataclass(frozen=True, slots=True)
class Cloaking:
    """Spreading coefficient of the lubricant on the liquid [mN/m], standard uncertainty, meaning."""

    coefficient: float
    uncertainty: float
    outcome: str


def spreading_coefficient(liquid_tension: float, lubricant_tension: float, interfacial_tension: float) -> float:
    """Spreading coefficient of a lubricant on a liquid in air: S = γA − γAB − γB.

    Parameters
    ----------
    liquid_tension, lubricant_tension, interfacial_tension : float
        Liquid and lubricant against air, and against each other [mN/m], 0 or more. Values of mutually
        saturated liquids: with the tension of fresh water an ionic liquid would wrongly cloak.

    Returns
    -------
    float
        Above 0 the lubricant cloaks the drop [mN/m].

    Raises
    ------
    ValueError
        For a tension below 0 or NaN.

    Source: `smith_2013`.

    >>> round(spreading_coefficient(72.8, 20.1, 45.0), 2)
    7.7
    """
    if not all(tension >= 0 for tension in (liquid_tension, lubricant_tension, interfacial_tension)):
        raise ValueError("a tension cannot lie below 0 mN/m")
    return _coefficient(liquid_tension, lubricant_tension, interfacial_tension)


def cloaking(*, liquid_tension: Estimate, lubricant_tension: Estimate, interfacial_tension: Estimate) -> Cloaking:
    """Sign of the spreading coefficient with the standard uncertainties of the tensions propagated.

    Parameters
    ----------
    liquid_tension, lubricant_tension, interfacial_tension : tuple of float
        Value and standard uncertainty [mN/m].

    Returns
    -------
    Cloaking
        `outcome` is "cannot tell" where twice the standard uncertainty could flip the sign.

    Raises
    ------
    ValueError
        As in `spreading_coefficient`, and for an uncertainty below 0 or NaN.

    Source: `smith_2013`, `gum`.

    >>> cloaking(
    ...     liquid_tension=(72.8, 0.2), lubricant_tension=(17, 0.5), interfacial_tension=(53, 2.9)
    ... ).outcome
    'cannot tell'
    """
    inputs = {
        "liquid_tension": liquid_tension,
        "lubricant_tension": lubricant_tension,
        "interfacial_tension": interfacial_tension,
    }
    spreading_coefficient(**{name: value for name, (value, _) in inputs.items()})  # refuses the impossible
    coefficient, uncertainty = first_order(_coefficient, inputs)
    outcome = {1: CLOAKS, -1: DOES_NOT_CLOAK, 0: CANNOT_TELL}[sign_of(coefficient, uncertainty)]
    return Cloaking(coefficient, uncertainty, outcome)


def estimated_interfacial_tension(
    liquid_tension: float, liquid_dispersive: float, lubricant_tension: float, lubricant_dispersive: float
) -> Estimate:
    """Interfacial tension estimated from dispersive parts, for want of a measured one.

    Parameters
    ----------
    liquid_tension, liquid_dispersive, lubricant_tension, lubricant_dispersive : float
        Tensions against air and their dispersive parts [mN/m], 0 or more.

    Returns
    -------
    tuple of float
        γA + γB − 2√(γA^d γB^d) and the standard uncertainty of a value known to ±5 mN/m [mN/m]. It fails for
        aromatic lubricants, where the true value is far lower.

    Raises
    ------
    ValueError
        For a tension below 0 or NaN.

    Source: `fowkes_1964`.

    >>> round(estimated_interfacial_tension(72.8, 21.8, 18.4, 18.4)[0], 3)
    51.144
    """
    tensions = (liquid_tension, liquid_dispersive, lubricant_tension, lubricant_dispersive)
    if not all(tension >= 0 for tension in tensions):
        raise ValueError("a tension cannot lie below 0 mN/m")
    estimate = liquid_tension + lubricant_tension - 2 * math.sqrt(liquid_dispersive * lubricant_dispersive)
    return estimate, ASSUMED_INTERFACIAL_HALF_WIDTH / math.sqrt(3)


def _coefficient(liquid_tension, lubricant_tension, interfacial_tension):
    return liquid_tension - interfacial_tension - lubricant_tension
