"""How much of a resting drop of water evaporates before it is read: its vapour diffuses into still air."""

from __future__ import annotations

import math

from analysis.wetting.capillary import cap_drop

GAS_CONSTANT = 8.314462618  # J/(mol K)
WATER_MOLAR_MASS = 18.015268e-3  # kg/mol
WATER_DENSITY = 997.0  # kg/m³, near room temperature


def water_vapour_pressure_pa(temperature_c: float) -> float:
    """Vapour pressure of water at saturation.

    Parameters
    ----------
    temperature_c : float
        0 to 100 [°C].

    Returns
    -------
    float
        Pressure [Pa].

    Raises
    ------
    ValueError
        Outside 0 to 100 °C, or NaN.

    Source: `water_vapour`; within 0.1 % of the steam tables in this range.

    >>> round(water_vapour_pressure_pa(25) / 1000, 2)
    3.17
    """
    if not 0 <= temperature_c <= 100:
        raise ValueError(f"the vapour pressure of water is given from 0 to 100 °C, not at {temperature_c}")
    critical_k, critical_pa = 647.096, 22.064e6
    kelvin = temperature_c + 273.15
    tau = 1 - kelvin / critical_k
    terms = zip(
        (-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502),
        (1, 1.5, 3, 3.5, 4, 7.5),
        strict=True,
    )
    return critical_pa * math.exp(critical_k / kelvin * sum(factor * tau**power for factor, power in terms))


def vapour_diffusivity_m2_s(temperature_c: float) -> float:
    """Diffusion coefficient of water vapour in air at normal pressure [m2/s], for 0 to 50 °C.

    Source: `water_vapour`.

    >>> round(vapour_diffusivity_m2_s(25) * 1e6)
    25
    """
    return 2.12e-5 * ((temperature_c + 273.15) / 273.15) ** 1.81


def contact_angle_factor(angle_deg: float) -> float:
    """Evaporation of a drop against a disc-like reference π·a·D·Δc, for a given contact angle [-].

    Parameters
    ----------
    angle_deg : float
        Contact angle [deg], 0 up to (not including) 180.

    Returns
    -------
    float
        4/π for a flat film, 2 for a half sphere, growing without bound as the base shrinks to a point.

    Raises
    ------
    ValueError
        Outside 0 to 180, or NaN.

    Source: `diffusion_evaporation`.

    >>> round(contact_angle_factor(90), 6)
    2.0
    """
    from scipy.integrate import quad

    if not 0 <= angle_deg < 180:
        raise ValueError(f"a contact angle lies from 0 to below 180 degrees here, not {angle_deg}")
    theta = math.radians(angle_deg)

    def density(tau: float) -> float:
        # (1 + cosh 2θτ)/sinh 2πτ written with decaying exponentials: cosh overflows where the ratio vanishes
        grown = 2 * math.exp(-2 * math.pi * tau) + sum(math.exp(2 * (sign * theta - math.pi) * tau) for sign in (1, -1))
        return grown / -math.expm1(-4 * math.pi * tau) * math.tanh((math.pi - theta) * tau)

    reach = 20 / (math.pi - theta)  # the integrand has fallen by e⁻⁴⁰ there
    integral = quad(density, 0, reach, epsrel=1e-9, limit=200)[0]
    return math.tan(theta / 2) + 4 * integral


def predicted_loss_percent(
    volume_ul: float, angle_deg: float, seconds: float, temperature_c: float, humidity_pct: float
) -> float:
    """Share of a resting drop of water that evaporates in a given time in still air.

    Parameters
    ----------
    volume_ul : float
        Drop volume [uL], above 0.
    angle_deg : float
        Contact angle [deg], above 0 and below 180.
    seconds : float
        Time since the drop was placed [s], 0 or more.
    temperature_c, humidity_pct : float
        Room temperature [°C], 0 to 100, and relative humidity [%], 0 to 100.

    Returns
    -------
    float
        Loss at the rate of the fresh drop [%], at most 100. The drop is taken as a spherical cap at room
        temperature: cooling slows evaporation a little, a draught speeds it up much more.

    Raises
    ------
    ValueError
        For an input outside the ranges above, or NaN.

    Source: `diffusion_evaporation`, `water_vapour`.

    >>> predicted_loss_percent(5, 110, 60, 25, 100)
    0.0
    >>> 2 < predicted_loss_percent(5, 110, 60, 25, 50) < 4
    True
    """
    if not (0 <= humidity_pct <= 100 and 0 <= seconds < math.inf):
        raise ValueError(f"humidity {humidity_pct} % or time {seconds} s is impossible")
    base_m = cap_drop(volume_ul, angle_deg).base_radius_mm * 1e-3
    kelvin = temperature_c + 273.15
    missing_pa = water_vapour_pressure_pa(temperature_c) * (1 - humidity_pct / 100)
    missing = missing_pa * WATER_MOLAR_MASS / (GAS_CONSTANT * kelvin)  # kg/m³
    rate = math.pi * base_m * vapour_diffusivity_m2_s(temperature_c) * missing * contact_angle_factor(angle_deg)
    return min(100.0, 100 * rate * seconds / (WATER_DENSITY * volume_ul * 1e-9))
