"""Does a lubricant film stay on its textured solid when a drop of another liquid lies on it?

Two energy criteria: both above zero, the film is stable; both below zero, the liquid displaces it; signs that
differ predict nothing and call for an experiment. A sign counts only where twice its standard uncertainty
cannot flip it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import ROUNDING, Numbers, film_number
from analysis.formula import formula
from analysis.propagation import first_order
from analysis.ranges import plain

STABLE = "stable"
DISPLACED = "displaced"
NOT_PREDICTED = "not predicted"  # signs differ: an experiment decides
CANNOT_TELL = "cannot tell"  # the uncertainty of the inputs could flip a sign
COVERAGE = 2.0  # multiple of the standard uncertainty, about 95 %

Estimate = tuple[Numbers, Numbers]  # value and standard uncertainty

# What a pair of signs (ΔE1, ΔE2) says: outcome and plain words. 0 = no sign can be told.
SIGNS = {
    (1, 1): (
        STABLE,
        "Lubricant in the texture costs less than liquid in the texture, with the liquid on top and without it: "
        "the film stays.",
    ),
    (-1, -1): (
        DISPLACED,
        "Liquid in the texture costs less than any film of lubricant: the liquid displaces the film.",
    ),
    (-1, 1): (
        NOT_PREDICTED,
        "Beneath liquid that stays on the coupon the film costs more than a solid wetted by the liquid; once the "
        "liquid has left, the bare film costs less. Neither stable nor displaced: an experiment decides, with the "
        "liquid left standing as long as in use.",
    ),
    (1, -1): (
        NOT_PREDICTED,
        "The film stays beneath a layer of the liquid, but the liquid spreads over the lubricant and forms no drop "
        "that could be shed: an experiment decides.",
    ),
}
_UNTOLD = (CANNOT_TELL, "A criterion so near zero that its sign cannot be told.")
_OUTCOMES, _MEANINGS = (
    np.array([[SIGNS.get((first, second), _UNTOLD)[part] for second in (-1, 0, 1)] for first in (-1, 0, 1)])
    for part in (0, 1)
)


@dataclass(frozen=True, slots=True)
class FilmStability:
    """The two energy differences per projected area [mN/m], standard uncertainties, meaning."""

    first: Estimate  # film of lubricant with liquid on top, against the solid wetted by the liquid
    second: Estimate  # bare film of lubricant, against the solid wetted by the liquid
    outcome: str | np.ndarray

    @property
    def meaning(self) -> str | np.ndarray:
        """What the two signs say, in plain words."""
        return meaning_of_signs(sign_of(*self.first), sign_of(*self.second))


@formula(
    "ΔE1 = R(γB cos θB − γA cos θA) − γAB; ΔE2 = R(γB cos θB − γA cos θA) + γA − γB",
    source="wong_2011",
    holds_when="liquids that do not mix or react with each other or with the solid, at equilibrium",
)
def film_energies(
    roughness: Numbers,
    liquid_tension: Numbers,
    lubricant_tension: Numbers,
    interfacial_tension: Numbers,
    liquid_angle_deg: Numbers,
    lubricant_angle_deg: Numbers,
) -> tuple[Numbers, Numbers]:
    """The two energy differences of a lubricant film, without uncertainties.

    Parameters
    ----------
    roughness : float or array
        True over projected area of the texture [-], 1 or more.
    liquid_tension, lubricant_tension, interfacial_tension : float or array
        Liquid and lubricant against air, and against each other [mN/m], 0 or more.
    liquid_angle_deg, lubricant_angle_deg : float or array
        Angles of liquid and lubricant on the smooth functionalised solid in air [deg], 0 to 180.

    Returns
    -------
    tuple of float or array
        ΔE1 (film with the liquid on top) and ΔE2 (bare film), each against the solid wetted by the liquid
        [mN/m]. Both above 0: stable; both below 0: displaced; signs that differ predict nothing.

    Raises
    ------
    ValueError
        For a roughness below 1, a tension below 0, an angle outside 0 to 180, or a single NaN; NaN in an array
        stays NaN in its place.

    Source: `wong_2011`.

    >>> [round(energy, 2) for energy in film_energies(2.0, 72.8, 20.0, 45.0, 110, 10)]
    [44.19, 141.99]
    """
    first, second = _energies(
        film_number("roughness", roughness),
        film_number("liquid_tension", liquid_tension),
        film_number("lubricant_tension", lubricant_tension),
        film_number("interfacial_tension", interfacial_tension),
        film_number("liquid_angle_deg", liquid_angle_deg),
        film_number("lubricant_angle_deg", lubricant_angle_deg),
    )
    return plain(first), plain(second)


@formula(
    "ΔE2 − ΔE1 = γA + γAB − γB",
    source="wong_2011",
    holds_when="always, whatever the solid: below zero the liquid spreads over the lubricant",
)
def energy_gap(liquid_tension: Numbers, lubricant_tension: Numbers, interfacial_tension: Numbers) -> Numbers:
    """Second energy criterion less the first: what the liquids alone decide, whatever the solid.

    Parameters
    ----------
    liquid_tension, lubricant_tension, interfacial_tension : float or array
        Liquid and lubricant against air, and against each other [mN/m], 0 or more.

    Returns
    -------
    float or array
        ΔE2 − ΔE1 [mN/m]; its negative is the spreading coefficient of the liquid on the lubricant. Below 0 the
        liquid spreads over the lubricant instead of forming a drop.

    Raises
    ------
    ValueError
        As in `film_energies`; NaN in an array stays NaN in its place.

    Source: `wong_2011`.

    >>> round(energy_gap(72.8, 20.0, 45.0), 2)
    97.8
    """
    liquid = film_number("liquid_tension", liquid_tension)
    interfacial = film_number("interfacial_tension", interfacial_tension)
    return plain(liquid + interfacial - film_number("lubricant_tension", lubricant_tension))


@formula(
    "u²(ΔE) = Σ (∂ΔE/∂x)²·u²(x); a sign counts where |ΔE| > 2u(ΔE)",
    source="wong_2011 gum",
    holds_when="uncorrelated inputs, uncertainties small enough for a straight line; angles near 0° or 180° are not",
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
    """The two energy criteria of a film with the standard uncertainties of their inputs propagated.

    For the probability of each outcome see `stability_probability`.

    Parameters
    ----------
    roughness, liquid_tension, lubricant_tension, interfacial_tension : tuple of float or array
        As in `film_energies` [-], [mN/m], each as value and standard uncertainty (0 for an exact number).
    liquid_angle_deg, lubricant_angle_deg : tuple of float or array
        In the same way [deg].

    Returns
    -------
    FilmStability
        `outcome` is stable, displaced, not predicted (signs that differ, each beyond doubt) or cannot tell (a
        sign that twice its standard uncertainty could flip).

    Raises
    ------
    ValueError
        As in `film_energies`, and for an uncertainty below 0 or NaN. NaN among the values of an array gives
        "cannot tell" in its place.

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
    first = _plain_pair(first_order(lambda **at: _energies(**at)[0], inputs))
    second = _plain_pair(first_order(lambda **at: _energies(**at)[1], inputs))
    return FilmStability(first, second, outcome_of_signs(sign_of(*first), sign_of(*second)))


def sign_of(value: Numbers, uncertainty: Numbers) -> int | np.ndarray:
    """1 or −1 where twice the standard uncertainty cannot flip the sign, otherwise 0; 0 for NaN.

    Energies and coefficients within 1e-9 mN/m of 0 are 0: what rounding leaves of equal tensions has no sign.

    Source: `gum`.

    >>> sign_of(7.7, 3.0), sign_of(2.8, 3.0), sign_of(-7.7, 3.0)
    (1, 0, -1)
    """
    is_told = np.abs(value) > np.maximum(COVERAGE * np.asarray(uncertainty), ROUNDING)
    return plain(is_told * (np.greater(value, 0).astype(int) - np.less(value, 0)))


def outcome_of_signs(first: int | np.ndarray, second: int | np.ndarray) -> str | np.ndarray:
    """The outcome behind the signs of ΔE1 and ΔE2; other numbers than 1, −1 and 0 are refused.

    Source: `wong_2011`.

    >>> outcome_of_signs(-1, 1)
    'not predicted'
    """
    return plain(_OUTCOMES[_place(first), _place(second)])


def meaning_of_signs(first: int | np.ndarray, second: int | np.ndarray) -> str | np.ndarray:
    """What the signs of ΔE1 and ΔE2 say about the film, in plain words.

    Parameters
    ----------
    first, second : int or array of int
        Sign of ΔE1 and of ΔE2: 1, −1, or 0 where it cannot be told.

    Returns
    -------
    str or array of str
        A sentence or two.

    Raises
    ------
    ValueError
        For a sign other than 1, −1 or 0.

    Source: `wong_2011`; the reading of signs that differ follows from ΔE2 − ΔE1 = γA + γAB − γB.

    >>> meaning_of_signs(1, -1)[-22:]
    'an experiment decides.'
    """
    return plain(_MEANINGS[_place(first), _place(second)])


def _place(sign: int | np.ndarray) -> np.ndarray:
    signs = np.asarray(sign)
    wrong = ~np.isin(signs, (-1, 0, 1))
    if wrong.any():
        raise ValueError(f"a sign must be −1, 0 or 1, not {signs[wrong].flat[0]}")
    return signs.astype(int) + 1


def _plain_pair(found: tuple) -> Estimate:
    return plain(found[0]), plain(found[1])


def _energies(
    roughness,
    liquid_tension,
    lubricant_tension,
    interfacial_tension,
    liquid_angle_deg,
    lubricant_angle_deg,
):
    lubricant_part = lubricant_tension * np.cos(np.radians(lubricant_angle_deg))
    liquid_part = liquid_tension * np.cos(np.radians(liquid_angle_deg))
    gain = roughness * (lubricant_part - liquid_part)
    first = gain - interfacial_tension
    return first, gain + liquid_tension - lubricant_tension + np.zeros(np.shape(first))  # both of one shape
