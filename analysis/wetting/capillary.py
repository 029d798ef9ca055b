"""The shape of a resting drop: spherical cap, and what gravity makes of it.

Volumes are in µL, which is mm³; lengths in mm; tension in mN/m; density in kg/m³.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

GRAVITY = 9.80665  # m/s², standard gravity


@dataclass(frozen=True, slots=True)
class DropShape:
    """Outline of a resting drop: radius of its contact circle, height, radius at the top [mm]."""

    base_radius_mm: float
    height_mm: float
    top_radius_mm: float

    @property
    def base_width_mm(self) -> float:
        """Width of the contact line, the length that the retention relation needs [mm]."""
        return 2 * self.base_radius_mm

    @property
    def cap_fit_angle_deg(self) -> float:
        """The angle that a fit of a circle through base and height reports: 2·atan(h/a) [deg]."""
        return math.degrees(2 * math.atan2(self.height_mm, self.base_radius_mm))


def capillary_length_mm(tension: float, density: float) -> float:
    """Length above which gravity flattens a drop: √(γ/ρg).

    Parameters
    ----------
    tension : float
        Surface tension [mN/m], above 0.
    density : float
        Density of the liquid [kg/m3], above 0; the air around it is neglected.

    Returns
    -------
    float
        Capillary length [mm].

    Raises
    ------
    ValueError
        For an input that is not above 0, NaN included.

    Source: `young_laplace`.

    >>> round(capillary_length_mm(72.736, 998.207), 4)
    2.7259
    """
    _positive(tension=tension, density=density)
    return 1e3 * math.sqrt(tension * 1e-3 / (density * GRAVITY))


def bond_number(volume_ul: float, tension: float, density: float) -> float:
    """Weight against surface tension for a drop: (R0/lc)², R0 the radius of the free sphere of that volume
    [-].

    Other texts take the base radius or the height instead of R0: values are comparable only with the same
    length.

    Source: `young_laplace`.

    >>> round(bond_number(5, 72.736, 998.207), 3)
    0.151
    """
    _positive(volume_ul=volume_ul)
    free_radius_mm = (3 * volume_ul / (4 * math.pi)) ** (1 / 3)
    return (free_radius_mm / capillary_length_mm(tension, density)) ** 2


def puddle_height_mm(angle_deg: float, tension: float, density: float) -> float:
    """Height that no drop of this angle exceeds, however large: 2·lc·sin(θ/2) [mm].

    Source: `young_laplace`.

    >>> round(puddle_height_mm(90, 72.736, 998.207), 3)
    3.855
    """
    _angle(angle_deg)
    return 2 * capillary_length_mm(tension, density) * math.sin(math.radians(angle_deg) / 2)


def cap_drop(volume_ul: float, angle_deg: float) -> DropShape:
    """Outline of a drop as a spherical cap, gravity neglected.

    Parameters
    ----------
    volume_ul : float
        Drop volume [uL], above 0.
    angle_deg : float
        Contact angle [deg], above 0 up to 180.

    Returns
    -------
    DropShape
        Base radius R·sin θ, height R·(1 − cos θ) and R [mm]. Above 90° the drop is wider than its base: the
        base is what holds it. On a 150° surface the base of a 5 µL water drop is 19 % wider than the cap
        says: use `resting_drop` when tension and density are known.

    Raises
    ------
    ValueError
        For a volume not above 0, an angle outside (0, 180], or NaN.

    Source: `cap_geometry`.

    >>> round(cap_drop(10, 90).base_width_mm, 4)
    3.3678
    """
    _positive(volume_ul=volume_ul)
    _angle(angle_deg)
    cosine = math.cos(math.radians(angle_deg))
    radius = (3 * volume_ul / (math.pi * (2 + cosine) * (1 - cosine) ** 2)) ** (1 / 3)
    return DropShape(radius * math.sin(math.radians(angle_deg)), radius * (1 - cosine), radius)


@lru_cache(maxsize=512)  # the coupons of a batch ask for the same drop again and again
def resting_drop(volume_ul: float, angle_deg: float, tension: float, density: float) -> DropShape:
    """Outline of a drop on a level surface, flattened by gravity.

    Parameters
    ----------
    volume_ul : float
        Drop volume [uL], above 0.
    angle_deg : float
        Contact angle [deg], above 0 up to 180.
    tension, density : float
        Of the liquid [mN/m], [kg/m3].

    Returns
    -------
    DropShape
        From the Young–Laplace equation, integrated from the top downwards until the outline is inclined by
        the contact angle; the radius at the top is searched for until the volume agrees.

    Raises
    ------
    ValueError
        As in `cap_drop`.

    Source: `young_laplace`.

    >>> round(resting_drop(5, 110, 72.736, 998.207).height_mm, 3)
    1.505
    """
    from scipy.optimize import brentq

    cap = cap_drop(volume_ul, angle_deg)
    length = capillary_length_mm(tension, density)

    def excess(top_radius: float) -> float:
        return _outline(top_radius, angle_deg, length)[2] - volume_ul

    upper = cap.top_radius_mm
    while excess(upper) < 0:  # a flattened drop is less curved at the top than the cap
        upper *= 1.5
    top_radius = brentq(excess, 0.5 * cap.top_radius_mm, upper, xtol=1e-9, rtol=1e-9)
    base, height, _ = _outline(top_radius, angle_deg, length)
    return DropShape(base, height, top_radius)


def _outline(top_radius: float, angle_deg: float, length: float) -> tuple[float, float, float]:
    """Base radius, height and volume of the outline that starts with a radius of curvature at the top."""
    from scipy.integrate import solve_ivp

    def slopes(inclination, state):
        x, z, _ = state
        sine = math.sin(inclination)
        around = sine / x if x > 0 else 1 / top_radius
        curvature = 2 / top_radius + z / length**2 - around
        across, down = math.cos(inclination) / curvature, sine / curvature
        return across, down, math.pi * x * x * down

    result = solve_ivp(slopes, (0, math.radians(angle_deg)), (0, 0, 0), rtol=1e-8, atol=1e-10)
    return tuple(float(last) for last in result.y[:, -1])


def _positive(**inputs: float) -> None:
    for name, value in inputs.items():
        if not (value > 0 and math.isfinite(value)):
            raise ValueError(f"{name} must be above 0, not {value}")


def _angle(angle_deg: float) -> None:
    if not 0 < angle_deg <= 180:
        raise ValueError(f"a contact angle lies above 0 and up to 180 degrees, not {angle_deg}")
