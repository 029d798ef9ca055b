"""Water, the liquid every lab measures first: its surface tension against temperature."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.inputs import number

KELVIN = 273.15
CRITICAL_K = 647.096
LOWEST_C = -25.0  # extrapolation into the supercooled liquid holds reasonably this far
RELATIVE_EXPANDED = 0.005  # about 0.5 %, read as an expanded uncertainty (k = 2); from memory of the release's table


@formula(
    "γ = 235.8·τ^1.256·(1 − 0.625·τ) mN/m, τ = 1 − T/647.096 K",
    source="iapws_surface_tension",
    holds_when="pure water against its vapour or air, triple point to critical point; reasonable down to −25 °C",
)
def water_surface_tension(temperature_c: ArrayLike) -> float | np.ndarray:
    """Surface tension of pure water.

    Parameters
    ----------
    temperature_c : array_like
        Temperature [degC], −25 to 373.946; below 0.01 extrapolated into the supercooled liquid.

    Returns
    -------
    float or numpy.ndarray
        Tension [mN/m]. NaN in an array stays NaN, a single NaN is refused. Other formulas differ by up to
        0.08 mN/m near room temperature: do not mix them within one comparison.

    Raises
    ------
    ValueError
        For a temperature out of range.

    Source: `iapws_surface_tension`.

    >>> round(water_surface_tension(20), 3), round(water_surface_tension(25), 3)
    (72.736, 71.972)
    """
    celsius = number("temperature of water", temperature_c, "degC", at_least=LOWEST_C, at_most=CRITICAL_K - KELVIN)
    tau = np.maximum(1 - (celsius + KELVIN) / CRITICAL_K, 0.0)  # round-off at the critical point
    return plain(235.8 * tau**1.256 * (1 - 0.625 * tau))


@formula(
    "u(γ) = 0.005·γ/2",
    source="iapws_surface_tension from_memory",
    holds_when="0 to 100 °C; nearer to the critical point the relative uncertainty is larger",
)
def water_surface_tension_uncertainty(temperature_c: ArrayLike) -> float | np.ndarray:
    """Standard uncertainty of the surface tension of pure water by its formula.

    Parameters
    ----------
    temperature_c : array_like
        Temperature [degC], 0 to 100.

    Returns
    -------
    float or numpy.ndarray
        Standard uncertainty [mN/m]: half of about 0.5 %. What is in a beaker is mostly less pure than that.

    Raises
    ------
    ValueError
        For a temperature out of range.

    Source: `iapws_surface_tension`; the 0.5 % `from_memory`.

    >>> round(water_surface_tension_uncertainty(20), 2)
    0.18
    """
    celsius = number("temperature of water", temperature_c, "degC", at_least=0, at_most=100)
    return plain(RELATIVE_EXPANDED / 2 * np.asarray(water_surface_tension(celsius)))
