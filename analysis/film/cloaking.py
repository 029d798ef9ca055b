"""Does the lubricant creep over a drop and cloak it? The sign of its spreading coefficient says so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import ROUNDING, Numbers, film_number
from analysis.film.interfacial import LEAST_HALF_WIDTH, fowkes_interfacial
from analysis.film.stability import Estimate, sign_of
from analysis.formula import formula
from analysis.propagation import first_order
from analysis.ranges import plain

CLOAKS = "cloaks"
DOES_NOT_CLOAK = "does not cloak"
CANNOT_TELL = "cannot tell"

# An interfacial tension without a stated uncertainty, or estimated, is known to ±5 mN/m at best (half-width).
ASSUMED_INTERFACIAL_HALF_WIDTH = LEAST_HALF_WIDTH  # mN/m

_FRESH = (
    "The tension of the fresh liquid was used. A drop takes up lubricant within moments and its tension falls: "
    "the verdict may be wrong, so measure the liquid after it has stood on the lubricant."
)
_NOT_SAID = "Whether the tensions are those of mutually saturated liquids is not on record; only those decide."


@dataclass(frozen=True, slots=True)
class Cloaking:
    """Spreading coefficient of the lubricant on the liquid [mN/m], standard uncertainty, meaning."""

    coefficient: Numbers
    uncertainty: Numbers
    outcome: str | np.ndarray
    note: str = ""  # what is doubtful about the tensions


@dataclass(frozen=True, slots=True)
class SaturationEffect:
    """The spreading coefficient with the tension of the fresh and of the saturated liquid [mN/m]."""

    fresh: Numbers
    saturated: Numbers
    is_misleading: bool | np.ndarray  # the fresh tension gives the other sign


@formula(
    "S = γA − γAB − γB",
    source="smith_2013",
    holds_when="tensions of mutually saturated liquids, film thick against molecular forces",
)
def spreading_coefficient(liquid_tension: Numbers, lubricant_tension: Numbers, interfacial_tension: Numbers) -> Numbers:
    """Spreading coefficient of a lubricant on a liquid in air.

    Parameters
    ----------
    liquid_tension, lubricant_tension, interfacial_tension : float or array
        Liquid and lubricant against air, and against each other [mN/m], 0 or more. Values of mutually
        saturated liquids: with the tension of fresh water an ionic liquid would wrongly cloak.

    Returns
    -------
    float or array
        Above 0 the lubricant cloaks the drop [mN/m].

    Raises
    ------
    ValueError
        For a tension below 0 or a single NaN; NaN in an array stays NaN in its place.

    Source: `smith_2013`.

    >>> round(spreading_coefficient(72.8, 20.1, 45.0), 2)
    7.7
    """
    return plain(
        _coefficient(
            film_number("liquid_tension", liquid_tension),
            film_number("lubricant_tension", lubricant_tension),
            film_number("interfacial_tension", interfacial_tension),
        )
    )


@formula(
    "S = γA − γAB − γB, u²(S) = u²(γA) + u²(γAB) + u²(γB); the sign counts where |S| > 2u(S)",
    source="smith_2013 gum",
    holds_when="tensions of mutually saturated liquids, uncorrelated",
)
def cloaking(
    *,
    liquid_tension: Estimate,
    lubricant_tension: Estimate,
    interfacial_tension: Estimate,
    is_saturated: bool | None = None,
) -> Cloaking:
    """Sign of the spreading coefficient with the standard uncertainties of the tensions propagated.

    Parameters
    ----------
    liquid_tension, lubricant_tension, interfacial_tension : tuple of float or array
        Value and standard uncertainty [mN/m].
    is_saturated : bool
        True: the tensions are those of mutually saturated liquids; False: of fresh ones; None: not on record.

    Returns
    -------
    Cloaking
        `outcome` is "cannot tell" where twice the standard uncertainty could flip the sign; `note` warns
        unless the liquids are said to be saturated.

    Raises
    ------
    ValueError
        As in `spreading_coefficient`, for an uncertainty below 0 or NaN, and for another word on saturation. NaN
        among the values of an array gives "cannot tell" in its place.

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
    if is_saturated not in (True, False, None):
        raise ValueError(f"is_saturated must be True, False or None for not on record, not {is_saturated!r}")
    coefficient, uncertainty = first_order(_coefficient, inputs)
    outcome = np.array([DOES_NOT_CLOAK, CANNOT_TELL, CLOAKS])[np.asarray(sign_of(coefficient, uncertainty)) + 1]
    note = {True: "", False: _FRESH, None: _NOT_SAID}[is_saturated]
    return Cloaking(plain(np.asarray(coefficient, dtype=float)), plain(np.abs(uncertainty)), plain(outcome), note)


@formula(
    "S(fresh) = γA(fresh) − γAB − γB against S(saturated) = γA(saturated) − γAB − γB",
    source="smith_2013",
    holds_when="the saturated values decide; the fresh ones hold for the first moments at most",
)
def saturation_effect(
    *,
    fresh_tension: Numbers,
    saturated_tension: Numbers,
    lubricant_tension: Numbers,
    interfacial_tension: Numbers,
) -> SaturationEffect:
    """Whether the tension of the fresh liquid would give the wrong verdict on cloaking.

    Parameters
    ----------
    fresh_tension, saturated_tension : float or array
        Tension of the liquid against air, fresh and after it has stood on the lubricant [mN/m], 0 or more.
    lubricant_tension, interfacial_tension : float or array
        As in `spreading_coefficient`.

    Returns
    -------
    SaturationEffect
        Both coefficients [mN/m], and whether their signs differ.

    Raises
    ------
    ValueError
        As in `spreading_coefficient`.

    Source: `smith_2013`.

    >>> saturation_effect(fresh_tension=72.8, saturated_tension=42, lubricant_tension=34, interfacial_tension=13)
    SaturationEffect(fresh=25.799999999999997, saturated=-5.0, is_misleading=True)
    """
    fresh = spreading_coefficient(fresh_tension, lubricant_tension, interfacial_tension)
    saturated = spreading_coefficient(saturated_tension, lubricant_tension, interfacial_tension)
    differs = np.not_equal(np.greater(fresh, ROUNDING), np.greater(saturated, ROUNDING))
    return SaturationEffect(fresh, saturated, plain(differs & ~np.isnan(fresh) & ~np.isnan(saturated)))


@formula(
    "cos θ = (γB − γAB)/γeff, γeff = γA (not cloaked) or γB + γAB (cloaked)",
    source="liquid_young from_memory",
    holds_when="film thin against the drop and covering the solid; the wetting ridge is small",
)
def apparent_angle_deg(
    liquid_tension: Numbers,
    lubricant_tension: Numbers,
    interfacial_tension: Numbers,
    *,
    is_cloaked: bool | np.ndarray | None = None,
) -> Numbers:
    """Apparent angle of a drop on a thin film of lubricant that covers the solid.

    Parameters
    ----------
    liquid_tension, lubricant_tension, interfacial_tension : float or array
        Liquid and lubricant against air, and against each other [mN/m], 0 or more.
    is_cloaked : bool or array of bool
        Whether the lubricant cloaks the drop; left out, the sign of the spreading coefficient decides.

    Returns
    -------
    float or array
        Apparent angle [deg]: 0 where the liquid spreads over the lubricant; NaN where the tensions are all 0.

    Raises
    ------
    ValueError
        As in `spreading_coefficient`; NaN in an array stays NaN in its place.

    Source: `liquid_young`.

    >>> round(apparent_angle_deg(72.8, 20.1, 45.0, is_cloaked=False), 2)
    110.0
    """
    liquid = film_number("liquid_tension", liquid_tension)
    lubricant = film_number("lubricant_tension", lubricant_tension)
    between = film_number("interfacial_tension", interfacial_tension)
    cloaks = _coefficient(liquid, lubricant, between) > 0 if is_cloaked is None else np.asarray(is_cloaked, dtype=bool)
    effective = np.where(cloaks, between + lubricant, liquid)
    with np.errstate(divide="ignore", invalid="ignore"):  # a tension of 0 gives ±1 after clipping, 0/0 stays NaN
        cosine = np.clip((lubricant - between) / effective, -1.0, 1.0)
    return plain(np.degrees(np.arccos(cosine + 0.0 * liquid)))


@formula(
    "γAB = γA + γB − 2√(γAᵈ γBᵈ)",
    source="fowkes_1964",
    holds_when="only dispersion forces act across the interface; an estimate, known to ±5 mN/m at best",
)
def estimated_interfacial_tension(
    liquid_tension: float, liquid_dispersive: float, lubricant_tension: float, lubricant_dispersive: float
) -> Estimate:
    """Interfacial tension estimated from dispersive parts, as a pair for the film criteria.

    `fowkes_interfacial` gives the same estimate with its notes.

    Parameters
    ----------
    liquid_tension, liquid_dispersive, lubricant_tension, lubricant_dispersive : float
        Tensions against air and their dispersive parts [mN/m], 0 or more, no part above its tension.

    Returns
    -------
    tuple of float
        γA + γB − 2√(γAᵈ γBᵈ) and the standard uncertainty of a value known to ±5 mN/m [mN/m]. It fails for
        aromatic lubricants, where the true value is far lower.

    Raises
    ------
    ValueError
        For a tension below 0, a part above its whole, or NaN.

    Source: `fowkes_1964`.

    >>> round(estimated_interfacial_tension(72.8, 21.8, 18.4, 18.4)[0], 3)
    51.144
    """
    return fowkes_interfacial(liquid_tension, liquid_dispersive, lubricant_tension, lubricant_dispersive).pair


def _coefficient(liquid_tension, lubricant_tension, interfacial_tension):
    return liquid_tension - interfacial_tension - lubricant_tension
