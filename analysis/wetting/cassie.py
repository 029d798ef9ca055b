"""A drop that rests on the tops of a texture with air below: apparent angles by the shape of the tops.

Angles of the smooth solid go in, apparent angles come out; numbers or arrays that broadcast. NaN in an array
stays NaN in its place; a single NaN is refused. Where a formula gives a cosine beyond ±1 the angle is 0° or 180°.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.inputs import angle_deg, contact_angle, number, one_plus_cosine
from analysis.wetting.spacing import PACKED

_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class CompositeShares:
    """Areas below a drop per projected area: wetted solid f1, liquid over air f2 [-]. On curved tops f1 + f2 > 1."""

    wetted: float | np.ndarray
    open: float | np.ndarray


@formula("cos θ* = f1·cos θY − f2", source="cassie_baxter_1944", holds_when="air below the drop; f1 + f2 ≥ 1")
def cassie_baxter_angle_deg(young_deg: ArrayLike, wetted: ArrayLike, open_share: ArrayLike) -> float | np.ndarray:
    """Apparent angle on solid and air, for tops of any shape.

    Parameters
    ----------
    young_deg : array_like
        Angle on the smooth solid [deg], 0 to 180.
    wetted : array_like
        Area of wetted solid per projected area, f1 [-], 0 or more.
    open_share : array_like
        Area of liquid over air per projected area, f2 [-], 0 to 1.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg].

    Raises
    ------
    ValueError
        Out of range; f1 + f2 below 1, which no surface has (equal to 1 for flat tops only: do not use 1 − f1
        on fibres or particles); a single NaN.

    Source: `cassie_baxter_1944`.

    >>> round(cassie_baxter_angle_deg(110, 0.10, 0.90), 3)
    159.1
    """
    solid = number("wetted area f1", wetted, at_least=0)
    air = number("open area f2", open_share, at_least=0, at_most=1)
    number("f1 + f2", solid + air, at_least=1 - _ROUNDING)
    young = contact_angle(young_deg)
    # 1 + cos θ* = (1 − f2 − f1) + f1(1 + cos θY): exact for f1 = 1 up to 180°
    return plain(angle_deg((1 - air - solid) + solid * one_plus_cosine(young)))


@formula(
    "cos θ* = φ(cos θY + 1) − 1", source="cassie_baxter_1944", holds_when="flat tops, air below, drop large to texture"
)
def flat_tops_angle_deg(young_deg: ArrayLike, solid_fraction: ArrayLike) -> float | np.ndarray:
    """Apparent angle on flat tops such as posts or pillars.

    Parameters
    ----------
    young_deg : array_like
        Angle on the smooth solid [deg], 0 to 180.
    solid_fraction : array_like
        Area of the tops per projected area φ [-], 0 to 1. For a texture on a texture of much larger scale it
        is the product of both.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg]: 180 at φ = 0, that of the smooth solid at φ = 1.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `cassie_baxter_1944`.

    >>> round(flat_tops_angle_deg(120, 0.05), 3)
    167.161
    >>> round(flat_tops_angle_deg(110, 0.25 * 0.30), 3)
    161.925
    """
    tops = number("solid fraction", solid_fraction, at_least=0, at_most=1)
    return plain(angle_deg(tops * one_plus_cosine(contact_angle(young_deg))))


@formula(
    "f1 = (π − θY)/D*,  f2 = 1 − sin θY/D*", source="nat_sustain_2020", holds_when="parallel fibres of round section"
)
def fibre_shares(young_deg: ArrayLike, spacing_ratio: ArrayLike) -> CompositeShares:
    """Wetted and open area below a drop on parallel round fibres, for `cassie_baxter_angle_deg`.

    Parameters
    ----------
    young_deg : array_like
        Angle on the smooth solid [deg], 0 to 180.
    spacing_ratio : array_like
        D* [-], 1 or more.

    Returns
    -------
    CompositeShares
        f1 and f2 [-].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> fibre_shares(90, 2.0).open
    0.5
    """
    young, ratio = contact_angle(young_deg), _ratio(spacing_ratio)
    return CompositeShares(plain((np.pi - young) / ratio), plain(1 - np.sin(young) / ratio))


@formula(
    "cos θ* = −1 + [sin θY + (π − θY)cos θY]/D*", source="nat_sustain_2020", holds_when="parallel fibres, air below"
)
def fibre_angle_deg(young_deg: ArrayLike, spacing_ratio: ArrayLike) -> float | np.ndarray:
    """Apparent angle on parallel round fibres, or on a mesh taken as such.

    Parameters
    ----------
    young_deg : array_like
        Angle on the smooth fibre [deg], 0 to 180; for fibres that carry particles, the apparent angle on the
        particles.
    spacing_ratio : array_like
        D* = (R + D)/R [-], 1 or more.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> round(fibre_angle_deg(35, 1 + 43 / 36), 2)
    78.11
    """
    young, ratio = contact_angle(young_deg), _ratio(spacing_ratio)
    return plain(angle_deg(_around_fibre(young) / ratio))


@formula(
    "cos θ* = −1 + (2D* − 1)/D*²·[(π − θY)cos θY + sin θY]",
    source="nat_sustain_2020",
    holds_when="plain weave with equal warp and weft, air below",
)
def weave_angle_deg(young_deg: ArrayLike, spacing_ratio: ArrayLike) -> float | np.ndarray:
    """Apparent angle on a plain weave, with fibres in both directions.

    Parameters
    ----------
    young_deg, spacing_ratio : array_like
        As in `fibre_angle_deg` [deg], [-].

    Returns
    -------
    float or numpy.ndarray
        Angle [deg]; lower than on parallel fibres, since more solid is touched.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> round(weave_angle_deg(90, 2.0), 3)  # cos θ* = −1 + 3/4
    104.478
    """
    young, ratio = contact_angle(young_deg), _ratio(spacing_ratio)
    return plain(angle_deg((2 * ratio - 1) / ratio**2 * _around_fibre(young)))


@formula(
    "f1 = π(1 + cos θY)/(√3·D*p),  f2 = 1 − π·sin²θY/(2√3·D*p)",
    source="nat_sustain_2020",
    holds_when="spheres in a hexagonal array; wetted caps and circles between them, from geometry",
)
def particle_shares(young_deg: ArrayLike, spacing_ratio: ArrayLike) -> CompositeShares:
    """Wetted and open area below a drop on a hexagonal array of spheres, for `cassie_baxter_angle_deg`.

    Parameters
    ----------
    young_deg : array_like
        Angle on the smooth solid [deg], 0 to 180.
    spacing_ratio : array_like
        D*p [-], 1 or more.

    Returns
    -------
    CompositeShares
        f1 and f2 [-].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> round(particle_shares(90, 1.0).open, 4)  # what touching circles leave open
    0.0931
    """
    young, ratio = contact_angle(young_deg), _ratio(spacing_ratio)
    wetted = 2 * PACKED * one_plus_cosine(young) / ratio
    return CompositeShares(plain(wetted), plain(1 - PACKED * np.sin(young) ** 2 / ratio))


@formula(
    "cos θ* = −1 + π(1 + cos θY)²/(2√3·D*p)",
    source="nat_sustain_2020",
    holds_when="spheres in a hexagonal array, air below",
)
def particle_angle_deg(young_deg: ArrayLike, spacing_ratio: ArrayLike) -> float | np.ndarray:
    """Apparent angle on a layer of particles.

    Parameters
    ----------
    young_deg : array_like
        Angle on the smooth solid [deg], 0 to 180.
    spacing_ratio : array_like
        D*p = [(R + D)/R]² [-], 1 or more.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> round(particle_angle_deg(46, 1.81), 2)
    63.96
    """
    young, ratio = contact_angle(young_deg), _ratio(spacing_ratio)
    return plain(angle_deg(PACKED * one_plus_cosine(young) ** 2 / ratio))


@formula(
    "θ* = fibre(particle(θY, D*p), D*)",
    source="nat_sustain_2020",
    holds_when="particles much smaller than the fibres that carry them, air below both",
)
def particles_on_fibres_angle_deg(
    young_deg: ArrayLike, particle_spacing: ArrayLike, fibre_spacing: ArrayLike
) -> float | np.ndarray:
    """Apparent angle on fibres that carry particles: the particles' angle takes the place of the smooth one.

    Parameters
    ----------
    young_deg : array_like
        Angle on the smooth solid [deg], 0 to 180.
    particle_spacing, fibre_spacing : array_like
        D*p of the particles and D* of the fibres [-], 1 or more.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> round(particles_on_fibres_angle_deg(90, 1.0, 2.0), 2)
    124.82
    """
    return fibre_angle_deg(particle_angle_deg(young_deg, particle_spacing), fibre_spacing)


def _ratio(spacing_ratio: ArrayLike) -> np.ndarray:
    return number("spacing ratio D*", spacing_ratio, at_least=1)


def _around_fibre(young: np.ndarray) -> np.ndarray:
    return np.sin(young) + (np.pi - young) * np.cos(young)
