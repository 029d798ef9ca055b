"""Spacing of fibres, meshes and particles: the ratios that the apparent angles take, and open area.

Numbers or arrays that broadcast. NaN in an array stays NaN in its place; a single NaN is refused.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.inputs import contact_angle, number, one_plus_cosine, positive

PACKED = np.pi / (2 * np.sqrt(3))  # share that touching circles cover in a hexagonal array


@formula("D* = (R + D)/R", source="nat_sustain_2020", holds_when="parallel fibres of diameter 2R with gaps of 2D")
def fibre_spacing_ratio(fibre_diameter_um: ArrayLike, gap_um: ArrayLike) -> float | np.ndarray:
    """Pitch of fibres over their diameter.

    Parameters
    ----------
    fibre_diameter_um : array_like
        Diameter 2R [um], above 0.
    gap_um : array_like
        Clear distance 2D between neighbours [um], 0 or more.

    Returns
    -------
    float or numpy.ndarray
        Spacing ratio D* [-], 1 for touching fibres.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> round(fibre_spacing_ratio(36, 43), 3)
    2.194
    """
    diameter = positive("fibre diameter", fibre_diameter_um, "um")
    return plain(1 + number("gap", gap_um, "um", at_least=0) / diameter)


@formula(
    "D*p = [(R + D)/R]²", source="nat_sustain_2020", holds_when="hexagonal array of spheres of diameter 2R, gaps of 2D"
)
def particle_spacing_ratio(particle_diameter_um: ArrayLike, gap_um: ArrayLike) -> float | np.ndarray:
    """Square of the pitch of particles over their diameter.

    Parameters
    ----------
    particle_diameter_um, gap_um : array_like
        Diameter, above 0, and clear distance, 0 or more [um].

    Returns
    -------
    float or numpy.ndarray
        Spacing ratio D*p [-], 1 for touching particles. Fibres have no square: the two are not to be mixed.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> particle_spacing_ratio(2.0, 1.0)
    2.25
    """
    diameter = positive("particle diameter", particle_diameter_um, "um")
    return plain((1 + number("gap", gap_um, "um", at_least=0) / diameter) ** 2)


@formula(
    "D*p = π(1 + cos θY)²/[2√3(1 + cos θ*)]",
    source="nat_sustain_2020",
    holds_when="spheres in a hexagonal array, air below",
)
def particle_spacing_for_angle(young_deg: ArrayLike, apparent_deg: ArrayLike) -> float | np.ndarray:
    """Spacing of particles that gives a wanted apparent angle.

    Parameters
    ----------
    young_deg : array_like
        Angle on the smooth solid [deg], 0 to below 180.
    apparent_deg : array_like
        Wanted angle [deg], 0 to below 180.

    Returns
    -------
    float or numpy.ndarray
        D*p [-]; below 1 no layer of spheres is dense enough.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> round(particle_spacing_for_angle(25, 35), 4)
    1.8117
    """
    wanted = contact_angle(apparent_deg, "apparent angle", below=180)
    young = contact_angle(young_deg, below=180)
    return plain(PACKED * one_plus_cosine(young) ** 2 / one_plus_cosine(wanted))


@formula("OA = (1 − 1/D*)²", source="nat_sustain_2020", holds_when="plain weave or square mesh")
def open_area(spacing_ratio: ArrayLike) -> float | np.ndarray:
    """Share of a mesh that is open.

    Parameters
    ----------
    spacing_ratio : array_like
        D* [-], 1 or more.

    Returns
    -------
    float or numpy.ndarray
        Share [-], 0 for touching wires.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> open_area(2.0)
    0.25
    """
    return plain((1 - 1 / number("spacing ratio D*", spacing_ratio, at_least=1)) ** 2)


@formula("D* = 1/(1 − √OA)", source="nat_sustain_2020", holds_when="plain weave or square mesh")
def spacing_ratio_of_open_area(open_share: ArrayLike) -> float | np.ndarray:
    """Spacing ratio of a mesh that is sold by its open area.

    Parameters
    ----------
    open_share : array_like
        Share that is open [-], 0 to below 1.

    Returns
    -------
    float or numpy.ndarray
        D* [-].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> round(spacing_ratio_of_open_area(0.5), 3)
    3.414
    """
    return plain(1 / (1 - np.sqrt(number("open area", open_share, at_least=0, below=1))))
