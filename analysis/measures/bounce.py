"""Bouncing drops: restitution, contact time, Weber number and the time a drop needs to oscillate."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within

GRAVITY = 9.80665  # m/s2
LENGTHS = {"diameter": 1.0, "radius": 0.5}  # share of the diameter that the number is made with


@formula(
    "e = v(rebound)/v(impact)",
    source="dimensionless_numbers",
    holds_when="speeds of the centre of mass, across the surface, just before and after contact",
)
def restitution_from_speeds(impact_mm_per_s: ArrayLike, rebound_mm_per_s: ArrayLike) -> float | np.ndarray:
    """Restitution coefficient of a drop from its speeds before and after the contact.

    Parameters
    ----------
    impact_mm_per_s : array_like
        Speed of impact [mm/s], above 0.
    rebound_mm_per_s : array_like
        Speed of rebound [mm/s], at least 0; 0 for a drop that stays.

    Returns
    -------
    float or numpy.ndarray
        Coefficient [-]; NaN stays NaN. Above 1 cannot be: see Raises.

    Raises
    ------
    ValueError
        For values out of range, or a rebound faster than the impact.

    Source: `dimensionless_numbers`.

    >>> restitution_from_speeds(500, 400)
    0.8
    """
    impact = within("speed of impact", impact_mm_per_s, "mm/s", above=0)
    rebound = within("speed of rebound", rebound_mm_per_s, "mm/s", at_least=0)
    return _no_gain("speed", impact, rebound, rebound / impact)


@formula(
    "e = √(h(rebound)/h(fall))",
    source="dimensionless_numbers",
    holds_when="heights of the centre of mass above its place at contact; drag of the air left out",
)
def restitution_from_heights(fall_mm: ArrayLike, rebound_mm: ArrayLike) -> float | np.ndarray:
    """Restitution coefficient of a drop from the heights it falls from and rebounds to.

    Parameters
    ----------
    fall_mm : array_like
        Height of fall [mm], above 0.
    rebound_mm : array_like
        Height of rebound [mm], at least 0.

    Returns
    -------
    float or numpy.ndarray
        Coefficient [-]; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range, or a rebound higher than the fall.

    Source: `dimensionless_numbers`.

    >>> restitution_from_heights(50, 32)
    0.8
    """
    fall = within("height of fall", fall_mm, "mm", above=0)
    rebound = within("height of rebound", rebound_mm, "mm", at_least=0)
    return _no_gain("height", fall, rebound, np.sqrt(rebound / fall))


@formula(
    "v = √(2·g·h)",
    source="dimensionless_numbers",
    holds_when="free fall from rest, drag of the air left out (drops of mm size, falls of some cm)",
)
def impact_speed(fall_mm: ArrayLike) -> float | np.ndarray:
    """Speed that a drop reaches by falling freely.

    Parameters
    ----------
    fall_mm : array_like
        Height of fall [mm], at least 0.

    Returns
    -------
    float or numpy.ndarray
        Speed [mm/s]; NaN stays NaN.

    Raises
    ------
    ValueError
        For a height out of range.

    Source: `dimensionless_numbers`.

    >>> round(impact_speed(50), 1)
    990.3
    """
    fall = within("height of fall", fall_mm, "mm", at_least=0)
    return plain(np.sqrt(2 * 1000 * GRAVITY * fall))


@formula(
    "t = k/f, u(t) = 1/(f·√6)",
    source="gum",
    holds_when="k frames from first contact to leaving; each event falls anywhere within one frame",
)
def contact_time(frames: ArrayLike, frames_per_s: ArrayLike) -> tuple[float | np.ndarray, float | np.ndarray]:
    """Contact time of a bouncing drop by counting frames, with the uncertainty of counting.

    Parameters
    ----------
    frames : array_like
        Frames between first contact and leaving [-], above 0.
    frames_per_s : array_like
        Frame rate [1/s], above 0.

    Returns
    -------
    tuple
        Contact time and its standard uncertainty [ms]; both ends are known to one frame (rectangular), so that
        their difference is triangular. NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `gum`, 4.3.7 and 4.3.9.

    >>> time, u = contact_time(25, 2000)
    >>> time, round(u, 4)
    (12.5, 0.2041)
    """
    count = within("frames of contact", frames, above=0)
    rate = within("frame rate", frames_per_s, "1/s", above=0)
    count, rate = np.broadcast_arrays(count, rate)
    return plain(1000 * count / rate), plain(1000 / rate / np.sqrt(6))


@formula(
    "We = ρ·v²·L/γ, L the diameter or the radius of the drop",
    source="dimensionless_numbers",
    holds_when="the length is stated: with the radius the number is half as large",
)
def weber_number(
    density: ArrayLike, speed_mm_per_s: ArrayLike, diameter_mm: ArrayLike, tension: ArrayLike, *, length: str
) -> float | np.ndarray:
    """Inertia against surface tension of an impacting drop.

    Parameters
    ----------
    density : array_like
        Of the liquid [kg/m3], above 0.
    speed_mm_per_s : array_like
        Speed of impact [mm/s], at least 0.
    diameter_mm : array_like
        Diameter of the drop [mm], above 0, also when the radius is chosen as length.
    tension : array_like
        Surface tension [mN/m], above 0.
    length : str
        "diameter" or "radius": which of the two the number is made with.

    Returns
    -------
    float or numpy.ndarray
        Weber number [-]; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range or another length.

    Source: `dimensionless_numbers`.

    >>> round(weber_number(1000, 1000, 2, 72, length="diameter"), 3)
    27.778
    """
    if length not in LENGTHS:
        raise ValueError(f"length is {' or '.join(LENGTHS)}, not {length!r}")
    rho = within("density", density, "kg/m3", above=0)
    speed = within("speed of impact", speed_mm_per_s, "mm/s", at_least=0)
    size = within("diameter of the drop", diameter_mm, "mm", above=0) * LENGTHS[length]
    return plain(1e-6 * rho * speed**2 * size / within("surface tension", tension, "mN/m", above=0))


@formula(
    "τ = √(ρ·R³/γ)",
    source="richard_2002",
    holds_when="R the radius of the drop; a drop that bounces without sticking stays in contact for about 2.6 τ",
)
def inertia_capillary_time(density: ArrayLike, diameter_mm: ArrayLike, tension: ArrayLike) -> float | np.ndarray:
    """Time in which surface tension moves the mass of a drop: what contact times are compared with.

    Parameters
    ----------
    density : array_like
        Of the liquid [kg/m3], above 0.
    diameter_mm : array_like
        Diameter of the drop [mm], above 0; the formula takes its half.
    tension : array_like
        Surface tension [mN/m], above 0.

    Returns
    -------
    float or numpy.ndarray
        Time [ms]; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `richard_2002`.

    >>> round(inertia_capillary_time(1000, 2, 72), 3)
    3.727
    """
    rho = within("density", density, "kg/m3", above=0)
    radius = within("diameter of the drop", diameter_mm, "mm", above=0) / 2
    # kg/m3·mm3/(mN/m) = 1e-6 s2
    return plain(np.sqrt(rho * radius**3 / within("surface tension", tension, "mN/m", above=0)))


def _no_gain(what: str, before: np.ndarray, after: np.ndarray, result: np.ndarray) -> float | np.ndarray:
    before, after = np.broadcast_arrays(before, after)
    gained = after > before
    if gained.any():
        pair = after[gained].flat[0], before[gained].flat[0]
        raise ValueError("{} of rebound {:g} is above that before, {:g}".format(what, *pair))
    return plain(result)
