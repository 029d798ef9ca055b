"""The shape of a resting drop: spherical cap, and what gravity makes of it.

Volumes are in µL, which is mm³; lengths in mm; tension in mN/m; density in kg/m³. Arguments are numbers or
arrays that broadcast. NaN in an array stays NaN in its place; a single NaN is refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting import outline
from analysis.wetting.inputs import contact_angle, positive

GRAVITY = 9.80665  # m/s², standard gravity


@dataclass(frozen=True, slots=True)
class DropShape:
    """Outline of a resting drop: radius of its contact circle, height, radius at the top [mm]."""

    base_radius_mm: float | np.ndarray
    height_mm: float | np.ndarray
    top_radius_mm: float | np.ndarray

    @property
    def base_width_mm(self) -> float | np.ndarray:
        """Width of the contact line, the length that the retention relation needs [mm]."""
        return 2 * self.base_radius_mm

    @property
    def contact_area_mm2(self) -> float | np.ndarray:
        """Area of the contact circle [mm2]."""
        return np.pi * self.base_radius_mm**2

    @property
    def cap_fit_angle_deg(self) -> float | np.ndarray:
        """The angle that a fit of a circle through base and height reports: 2·atan(h/a) [deg]."""
        return plain(np.degrees(2 * np.arctan2(self.height_mm, self.base_radius_mm)))


@formula("lc = √(γ/ρg)", source="young_laplace", holds_when="density of the air neglected")
def capillary_length_mm(tension: ArrayLike, density: ArrayLike) -> float | np.ndarray:
    """Length above which gravity flattens a drop.

    Parameters
    ----------
    tension : array_like
        Surface tension [mN/m], above 0.
    density : array_like
        Density of the liquid [kg/m3], above 0; for more care its excess over that of the air.

    Returns
    -------
    float or numpy.ndarray
        Capillary length [mm].

    Raises
    ------
    ValueError
        For an input that is not above 0, or a single NaN.

    Source: `young_laplace`.

    >>> round(capillary_length_mm(72.736, 998.207), 4)
    2.7259
    """
    weight = positive("density", density, "kg/m3") * GRAVITY
    return plain(1e3 * np.sqrt(positive("surface tension", tension, "mN/m") * 1e-3 / weight))


@formula(
    "Bo = (R0/lc)²,  R0 = (3V/4π)^(1/3)",
    source="young_laplace",
    holds_when="length R0: other texts take base radius or height, and only values with the same length compare",
)
def bond_number(volume_ul: ArrayLike, tension: ArrayLike, density: ArrayLike) -> float | np.ndarray:
    """Weight against surface tension for a drop, with the radius R0 of the free sphere of its volume as length.

    Parameters
    ----------
    volume_ul : array_like
        Drop volume [uL], above 0.
    tension, density : array_like
        Of the liquid [mN/m], [kg/m3], above 0.

    Returns
    -------
    float or numpy.ndarray
        Bond number [-].

    Raises
    ------
    ValueError
        For an input that is not above 0, or a single NaN.

    Source: `young_laplace`.

    >>> round(bond_number(5, 72.736, 998.207), 3)
    0.151
    """
    free_radius_mm = np.cbrt(3 * positive("drop volume", volume_ul, "uL") / (4 * np.pi))
    return plain((free_radius_mm / capillary_length_mm(tension, density)) ** 2)


@formula("h = 2·lc·sin(θ/2)", source="young_laplace", holds_when="puddle much wider than the capillary length")
def puddle_height_mm(angle_deg: ArrayLike, tension: ArrayLike, density: ArrayLike) -> float | np.ndarray:
    """Height that drops of this angle approach the larger they are.

    Parameters
    ----------
    angle_deg : array_like
        Contact angle [deg], above 0 up to 180.
    tension, density : array_like
        Of the liquid [mN/m], [kg/m3], above 0.

    Returns
    -------
    float or numpy.ndarray
        Height [mm].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `young_laplace`.

    >>> round(puddle_height_mm(90, 72.736, 998.207), 3)
    3.855
    """
    return plain(2 * capillary_length_mm(tension, density) * np.sin(contact_angle(angle_deg, above=0) / 2))


@formula(
    "V = (πR³/3)(2 + cos θ)(1 − cos θ)²,  a = R sin θ,  h = R(1 − cos θ)",
    source="cap_geometry",
    holds_when="drop small against the capillary length",
)
def cap_drop(volume_ul: ArrayLike, angle_deg: ArrayLike) -> DropShape:
    """Outline of a drop as a spherical cap, gravity neglected.

    Parameters
    ----------
    volume_ul : array_like
        Drop volume [uL], above 0.
    angle_deg : array_like
        Contact angle [deg], above 0 up to 180.

    Returns
    -------
    DropShape
        Base radius a, height h and R [mm]. Above 90° the drop is wider than its base, 2R: the base is what
        holds it. On a 150° surface the base of a 5 µL water drop is 23 % wider than the cap says: use
        `resting_drop` when tension and density are known.

    Raises
    ------
    ValueError
        For a volume not above 0, an angle outside (0, 180], or a single NaN.

    Source: `cap_geometry`.

    >>> round(cap_drop(10, 90).base_width_mm, 4)
    3.3678
    """
    volume, angle = positive("drop volume", volume_ul, "uL"), contact_angle(angle_deg, above=0)
    slope = np.tan(angle / 2)  # height over base radius: keeps its digits for the flattest drops
    base = np.cbrt(6 * volume / (np.pi * slope * (3 + slope**2)))
    return DropShape(plain(base), plain(base * slope), plain(base * (slope + 1 / slope) / 2))


@formula(
    "dφ/ds = 2/b + z/lc² − sin φ/x,  dx/ds = cos φ,  dz/ds = sin φ,  φ from 0 to θ",
    source="young_laplace",
    holds_when="level surface, drop at rest, round contact line",
    library="scipy.integrate.solve_ivp, scipy.optimize.elementwise",
)
def resting_drop(volume_ul: ArrayLike, angle_deg: ArrayLike, tension: ArrayLike, density: ArrayLike) -> DropShape:
    """Outline of a drop on a level surface, flattened by gravity.

    Parameters
    ----------
    volume_ul : array_like
        Drop volume [uL], above 0.
    angle_deg : array_like
        Contact angle [deg], above 0 up to 180.
    tension, density : array_like
        Of the liquid [mN/m], [kg/m3], above 0.

    Returns
    -------
    DropShape
        From the Young–Laplace equation, integrated from the top downwards until the outline is inclined by
        the contact angle; the radius b at the top is searched for until the volume agrees, for all drops
        together. A puddle wider than 150 capillary lengths is flat in its middle (radius at the top infinite): its
        base and height come from the balance of forces, to 3e-5.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `young_laplace`.

    >>> round(resting_drop(5, 110, 72.736, 998.207).height_mm, 3)
    1.505
    >>> resting_drop([5, 10], 150, 72.736, 998.207).base_radius_mm.round(3).tolist()
    [0.654, 0.885]
    """
    if all(np.ndim(item) == 0 for item in (volume_ul, angle_deg, tension, density)):
        return _single_drop(float(volume_ul), float(angle_deg), float(tension), float(density))
    return _resting_drops(volume_ul, angle_deg, tension, density)


@lru_cache(maxsize=512)  # the coupons of a batch ask for the same drop again and again
def _single_drop(volume_ul: float, angle_deg: float, tension: float, density: float) -> DropShape:
    return _resting_drops(volume_ul, angle_deg, tension, density)


def _resting_drops(volume_ul: ArrayLike, angle_deg: ArrayLike, tension: ArrayLike, density: ArrayLike) -> DropShape:
    volume, angle = positive("drop volume", volume_ul, "uL"), contact_angle(angle_deg, above=0)
    inputs = np.broadcast_arrays(volume, angle, np.asarray(capillary_length_mm(tension, density)))
    is_known = ~np.isnan(sum(inputs))
    found = np.full((3, *is_known.shape), np.nan)
    if is_known.any():
        found[:, is_known] = _outlines(*(item[is_known] for item in inputs))
    return DropShape(*(plain(item) for item in found))


def _outlines(volume: np.ndarray, angle: np.ndarray, length: np.ndarray) -> np.ndarray:
    """Base radius, height and radius at the top of drops in a row."""
    found = np.full((3, volume.size), np.inf)
    is_lake = outline.puddle_width(volume, angle, length) > outline.WIDEST
    drops, lakes = ([item[which] for item in (volume, angle, length)] for which in (~is_lake, is_lake))
    if drops[0].size:
        top_radius = outline.top_radius_of_volume(*drops)
        found[:, ~is_lake] = *outline.ends(top_radius, *drops[1:])[:2], top_radius
    if lakes[0].size:
        found[:2, is_lake] = outline.lake_of_volume(*lakes)
    return found
