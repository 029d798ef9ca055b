"""How fast a resting drop evaporates when its vapour diffuses into still air.

Water is the default; any other liquid is a `Vapour`. Numbers or arrays that broadcast; NaN in an array stays NaN
in its place, a single NaN is refused.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.capillary import cap_drop
from analysis.wetting.inputs import contact_angle, number, positive

GAS_CONSTANT = 8.314462618  # J/(mol K)
WATER_MOLAR_MASS = 18.015268e-3  # kg/mol
WATER_DENSITY = 997.0  # kg/m³, near room temperature


@dataclass(frozen=True, slots=True)
class Vapour:
    """What evaporation asks of a liquid, at the temperature of the drop."""

    pressure_pa: float | np.ndarray  # at saturation
    diffusivity_m2_s: float | np.ndarray  # of the vapour in air
    molar_mass_kg_mol: float | np.ndarray
    liquid_density: float | np.ndarray  # kg/m³


@formula(
    "ln(p/pc) = (Tc/T)·Σ aᵢ·τ^nᵢ,  τ = 1 − T/Tc",
    source="water_vapour",
    holds_when="0 to 100 °C; within 0.1 % of the steam tables",
)
def water_vapour_pressure_pa(temperature_c: ArrayLike) -> float | np.ndarray:
    """Vapour pressure of water at saturation.

    Parameters
    ----------
    temperature_c : array_like
        0 to 100 [°C].

    Returns
    -------
    float or numpy.ndarray
        Pressure [Pa].

    Raises
    ------
    ValueError
        Outside 0 to 100 °C, or a single NaN.

    Source: `water_vapour`.

    >>> round(water_vapour_pressure_pa(25) / 1000, 2)
    3.17
    """
    critical_k, critical_pa = 647.096, 22.064e6
    kelvin = _kelvin(temperature_c)
    tau = 1 - kelvin / critical_k
    terms = zip(
        (-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502),
        (1, 1.5, 3, 3.5, 4, 7.5),
        strict=True,
    )
    return plain(critical_pa * np.exp(critical_k / kelvin * sum(factor * tau**power for factor, power in terms)))


@formula("D = 21.2·(T/273.15)^1.81 mm²/s", source="water_vapour", holds_when="normal pressure, near room temperature")
def vapour_diffusivity_m2_s(temperature_c: ArrayLike) -> float | np.ndarray:
    """Diffusion coefficient of water vapour in air at normal pressure.

    Parameters
    ----------
    temperature_c : array_like
        0 to 100 [°C], best below 50.

    Returns
    -------
    float or numpy.ndarray
        Coefficient [m2/s].

    Raises
    ------
    ValueError
        Outside 0 to 100 °C, or a single NaN.

    Source: `water_vapour`.

    >>> round(vapour_diffusivity_m2_s(25) * 1e6)
    25
    """
    return plain(2.12e-5 * (_kelvin(temperature_c) / 273.15) ** 1.81)


def water_vapour(temperature_c: ArrayLike) -> Vapour:
    """What evaporation asks of water at a temperature.

    Parameters
    ----------
    temperature_c : array_like
        0 to 100 [°C].

    Returns
    -------
    Vapour
        With the density of water near room temperature.

    Raises
    ------
    ValueError
        Outside 0 to 100 °C, or a single NaN.

    Source: `water_vapour`.

    >>> round(water_vapour(20).pressure_pa)
    2339
    """
    pressure, diffusivity = water_vapour_pressure_pa(temperature_c), vapour_diffusivity_m2_s(temperature_c)
    return Vapour(pressure, diffusivity, WATER_MOLAR_MASS, WATER_DENSITY)


@formula(
    "F(θ) = tan(θ/2) + 4·∫₀^∞ (1 + cosh 2θτ)/sinh 2πτ · tanh[(π − θ)τ] dτ",
    source="diffusion_evaporation",
    holds_when="spherical cap; exact at 0° (4/π) and 90° (2)",
    library="scipy.integrate.quad_vec",
)
def contact_angle_factor(angle_deg: ArrayLike) -> float | np.ndarray:
    """Evaporation of a drop against a disc-like reference π·a·D·Δc, for a given contact angle.

    Parameters
    ----------
    angle_deg : array_like
        Contact angle [deg], 0 up to (not including) 180.

    Returns
    -------
    float or numpy.ndarray
        Factor [-]: 4/π for a flat film, 2 for a half sphere, growing without bound as the base shrinks to a
        point.

    Raises
    ------
    ValueError
        Outside 0 to 180, or a single NaN.

    Source: `diffusion_evaporation`.

    >>> round(contact_angle_factor(90), 6)
    2.0
    """
    from scipy.integrate import quad_vec

    theta = contact_angle(angle_deg, below=180)
    known = np.where(np.isnan(theta), 0.0, theta)
    rest = np.pi - known

    def density(stretched: float) -> np.ndarray:
        tau = stretched / rest
        # (1 + cosh 2θτ)/sinh 2πτ written with decaying exponentials: cosh overflows where the ratio vanishes
        grown = 2 * np.exp(-2 * np.pi * tau) + np.exp(-2 * stretched) + np.exp(-2 * (np.pi + known) * tau)
        return grown / -np.expm1(-4 * np.pi * tau) * np.tanh(stretched) / rest

    # the integrand has fallen by e⁻⁴⁰ at 20, and is finite at 0, where no node lies
    integral = quad_vec(density, 0, 20, epsabs=0, epsrel=1e-9, norm="max")[0] if theta.size else 0.0
    return plain(np.tan(theta / 2) + 4 * integral)


@formula(
    "dV/dt = π·a·D·Δc·F(θ)/ρ,  Δc = (1 − H)·p·M/(R·T)",
    source="diffusion_evaporation water_vapour",
    holds_when="still air, spherical cap, drop at room temperature: cooling slows it, a draught speeds it up",
)
def evaporation_rate_ul_s(
    volume_ul: ArrayLike,
    angle_deg: ArrayLike,
    temperature_c: ArrayLike,
    humidity_pct: ArrayLike = 0.0,
    vapour: Vapour | None = None,
) -> float | np.ndarray:
    """Volume that a resting drop loses in a second.

    Parameters
    ----------
    volume_ul : array_like
        Drop volume [uL], above 0.
    angle_deg : array_like
        Contact angle [deg], above 0 and below 180.
    temperature_c : array_like
        Room temperature [°C], 0 to 100 for water, above −273.15 otherwise.
    humidity_pct : array_like
        How far the air holds the vapour of this liquid already [%], 0 to 100: relative humidity for water,
        0 for other liquids in an open room.
    vapour : Vapour, optional
        Of another liquid than water.

    Returns
    -------
    float or numpy.ndarray
        Rate [uL/s], above or at 0.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `diffusion_evaporation`, `water_vapour`.

    >>> round(60 * evaporation_rate_ul_s(5, 90, 25, 50), 3)
    0.145
    """
    number("contact angle", angle_deg, "deg", above=0, below=180)
    base_mm = np.asarray(cap_drop(volume_ul, angle_deg).base_radius_mm)
    return plain(base_mm * evaporation_speed(temperature_c, humidity_pct, vapour) * contact_angle_factor(angle_deg))


@formula(
    "v = π·D·Δc/ρ,  Δc = (1 − H)·p·M/(R·T),  so that dV/dt = v·a·F(θ)",
    source="diffusion_evaporation water_vapour",
    holds_when="vapour an ideal gas, drop at room temperature",
)
def evaporation_speed(
    temperature_c: ArrayLike, humidity_pct: ArrayLike, vapour: Vapour | None = None
) -> float | np.ndarray:
    """What climate and liquid contribute to the rate: π·D·Δc/ρ.

    Parameters
    ----------
    temperature_c, humidity_pct, vapour
        As in `evaporation_rate_ul_s` [°C], [%].

    Returns
    -------
    float or numpy.ndarray
        Rate of a drop per base radius and per F(θ) [mm2/s].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `diffusion_evaporation`.

    >>> round(evaporation_speed(25, 50), 5)
    0.0009
    """
    missing = 1 - number("humidity", humidity_pct, "%", at_least=0, at_most=100) / 100
    liquid = water_vapour(temperature_c) if vapour is None else vapour
    kelvin = number("temperature", temperature_c, "°C", above=-273.15) + 273.15
    pressure = number("vapour pressure", liquid.pressure_pa, "Pa", at_least=0)
    molar_mass = positive("molar mass", liquid.molar_mass_kg_mol, "kg/mol")
    concentration = missing * pressure * molar_mass / (GAS_CONSTANT * kelvin)  # kg/m³
    diffusivity = positive("diffusion coefficient", liquid.diffusivity_m2_s, "m2/s")
    density = positive("density of the liquid", liquid.liquid_density, "kg/m3")
    return plain(1e6 * np.pi * diffusivity * concentration / density)


@formula(
    "loss = 100·t·(dV/dt)/V at the rate of the fresh drop",
    source="diffusion_evaporation water_vapour",
    holds_when="small losses of water; larger ones by evaporated_percent",
)
def predicted_loss_percent(
    volume_ul: ArrayLike,
    angle_deg: ArrayLike,
    seconds: ArrayLike,
    temperature_c: ArrayLike,
    humidity_pct: ArrayLike,
) -> float | np.ndarray:
    """Share of a resting drop of water that evaporates in a given time in still air.

    Parameters
    ----------
    volume_ul, angle_deg, temperature_c, humidity_pct : array_like
        As in `evaporation_rate_ul_s` [uL], [deg], [°C], [%].
    seconds : array_like
        Time since the drop was placed [s], 0 or more.

    Returns
    -------
    float or numpy.ndarray
        Loss at the rate of the fresh drop [%], at most 100.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `diffusion_evaporation`, `water_vapour`.

    >>> predicted_loss_percent(5, 110, 60, 25, 100)
    0.0
    >>> 2 < predicted_loss_percent(5, 110, 60, 25, 50) < 4
    True
    """
    age = number("time on the surface", seconds, "s", at_least=0)
    lost = age * evaporation_rate_ul_s(volume_ul, angle_deg, temperature_c, humidity_pct)
    return plain(np.minimum(100.0, 100 * lost / np.asarray(volume_ul, dtype=float)))


def _kelvin(temperature_c: ArrayLike) -> np.ndarray:
    return number("temperature of water", temperature_c, "°C", at_least=0, at_most=100) + 273.15
