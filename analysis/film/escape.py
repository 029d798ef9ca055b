"""How lubricant leaves a texture that held it: dragged off by a flow, evaporated. And what capillarity holds.

Every result says in `outside` which limits of its formula are not kept.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import Numbers, number, said_where
from analysis.film.thickness import GRAVITY, THIN
from analysis.formula import formula
from analysis.ranges import plain

GAS_CONSTANT = 8.314462618  # J/(mol K), exact since 2019
WIDE_GROOVE = (1 / 3, 1 / 2)  # pressure and shear constant cp, cs of a groove far wider than deep
_VACUUM = "an upper bound, reached in vacuum only: still air is slower by orders of magnitude"
_SIDE = 5.0  # a groove counts as wide from five times its depth


@dataclass(frozen=True, slots=True)
class ShearLength:
    """Length of groove that keeps its lubricant under a flow."""

    length_mm: Numbers
    outside: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Evaporation:
    """Evaporation of a film: flux and loss of thickness."""

    flux_kg_m2_s: Numbers
    rate_nm_s: Numbers
    outside: tuple[str, ...]

    @property
    def rate_um_h(self) -> Numbers:
        """Loss of thickness [um/h]."""
        return 3.6 * self.rate_nm_s


@dataclass(frozen=True, slots=True)
class CapillaryHold:
    """What a pore can hold against gravity, and against pressure."""

    height_mm: Numbers
    pressure_pa: Numbers
    outside: tuple[str, ...]


@formula(
    "L = (cp/cs)·γh/(r_min τ)",
    source="wexler_2015",
    holds_when="steady flow, groove along the flow, closed at its sides, open to lubricant at its lower end only",
)
def shear_length(
    *,
    interfacial_tension: Numbers,
    depth_um: Numbers,
    meniscus_radius_um: Numbers,
    shear_stress_pa: Numbers,
    width_um: Numbers | None = None,
    pressure_constant: Numbers = WIDE_GROOVE[0],
    shear_constant: Numbers = WIDE_GROOVE[1],
) -> ShearLength:
    """Length of a groove that keeps its lubricant under the shear of a flow; the rest is dragged out.

    Parameters
    ----------
    interfacial_tension : float or array
        Between lubricant and flowing liquid [mN/m], 0 or more.
    depth_um : float or array
        Depth of the lubricant in the groove [um], above 0.
    meniscus_radius_um : float or array
        Least radius of the meniscus at the upper end of the groove [um], above 0.
    shear_stress_pa : float or array
        Shear stress of the flow on the surface [Pa], above 0.
    width_um : float or array
        Width of the groove [um], above 0; with it the limits are checked.
    pressure_constant, shear_constant : float or array
        Constants of the groove's cross-section [-], above 0: 1/3 and 1/2 where it is far wider than deep.

    Returns
    -------
    ShearLength
        Length [mm].

    Raises
    ------
    ValueError
        For an input out of range or a single NaN; NaN in an array stays NaN in its place.

    Source: `wexler_2015`.

    >>> found = shear_length(interfacial_tension=45, depth_um=10, meniscus_radius_um=5, shear_stress_pa=5)
    >>> round(found.length_mm, 6)
    12.0
    """
    gamma = number("interfacial tension", interfacial_tension, unit="mN/m", at_least=0)
    depth = number("depth", depth_um, unit="µm", above=0)
    radius = number("radius of the meniscus", meniscus_radius_um, unit="µm", above=0)
    stress = number("shear stress", shear_stress_pa, unit="Pa", above=0)
    ratio = number("pressure constant", pressure_constant, above=0) / number("shear constant", shear_constant, above=0)
    outside = ("without the width nobody knows whether the groove is wide and the radius possible",)
    if width_um is not None:
        width = number("width", width_um, unit="µm", above=0)
        outside = (
            *said_where(width < _SIDE * depth, "not far wider than deep: 1/3 and 1/2 do not hold, the walls slow both"),
            *said_where(radius < width / 2, "a meniscus in this groove cannot be curved more than half its width"),
        )
    return ShearLength(plain(ratio * gamma * depth / (radius * stress)), outside)


@formula(
    "J = αp√(M/(2πRT)), dh/dt = J/ρ",
    source="hertz_knudsen",
    holds_when="into vacuum: nothing returns; an upper bound anywhere else",
)
def greatest_evaporation(
    *,
    vapour_pressure_pa: Numbers,
    molar_mass_g_mol: Numbers,
    density: Numbers,
    temperature_c: Numbers = 25.0,
    accommodation: Numbers = 1.0,
) -> Evaporation:
    """Fastest possible evaporation of a lubricant, into vacuum.

    Parameters
    ----------
    vapour_pressure_pa : float or array
        At the temperature of the film [Pa], 0 or more.
    molar_mass_g_mol : float or array
        Of the vapour [g/mol], above 0.
    density : float or array
        Of the lubricant [kg/m3], above 0.
    temperature_c : float or array
        Of the film [degC], above −273.15.
    accommodation : float or array
        Share of the molecules that come through the surface [-], above 0 to 1.

    Returns
    -------
    Evaporation
        Flux [kg/(m2 s)] and loss of thickness [nm/s], with the note that it is an upper bound.

    Raises
    ------
    ValueError
        For an input out of range or a single NaN; NaN in an array stays NaN in its place.

    Source: `hertz_knudsen`.

    >>> found = greatest_evaporation(vapour_pressure_pa=1e-5, molar_mass_g_mol=2000, density=1900)
    >>> round(found.rate_nm_s, 5)
    0.05964
    """
    pressure, molar, rho, kelvin = _vapour(vapour_pressure_pa, molar_mass_g_mol, density, temperature_c)
    share = number("accommodation", accommodation, above=0, at_most=1)
    flux = share * pressure * np.sqrt(molar / (2 * np.pi * GAS_CONSTANT * kelvin))
    return Evaporation(plain(flux), plain(1e9 * flux / rho), (_VACUUM,))


@formula(
    "J = (DMP/(RTδ))·ln((P − p∞)/(P − p))",
    source="stefan_diffusion",
    holds_when="still gas layer of known thickness, p below the pressure of the gas, isothermal film",
)
def still_air_evaporation(
    *,
    vapour_pressure_pa: Numbers,
    molar_mass_g_mol: Numbers,
    density: Numbers,
    diffusivity_mm2_s: Numbers,
    layer_mm: Numbers,
    temperature_c: Numbers = 25.0,
    room_vapour_pa: Numbers = 0.0,
    pressure_pa: Numbers = 101_325.0,
) -> Evaporation:
    """Evaporation of a lubricant through a layer of still air.

    Parameters
    ----------
    vapour_pressure_pa, molar_mass_g_mol, density, temperature_c : float or array
        As in `greatest_evaporation`.
    diffusivity_mm2_s : float or array
        Of the vapour in air [mm2/s], above 0.
    layer_mm : float or array
        Thickness of the still layer [mm], above 0: millimetres in a draught, centimetres in a closed box.
    room_vapour_pa : float or array
        Pressure of the same vapour in the room [Pa], 0 or more.
    pressure_pa : float or array
        Of the air [Pa], above 0.

    Returns
    -------
    Evaporation
        Flux [kg/(m2 s)], below 0 where vapour condenses, and loss of thickness [nm/s]. `outside` says where it
        would exceed the flux into vacuum (or out of it), so that the layer is too thin to be the limit.

    Raises
    ------
    ValueError
        For an input out of range or a single NaN; NaN in an array stays NaN in its place. For a vapour
        pressure from the pressure of the air on: the liquid boils. For as much vapour in the room: no air is left.

    Source: `stefan_diffusion`.

    >>> found = still_air_evaporation(vapour_pressure_pa=0.19, molar_mass_g_mol=226.44, density=770,
    ...     diffusivity_mm2_s=4.0, layer_mm=5.0)
    >>> round(found.rate_nm_s, 5)
    0.01803
    """
    vapour, molar, rho, kelvin = _vapour(vapour_pressure_pa, molar_mass_g_mol, density, temperature_c)
    room = number("vapour pressure in the room", room_vapour_pa, unit="Pa", at_least=0)
    total = number("pressure", pressure_pa, unit="Pa", above=0)
    _require_below("vapour pressure", vapour, total, "the liquid boils")
    _require_below("vapour pressure in the room", room, total, "no air is left")
    diffusivity = number("diffusivity", diffusivity_mm2_s, unit="mm²/s", above=0)
    slowness = number("layer", layer_mm, unit="mm", above=0) / diffusivity
    drive = np.log1p((vapour - room) / (total - vapour))  # ln((P − p∞)/(P − p)) without loss of digits
    flux = 1e-3 * molar * total / (GAS_CONSTANT * kelvin * slowness) * drive
    bound = np.maximum(vapour, room) * np.sqrt(molar / (2 * np.pi * GAS_CONSTANT * kelvin))
    outside = said_where(np.abs(flux) > bound, "faster than into vacuum: the layer is too thin to be what limits it")
    return Evaporation(plain(flux), plain(1e9 * flux / rho), outside)


@formula(
    "H = 2γ cos θ/(ρgr), p = 2γ cos θ/r",
    source="jurin",
    holds_when="round pore, r far below the capillary length, liquid that wets the wall",
)
def capillary_hold(
    *, tension: Numbers, pore_radius_um: Numbers, density: Numbers, contact_angle_deg: Numbers = 0.0
) -> CapillaryHold:
    """Height of lubricant that a pore holds against gravity, and the pressure that pushes it out.

    Parameters
    ----------
    tension : float or array
        Of the lubricant against what is around it [mN/m], 0 or more.
    pore_radius_um : float or array
        Radius of the pore, half the gap between features [um], above 0.
    density : float or array
        Of the lubricant, less that of what is around it [kg/m3], above 0.
    contact_angle_deg : float or array
        Angle of the lubricant on the wall [deg], 0 to 180.

    Returns
    -------
    CapillaryHold
        Height [mm] and pressure [Pa]; below 0 the pore pushes the lubricant out, which `outside` says.

    Raises
    ------
    ValueError
        For an input out of range or a single NaN; NaN in an array stays NaN in its place.

    Source: `jurin`.

    >>> found = capillary_hold(tension=20.1, pore_radius_um=25, density=930)
    >>> round(found.height_mm, 2), round(found.pressure_pa)
    (176.31, 1608)
    """
    gamma = number("tension", tension, unit="mN/m", at_least=0)
    radius = number("radius of the pore", pore_radius_um, unit="µm", above=0)
    rho = number("density", density, unit="kg/m³", above=0)
    angle = number("contact angle", contact_angle_deg, unit="°", at_least=0, at_most=180)
    pressure = 2e3 * gamma * np.cos(np.radians(angle)) / radius
    length_um = 1e6 * np.sqrt(1e-3 * gamma / (rho * GRAVITY))
    outside = (
        *said_where(radius > THIN * length_um, "not narrow against the capillary length: the meniscus is no sphere"),
        *said_where(angle >= 90, "does not wet the wall: nothing is held"),
    )
    return CapillaryHold(plain(1e3 * pressure / (rho * GRAVITY)), plain(pressure), outside)


def _require_below(name: str, pressure, total, meaning: str) -> None:
    pressures, totals = np.broadcast_arrays(pressure, total)
    wrong = pressures >= totals
    if wrong.any():
        value, limit = pressures[wrong].flat[0], totals[wrong].flat[0]
        raise ValueError(f"{name} must be below the pressure of the air, {limit:g} Pa, not {value:g} Pa: {meaning}")


def _vapour(vapour_pressure_pa, molar_mass_g_mol, density, temperature_c):
    return (
        number("vapour pressure", vapour_pressure_pa, unit="Pa", at_least=0),
        1e-3 * number("molar mass", molar_mass_g_mol, unit="g/mol", above=0),
        number("density", density, unit="kg/m³", above=0),
        273.15 + number("temperature", temperature_c, unit="°C", above=-273.15),
    )
