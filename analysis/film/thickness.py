"""Thickness of a lubricant film as it is made and as it drains: drawn from a bath, spun, hung up.

Every result says in `outside` which limits of its formula are not kept. All of it is for smooth solids: what a
texture holds by capillarity stays below these films.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import Numbers, number, said_where
from analysis.formula import formula
from analysis.ranges import plain

GRAVITY = 9.80665  # m/s², standard gravity
LANDAU_LEVICH = 0.9458  # from integrating the film equation; other texts print 0.94 or 0.944
CAPILLARY_LIMIT = 1e-2
THIN = 0.1  # "small against" is taken as a tenth
LATE = 50.0  # from here on the late-time formula of spinning is within 1 %
_UNCHECKED = "without the starting thickness nobody knows whether it is late enough"


@dataclass(frozen=True, slots=True)
class WithdrawalFilm:
    """Film on a plate drawn from a bath."""

    thickness_um: Numbers
    capillary_number: Numbers
    capillary_length_mm: Numbers
    outside: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SpunFilm:
    """Film on a spinning disk."""

    thickness_um: Numbers
    late_time_um: Numbers  # what the formula without starting thickness says: always too thick
    outside: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrainingFilm:
    """Film that runs down a tilted plate: at one distance from its upper edge, and on average above it."""

    thickness_um: Numbers
    mean_um: Numbers
    outside: tuple[str, ...]


@formula(
    "h = 0.9458·lc·Ca^(2/3), Ca = μU/γ, lc = √(γ/(ρg))",
    source="landau_levich_1942 snoeijer_2008",
    holds_when="Ca below 0.01, h far below lc, pure liquid that wets the plate fully, vertical smooth plate",
)
def withdrawal_film(
    *,
    viscosity: Numbers,
    speed_mm_s: Numbers,
    tension: Numbers,
    density: Numbers,
    contact_angle_deg: Numbers = 0.0,
    texture_height_um: Numbers = 0.0,
) -> WithdrawalFilm:
    """Film that a plate takes along when it is drawn upwards from a bath of lubricant.

    Parameters
    ----------
    viscosity : float or array
        Dynamic viscosity of the lubricant [mPa s], above 0.
    speed_mm_s : float or array
        Speed of the plate [mm/s], above 0.
    tension, density : float or array
        Of the lubricant against air [mN/m], above 0, and [kg/m3], above 0.
    contact_angle_deg : float or array
        Angle of the lubricant on the plate [deg], 0 to 180: above 0 another, thicker film is possible.
    texture_height_um : float or array
        Height of the texture [um], 0 for a smooth plate: a thinner film is ruled by the texture.

    Returns
    -------
    WithdrawalFilm
        Thickness [um], capillary number [-], capillary length [mm].

    Raises
    ------
    ValueError
        For an input out of range or a single NaN; NaN in an array stays NaN in its place.

    Source: `landau_levich_1942`.

    >>> found = withdrawal_film(viscosity=9.3, speed_mm_s=1.0, tension=20.1, density=930.0)
    >>> round(found.thickness_um, 2), found.outside
    (8.4, ())
    """
    mu = number("viscosity", viscosity, unit="mPa·s", above=0)
    speed = number("speed", speed_mm_s, unit="mm/s", above=0)
    gamma = number("tension", tension, unit="mN/m", above=0)
    rho = number("density", density, unit="kg/m³", above=0)
    angle = number("contact angle", contact_angle_deg, unit="°", at_least=0, at_most=180)
    texture = number("height of the texture", texture_height_um, unit="µm", at_least=0)
    capillary = 1e-3 * mu * speed / gamma
    length_mm = 1e3 * np.sqrt(1e-3 * gamma / (rho * GRAVITY))
    thickness = 1e3 * LANDAU_LEVICH * length_mm * capillary ** (2 / 3)
    outside = (
        *said_where(capillary >= CAPILLARY_LIMIT, "capillary number 0.01 or more: gravity thins the film, h is less"),
        *said_where(thickness > THIN * 1e3 * length_mm, "not thin against the capillary length"),
        *said_where(angle > 0, "not fully wetting: a second, thicker film that grows with √U, or none, is possible"),
        *said_where(thickness < texture, "thinner than the texture is high: the texture decides what stays"),
    )
    return WithdrawalFilm(plain(thickness), plain(capillary), plain(length_mm), outside)


@formula(
    "h = h0/√(1 + 4ρω²h0²t/(3μ))",
    source="emslie_1958",
    holds_when="Newtonian, not evaporating, uniform at the start, no capillarity, slow thin flow",
)
def spun_film(
    *, start_um: Numbers, density: Numbers, viscosity: Numbers, speed_rpm: Numbers, time_s: Numbers
) -> SpunFilm:
    """Film of lubricant left on a spinning disk.

    Parameters
    ----------
    start_um : float or array
        Thickness at the start, the same everywhere [um], above 0.
    density, viscosity : float or array
        Of the lubricant [kg/m3], above 0, and [mPa s], above 0.
    speed_rpm : float or array
        Speed of rotation [1/min], 0 or more.
    time_s : float or array
        Time of spinning [s], 0 or more.

    Returns
    -------
    SpunFilm
        Thickness [um], and what the late-time formula would say, infinite at time 0.

    Raises
    ------
    ValueError
        For an input out of range or a single NaN; NaN in an array stays NaN in its place.

    Source: `emslie_1958`.

    >>> found = spun_film(start_um=100, density=960, viscosity=100, speed_rpm=1000, time_s=60)
    >>> round(found.thickness_um, 4), round(found.late_time_um, 4)
    (10.8325, 10.8966)
    """
    start = number("thickness at the start", start_um, unit="µm", above=0)
    rho, mu, omega, time = _spin(density, viscosity, speed_rpm, time_s)
    progress = 4 * rho * (omega * start * 1e-6) ** 2 * time / (3 * mu)
    reynolds = rho * omega * (start * 1e-6) ** 2 / mu
    outside = said_where(reynolds > THIN, "inertia counts: ρωh0²/μ is above 0.1, the film is too thick or too fast")
    return SpunFilm(plain(start / np.sqrt(1 + progress)), plain(_late(rho, mu, omega, time) + 0 * start), outside)


@formula(
    "h = √(3μ/(4ρω²t))",
    source="emslie_1958",
    holds_when="4ρω²h0²t/(3μ) far above 1; used early it is too thick",
)
def late_spun_film(
    *,
    density: Numbers,
    viscosity: Numbers,
    speed_rpm: Numbers,
    time_s: Numbers,
    start_um: Numbers | None = None,
) -> SpunFilm:
    """Film on a spinning disk after so long that its starting thickness is forgotten.

    Parameters
    ----------
    density, viscosity, speed_rpm, time_s : float or array
        As in `spun_film`, speed and time above 0.
    start_um : float or array
        Thickness at the start [um], above 0; with it the formula's limit is checked.

    Returns
    -------
    SpunFilm
        Thickness [um]; `outside` says where it is used too early, more than 1 % too thick, or that this
        cannot be checked.

    Raises
    ------
    ValueError
        As in `spun_film`.

    Source: `emslie_1958`.

    >>> found = late_spun_film(density=960, viscosity=100, speed_rpm=1000, time_s=0.1, start_um=100)
    >>> round(found.thickness_um), found.outside
    (267, ('used too early: more than 1 % too thick',))
    """
    rho, mu, omega, time = _spin(density, viscosity, speed_rpm, time_s)
    number("speed of rotation", speed_rpm, unit="1/min", above=0)
    number("time", time_s, unit="s", above=0)
    thickness = plain(_late(rho, mu, omega, time))
    if start_um is None:
        return SpunFilm(thickness, thickness, (_UNCHECKED,))
    start = number("thickness at the start", start_um, unit="µm", above=0)
    progress = 4 * rho * (omega * start * 1e-6) ** 2 * time / (3 * mu)
    outside = said_where(progress < LATE, "used too early: more than 1 % too thick")
    thickness = plain(thickness + 0 * start)
    return SpunFilm(thickness, thickness, outside)


@formula(
    "h = √(μz/(ρ g sin β·t)), mean from the edge to z = (2/3)h",
    source="jeffreys_1930",
    holds_when="long times, smooth plate, nothing held by a texture, no capillarity at the edges",
)
def draining_film(
    *,
    viscosity: Numbers,
    density: Numbers,
    distance_mm: Numbers,
    time_s: Numbers,
    tilt_deg: Numbers = 90.0,
    start_um: Numbers | None = None,
) -> DrainingFilm:
    """Film of lubricant that runs down a hanging or tilted plate.

    Parameters
    ----------
    viscosity, density : float or array
        Of the lubricant [mPa s], above 0, and [kg/m3], above 0.
    distance_mm : float or array
        Distance below the upper edge of the plate [mm], 0 or more.
    time_s : float or array
        Time since it was hung up [s], above 0.
    tilt_deg : float or array
        Tilt of the plate against the horizontal [deg], above 0 to 90 (hanging).
    start_um : float or array
        Thickness at the start [um], above 0; with it the formula's limit is checked.

    Returns
    -------
    DrainingFilm
        Thickness at that distance and mean from the upper edge to it [um]; `outside` says where the film would
        still have its starting thickness.

    Raises
    ------
    ValueError
        For an input out of range or a single NaN; NaN in an array stays NaN in its place.

    Source: `jeffreys_1930`.

    >>> round(draining_film(viscosity=100, density=960, distance_mm=50, time_s=3600).thickness_um, 3)
    12.146
    """
    mu = 1e-3 * number("viscosity", viscosity, unit="mPa·s", above=0)
    rho = number("density", density, unit="kg/m³", above=0)
    z = 1e-3 * number("distance", distance_mm, unit="mm", at_least=0)
    time = number("time", time_s, unit="s", above=0)
    tilt = number("tilt", tilt_deg, unit="°", above=0, at_most=90)
    thickness = 1e6 * np.sqrt(mu * z / (rho * GRAVITY * np.sin(np.radians(tilt)) * time))
    if start_um is None:
        outside = (_UNCHECKED,)
    else:
        start = number("thickness at the start", start_um, unit="µm", above=0)
        outside = said_where(thickness > start, "too early: the film still has its starting thickness here")
    outside += said_where(thickness > THIN * 1e6 * z, "not thin against the distance from the edge")
    return DrainingFilm(plain(thickness), plain(2 / 3 * thickness), outside)


def _spin(density, viscosity, speed_rpm, time_s):
    return (
        number("density", density, unit="kg/m³", above=0),
        1e-3 * number("viscosity", viscosity, unit="mPa·s", above=0),
        2 * np.pi / 60 * number("speed of rotation", speed_rpm, unit="1/min", at_least=0),
        number("time", time_s, unit="s", at_least=0),
    )


def _late(rho, mu, omega, time):
    with np.errstate(divide="ignore"):  # before anything has flown off the formula has no value: infinite
        return 1e6 * np.sqrt(3 * mu / (4 * rho * omega**2 * time))
