"""In which thermodynamic state a lubricant-filled texture is: outside a drop, beneath it, and around it.

Outside the drop, in air: A1 not filled, A2 filled with bare tops, A3 filled with a film over the tops. Beneath
the drop the same: W1, W2, W3. What is not filled in air is not filled beneath a drop either, and so on, which
leaves six pairs, each cloaked or not: twelve states.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import ROUNDING, Numbers, film_number
from analysis.formula import formula
from analysis.ranges import plain

IMPALED, TOPS_BARE, COVERED = 1, 2, 3  # the number in A1 … W3; 0 where an input is missing
_OUTSIDE = {
    IMPALED: "Outside the drop the lubricant does not stay in the texture",
    TOPS_BARE: "Outside the drop the texture is filled and its tops are bare",
    COVERED: "Outside the drop a film of lubricant covers the tops",
}
_UNDER = {
    IMPALED: "beneath the drop the liquid displaces it: the drop sits in the texture and pins",
    TOPS_BARE: "beneath the drop the texture stays filled but the drop touches the bare tops: it pins a little",
    COVERED: "the drop floats on lubricant and touches no solid: it moves freely",
}
_CLOAK = {True: "the lubricant cloaks the drop and leaves with it", False: "the drop is not cloaked"}
_NOT_ALLOWED = (
    "Not among the twelve states: beneath the drop there would be more lubricant than outside it. Check the angles."
)


@dataclass(frozen=True, slots=True)
class FilmState:
    """One state of a lubricant film around a drop: 1, 2 or 3 outside and beneath it, and whether it is cloaked."""

    outside: int
    under: int
    is_cloaked: bool

    @property
    def is_allowed(self) -> bool:
        """Whether it is one of the twelve."""
        return self.under <= self.outside

    @property
    def code(self) -> str:
        """As it is written: "A2-W1 cloaked"."""
        return f"A{self.outside}-W{self.under} {'cloaked' if self.is_cloaked else 'not cloaked'}"

    @property
    def words(self) -> str:
        """What it means for the drop."""
        if not self.is_allowed:
            return _NOT_ALLOWED
        return f"{_OUTSIDE[self.outside]}; {_UNDER[self.under]}; {_CLOAK[self.is_cloaked]}."


STATES: dict[str, FilmState] = {
    state.code: state
    for is_cloaked in (False, True)
    for outside in (IMPALED, TOPS_BARE, COVERED)
    for under in (IMPALED, TOPS_BARE, COVERED)
    if (state := FilmState(outside, under, is_cloaked)).is_allowed
}


@formula(
    "cos θc = (1 − φ)/(r − φ)",
    source="smith_2013",
    holds_when="texture with flat tops, wide against molecular forces",
)
def critical_angle_deg(roughness: Numbers, solid_fraction: Numbers) -> Numbers:
    """Largest angle of a lubricant on the smooth solid with which it still fills the texture by itself.

    Parameters
    ----------
    roughness : float or array
        True over projected area [-], 1 or more.
    solid_fraction : float or array
        Share of the projected area that the tops take [-], 0 up to below 1 (at 1 there is nothing to fill).

    Returns
    -------
    float or array
        Critical angle [deg]: 0 for a flat solid, near 90 for a deep texture.

    Raises
    ------
    ValueError
        For a roughness below 1, a fraction outside 0 to below 1, or a single NaN; NaN in an array stays NaN in
        its place.

    Source: `smith_2013`.

    >>> round(critical_angle_deg(2.0, 0.25), 3)
    64.623
    """
    r, phi = film_number("roughness", roughness), film_number("solid_fraction", solid_fraction)
    return plain(_critical(r, phi))


@formula(
    "S = γB(cos θB − 1)",
    source="smith_2013",
    holds_when="angle of the lubricant on the smooth solid at equilibrium; at 0° the coefficient is 0 or more",
)
def solid_spreading_coefficient(lubricant_tension: Numbers, lubricant_angle_deg: Numbers) -> Numbers:
    """Spreading coefficient of a lubricant on the smooth solid, from its contact angle.

    Parameters
    ----------
    lubricant_tension : float or array
        Against air; or against the liquid, with the angle under the liquid [mN/m], 0 or more.
    lubricant_angle_deg : float or array
        Angle of the lubricant on the smooth solid in the same surroundings [deg], 0 to 180.

    Returns
    -------
    float or array
        0 or less [mN/m]; an angle of 0° says only that the coefficient is not below 0.

    Raises
    ------
    ValueError
        For a tension below 0, an angle outside 0 to 180, or a single NaN; NaN in an array stays NaN.

    Source: `smith_2013`.

    >>> round(solid_spreading_coefficient(20.1, 60.0), 2)
    -10.05
    """
    tension = film_number("lubricant_tension", lubricant_tension)
    angle = film_number("lubricant_angle_deg", lubricant_angle_deg)
    return plain(-2 * tension * np.sin(np.radians(angle) / 2) ** 2)  # cos θ − 1 without loss of digits


@formula(
    "Sc = −γB(r − 1)/(r − φ)",
    source="smith_2013",
    holds_when="texture with flat tops",
)
def critical_spreading_coefficient(lubricant_tension: Numbers, roughness: Numbers, solid_fraction: Numbers) -> Numbers:
    """Spreading coefficient below which the lubricant does not fill the texture by itself.

    Parameters
    ----------
    lubricant_tension : float or array
        As in `solid_spreading_coefficient` [mN/m].
    roughness, solid_fraction : float or array
        As in `critical_angle_deg` [-].

    Returns
    -------
    float or array
        The coefficient at the critical angle [mN/m]; between it and 0 the tops stay bare.

    Raises
    ------
    ValueError
        As in `critical_angle_deg` and `solid_spreading_coefficient`.

    Source: `smith_2013`.

    >>> round(critical_spreading_coefficient(20.1, 2.0, 0.25), 4)
    -11.4857
    """
    tension = film_number("lubricant_tension", lubricant_tension)
    r, phi = film_number("roughness", roughness), film_number("solid_fraction", solid_fraction)
    return plain(tension * (1 - r) / (r - phi) + 0.0)  # no minus sign before a 0


@formula(
    "cos θB(A) = (γB cos θB − γA cos θA)/γAB",
    source="bartell_osterhof_1927",
    holds_when="the same smooth solid in air and under the liquid, at equilibrium",
)
def angle_under_liquid_deg(
    liquid_tension: Numbers,
    lubricant_tension: Numbers,
    interfacial_tension: Numbers,
    liquid_angle_deg: Numbers,
    lubricant_angle_deg: Numbers,
) -> Numbers:
    """Angle of the lubricant on the smooth solid beneath the liquid, from the two angles in air.

    Parameters
    ----------
    liquid_tension, lubricant_tension, interfacial_tension : float or array
        Against air, and against each other [mN/m], 0 or more.
    liquid_angle_deg, lubricant_angle_deg : float or array
        On the smooth functionalised solid in air [deg], 0 to 180.

    Returns
    -------
    float or array
        Angle measured through the lubricant [deg]: 0 where it spreads beneath the liquid, 180 where the
        liquid spreads beneath the lubricant; NaN where no tension is left to decide, 0/0.

    Raises
    ------
    ValueError
        For an input out of range or a single NaN; NaN in an array stays NaN in its place.

    Source: `bartell_osterhof_1927`.

    >>> round(angle_under_liquid_deg(72.8, 20.0, 45.0, 95.0, 10.0), 2)
    54.64
    """
    between = film_number("interfacial_tension", interfacial_tension)
    liquid = film_number("liquid_tension", liquid_tension)
    lubricant = film_number("lubricant_tension", lubricant_tension)
    liquid_cosine = np.cos(np.radians(film_number("liquid_angle_deg", liquid_angle_deg)))
    lubricant_cosine = np.cos(np.radians(film_number("lubricant_angle_deg", lubricant_angle_deg)))
    with np.errstate(divide="ignore", invalid="ignore"):  # no interfacial tension: one of the two spreads
        cosine = np.clip((lubricant * lubricant_cosine - liquid * liquid_cosine) / between, -1.0, 1.0)
    return plain(np.degrees(np.arccos(cosine)))


@formula(
    "3: θ = 0; 2: 0 < θ < θc; 1: θ ≥ θc; cos θc = (1 − φ)/(r − φ)",
    source="smith_2013",
    holds_when="texture with flat tops; angle of the lubricant at equilibrium in air (A) or under the liquid (W)",
)
def state_number(angle_deg: Numbers, roughness: Numbers, solid_fraction: Numbers) -> int | np.ndarray:
    """1, 2 or 3 of A1 to A3 (angle in air) or W1 to W3 (angle under the liquid).

    Parameters
    ----------
    angle_deg : float or array
        Angle of the lubricant on the smooth solid [deg], 0 to 180; exactly 0 means that it spreads. A measured
        angle of a few degrees is hard to tell from 0: `state_probability` takes its uncertainty.
    roughness, solid_fraction : float or array
        As in `critical_angle_deg` [-].

    Returns
    -------
    int or array of int
        3 at 0°, 2 below the critical angle, 1 from it on; 0 where an array holds NaN.

    Raises
    ------
    ValueError
        As in `critical_angle_deg`.

    Source: `smith_2013`.

    >>> state_number(10.0, 2.0, 0.25)
    2
    """
    angle = film_number("lubricant_angle_deg", angle_deg)
    r, phi = film_number("roughness", roughness), film_number("solid_fraction", solid_fraction)
    critical = _critical(r, phi)
    found = np.where(angle <= 0, COVERED, np.where(angle < critical, TOPS_BARE, IMPALED))
    found = np.where(np.isnan(angle + critical), 0, found)
    return plain(found)


def film_state(
    *,
    roughness: float,
    solid_fraction: float,
    lubricant_angle_deg: float,
    angle_under_deg: float,
    spreading_coefficient: float,
) -> FilmState:
    """The state of one film around a drop, taken from exact angles.

    Parameters
    ----------
    roughness, solid_fraction : float
        As in `critical_angle_deg` [-].
    lubricant_angle_deg, angle_under_deg : float
        Angle of the lubricant on the smooth solid in air and under the liquid [deg], 0 to 180.
    spreading_coefficient : float
        Of the lubricant on the liquid [mN/m]: above 0 it cloaks the drop.

    Returns
    -------
    FilmState
        One of `STATES`, or a pair that `is_allowed` denies.

    Raises
    ------
    ValueError
        As in `critical_angle_deg`, and for NaN.

    Source: `smith_2013`; that six of nine pairs are allowed is our reading.

    >>> film_state(roughness=2, solid_fraction=0.25, lubricant_angle_deg=10, angle_under_deg=70,
    ...     spreading_coefficient=7.7).code
    'A2-W1 cloaked'
    """
    if not np.isfinite(spreading_coefficient):
        raise ValueError(f"spreading coefficient must be a finite number, not {spreading_coefficient}")
    texture = float(roughness), float(solid_fraction)
    outside = state_number(float(lubricant_angle_deg), *texture)
    under = state_number(float(angle_under_deg), *texture)
    return FilmState(outside, under, bool(spreading_coefficient > ROUNDING))


def _critical(r, phi):
    return np.degrees(np.arccos((1 - phi) / (r - phi)))
