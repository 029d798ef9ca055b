"""Angle and volume of a drop from the lengths of its picture: spherical cap, and with gravity.

Numbers or arrays that broadcast. NaN in an array stays NaN in its place; a single NaN is refused.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting import outline
from analysis.wetting.capillary import capillary_length_mm
from analysis.wetting.inputs import number, positive

_SLACK = 1e-6  # relative: by so much a height may exceed that of a drop at 180°


@dataclass(frozen=True, slots=True)
class MeasuredDrop:
    """What base and height of a drop say of it when its weight is allowed for."""

    angle_deg: float | np.ndarray
    volume_ul: float | np.ndarray
    top_radius_mm: float | np.ndarray
    cap_fit_angle_deg: float | np.ndarray  # what a circle through the same base and height would report

    @property
    def cap_fit_error_deg(self) -> float | np.ndarray:
        """Cap-fit angle less the angle itself [deg]: negative, since gravity flattens the drop."""
        return self.cap_fit_angle_deg - self.angle_deg


@formula("θ = 2·atan(h/a)", source="cap_geometry", holds_when="drop small against the capillary length")
def cap_angle_deg(base_radius_mm: ArrayLike, height_mm: ArrayLike) -> float | np.ndarray:
    """Contact angle of a spherical cap from its base and height.

    Parameters
    ----------
    base_radius_mm : array_like
        Radius of the contact circle [mm], 0 or more: not the widest radius of the drop.
    height_mm : array_like
        Height of the drop [mm], above 0.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg]; 180 for a base of 0.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `cap_geometry`.

    >>> round(cap_angle_deg(1.0988, 1.5693), 2)
    110.0
    """
    height = positive("height", height_mm, "mm")
    return plain(np.degrees(2 * np.arctan2(height, _base(base_radius_mm))))


@formula("V = πh(3a² + h²)/6", source="cap_geometry", holds_when="drop small against the capillary length")
def cap_volume_ul(base_radius_mm: ArrayLike, height_mm: ArrayLike) -> float | np.ndarray:
    """Volume of a spherical cap from its base and height.

    Parameters
    ----------
    base_radius_mm, height_mm : array_like
        As in `cap_angle_deg` [mm].

    Returns
    -------
    float or numpy.ndarray
        Volume [uL].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `cap_geometry`.

    >>> round(cap_volume_ul(1.3365, 1.3365), 3)
    5.0
    """
    height = positive("height", height_mm, "mm")
    return plain(np.pi * height * (3 * _base(base_radius_mm) ** 2 + height**2) / 6)


@formula(
    "t³ + 3t = 6V/(πa³),  θ = 2·atan t", source="cap_geometry", holds_when="drop small against the capillary length"
)
def cap_angle_of_volume_deg(volume_ul: ArrayLike, base_radius_mm: ArrayLike) -> float | np.ndarray:
    """Contact angle of a spherical cap from its volume and base.

    Parameters
    ----------
    volume_ul : array_like
        Drop volume [uL], above 0.
    base_radius_mm : array_like
        Radius of the contact circle [mm], above 0.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `cap_geometry`; the cubic in t = h/a has one real root, 2·sinh(asinh(3V/πa³)/3).

    >>> round(cap_angle_of_volume_deg(5, 1.0988), 1)
    110.0
    """
    volume = positive("drop volume", volume_ul, "uL")
    base = positive("base radius", base_radius_mm, "mm")
    slope = 2 * np.sinh(np.arcsinh(3 * volume / (np.pi * base**3)) / 3)
    return plain(np.degrees(2 * np.arctan(slope)))


@formula(
    "dφ/ds = 2/b + z/lc² − sin φ/x,  dx/ds = cos φ,  dz/ds = sin φ,  so that x = a and z = h at φ = θ",
    source="young_laplace",
    holds_when="level surface, drop at rest, round contact line",
    library="scipy.integrate.solve_ivp, scipy.optimize.elementwise",
)
def measured_drop(
    base_radius_mm: ArrayLike, height_mm: ArrayLike, tension: ArrayLike, density: ArrayLike
) -> MeasuredDrop:
    """Angle and volume of a drop from its measured base and height, its weight allowed for.

    Parameters
    ----------
    base_radius_mm : array_like
        Radius of the contact circle [mm], above 0, up to 150 capillary lengths.
    height_mm : array_like
        Height [mm], above 0.
    tension, density : array_like
        Of the liquid [mN/m], [kg/m3], above 0.

    Returns
    -------
    MeasuredDrop
        The angle at which a drop of this base reaches this height. Near 180° and on puddles the height hardly
        depends on the angle, and small errors of reading weigh heavily.

    Raises
    ------
    ValueError
        Out of range; a height above that of a drop of this base at 180°, which no angle gives; a single NaN.

    Source: `young_laplace`.

    >>> found = measured_drop(0.6535, 1.8495, 72.736, 998.207)
    >>> round(found.angle_deg, 1), round(found.volume_ul, 2), round(found.cap_fit_angle_deg, 1)
    (150.0, 5.0, 141.1)
    """
    base, height = positive("base radius", base_radius_mm, "mm"), positive("height", height_mm, "mm")
    inputs = np.broadcast_arrays(base, height, np.asarray(capillary_length_mm(tension, density)))
    is_known = ~np.isnan(sum(inputs))
    drops = [item[is_known] for item in inputs]
    if np.any(drops[0] > outline.WIDEST * drops[2]):
        raise ValueError(f"the base of a drop must be at most {outline.WIDEST:g} capillary lengths in radius")
    found = np.full((3, *is_known.shape), np.nan)
    if is_known.any():
        found[:, is_known] = _with_gravity(*drops)
    return MeasuredDrop(*(plain(item) for item in found), cap_angle_deg(base, height))


def _with_gravity(base: np.ndarray, height: np.ndarray, length: np.ndarray) -> tuple[np.ndarray, ...]:
    from scipy.optimize.elementwise import find_root

    def excess(angle, base, height, length):
        """Logarithm of the height at this angle over the measured one: grows with the angle."""
        shape = np.shape(angle)
        angle, base, height, length = (np.broadcast_to(x, shape).ravel() for x in (angle, base, height, length))
        top_radius = outline.top_radius_of_base(base, angle, length)
        return np.log(outline.ends(top_radius, angle, length)[1] / height).reshape(shape)

    drops = (base, height, length)
    most = np.full(base.shape, np.pi)
    short = excess(most, *drops)
    if np.any(short < -_SLACK):
        worst = np.argmin(short)
        raise ValueError(
            f"height must be at most {height[worst] * np.exp(short[worst]):.4g} mm on a base radius of "
            f"{base[worst]:g} mm, that of a drop of this liquid at 180 deg, not {height[worst]:g} mm"
        )
    least = 2 * np.arctan2(height, base) * (1 - 1e-6)  # a cap fit reads too low
    angle = np.full(base.shape, np.pi)
    inside = short > _SLACK
    if inside.any():
        part = tuple(item[inside] for item in drops)
        close = {"xatol": 1e-9, "xrtol": 0, "fatol": 1e-9, "frtol": 0}
        found = find_root(excess, (least[inside], most[inside]), args=part, tolerances=close)
        if not found.success.all():
            raise ArithmeticError("no outline was found for a drop; its inputs may lie beyond what can be computed")
        angle[inside] = found.x
    top_radius = outline.top_radius_of_base(base, angle, length)
    return np.degrees(angle), outline.ends(top_radius, angle, length)[2], top_radius


def _base(base_radius_mm: ArrayLike) -> np.ndarray:
    return number("base radius", base_radius_mm, "mm", at_least=0)
