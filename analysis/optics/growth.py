"""Thickness of an anodic film against voltage: a calibration line with intercept, read both ways with uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within

GROWTH_LIMITS = (
    "A straight line is an approximation: many films leave it at some tens of volts (pure titanium at about 10 V in "
    "most baths), where they crystallise and evolve gas."
)
GROWTH_CAUTION = (
    "A voltage read from this line is no instruction: live electrodes, hydrogen and corrosive baths call for the lab's "
    "own assessed procedure."
)


@dataclass(frozen=True, slots=True)
class GrowthRatio:
    """Film thickness per volt of one metal or alloy, as a range [nm/V]."""

    material: str
    low_nm_per_v: float
    high_nm_per_v: float
    source: str  # key of analysis.sources


# For a first guess only; a lab's own line (fit_growth) takes their place.
GROWTH_RATIOS = (
    GrowthRatio("titanium, sputtered", 1.75, 2.0, "habazaki_2004"),
    GrowthRatio("anodic titania", 2.0, 2.0, "habazaki_2004"),
    GrowthRatio("anodic alumina", 1.2, 1.2, "habazaki_2004"),
    GrowthRatio("Ti-26Al", 2.0, 2.0, "habazaki_2004"),
    GrowthRatio("Ti-32Al", 1.9, 1.9, "habazaki_2004"),
    GrowthRatio("Ti-38Al", 1.8, 1.8, "habazaki_2004"),
    GrowthRatio("Ti-6Al-4V", 2.17, 2.40, "ijb_2015_395657"),
    GrowthRatio("tantalum", 1.6, 1.7, "anodic_growth_from_memory"),
    GrowthRatio("niobium", 2.3, 2.8, "anodic_growth_from_memory"),
    GrowthRatio("zirconium", 2.0, 2.7, "anodic_growth_from_memory"),
    GrowthRatio("hafnium", 1.8, 2.0, "anodic_growth_from_memory"),
    GrowthRatio("tungsten", 1.8, 1.8, "anodic_growth_from_memory"),
)


@dataclass(frozen=True, slots=True)
class GrowthLine:
    """Straight line d = slope·V + intercept through measured film thicknesses, with standard uncertainties.

    The uncertainties are NaN for two points: they fix the line and leave nothing to judge it by.
    """

    slope_nm_per_v: float
    intercept_nm: float
    slope_uncertainty: float
    intercept_uncertainty: float
    residual_spread_nm: float  # standard deviation about the line, n − 2 degrees of freedom
    points: int
    lowest_v: float
    highest_v: float
    mean_v: float
    spread_v2: float  # Σ(V − mean)²
    is_fitted: bool
    note: str

    @property
    def degrees_of_freedom(self) -> int:
        """Points less the two constants of the line."""
        return self.points - 2


@dataclass(frozen=True, slots=True, eq=False)
class GrowthReading:
    """What the line gives, with standard uncertainties of the line itself and of one new coupon about it."""

    value: float | np.ndarray
    line_uncertainty: float | np.ndarray
    coupon_uncertainty: float | np.ndarray
    is_extrapolated: bool | np.ndarray  # outside the voltages that were measured
    note: str


@formula("d = a·V + b", source="common_practice", holds_when="voltages over which the growth was found straight")
def growth_thickness_nm(voltage_v, ratio_nm_per_v, intercept_nm=0.0):
    """Film thickness from voltage by a known growth per volt.

    Parameters
    ----------
    voltage_v : float or array
        Final voltage [V], from 0.
    ratio_nm_per_v : float or array
        Growth per volt [nm/V], above 0.
    intercept_nm : float or array
        Thickness at 0 V [nm], such as a native film; negative for a film that begins at some volts.

    Returns
    -------
    float or array
        Film thickness [nm].

    Raises
    ------
    ValueError
        For a value out of range, or where a negative intercept leaves less than no film. NaN gives NaN in its
        place.

    Source: `common_practice`.

    >>> growth_thickness_nm(20, 2.2, 4)
    48.0
    """
    volts = within("voltage", voltage_v, "V", at_least=0)
    ratio = within("growth per volt", ratio_nm_per_v, "nm/V", above=0)
    depth = ratio * volts + within("intercept", intercept_nm, "nm")
    return plain(within("film thickness from voltage and intercept", depth, "nm", at_least=0))


@formula(
    "d = a·V + b by least squares; u(a) = s/√Sxx, u(b) = s·√(1/n + V̄²/Sxx), s² = Σ residual²/(n − 2)",
    source="calibration_line",
    holds_when="independent coupons, equal spread of thickness at every voltage, voltages known exactly",
    library="scipy.stats.linregress",
)
def fit_growth(voltage_v, thickness_nm) -> GrowthLine:
    """Growth per volt with intercept from measured film thicknesses.

    Parameters
    ----------
    voltage_v : array
        Final voltages [V], from 0; one for each coupon, not all the same.
    thickness_nm : array
        Film thicknesses [nm], from 0; as many.

    Returns
    -------
    GrowthLine
        Slope [nm/V], intercept [nm], their standard uncertainties and the spread about the line. `is_fitted` is
        False, with the reason in `note`, when the thickness does not grow with voltage.

    Raises
    ------
    ValueError
        For NaN, a value below 0, fewer than two points, or a single voltage.

    Source: `calibration_line`.

    >>> line = fit_growth([20, 40], [48, 92])
    >>> round(line.slope_nm_per_v, 9), round(line.intercept_nm, 9)
    (2.2, 4.0)
    """
    from scipy.stats import linregress

    volts = within("voltage", voltage_v, "V", at_least=0, has_nan=False)
    depths = within("film thickness", thickness_nm, "nm", at_least=0, has_nan=False)
    if volts.ndim != 1 or volts.shape != depths.shape or len(volts) < 2:
        raise ValueError(f"a line needs at least two pairs of voltage and thickness, not {volts.shape}, {depths.shape}")
    if np.ptp(volts) == 0:
        raise ValueError(f"a line needs at least two voltages, not {volts[0]:g} V only")
    found = linregress(volts, depths)
    free = len(volts) - 2
    spread = volts - volts.mean()
    squares = float(spread @ spread)
    residuals = depths - depths.mean() - found.slope * spread
    scatter = math.sqrt(float(residuals @ residuals) / free) if free else math.nan
    return GrowthLine(
        slope_nm_per_v=float(found.slope),
        intercept_nm=float(found.intercept),
        slope_uncertainty=scatter / math.sqrt(squares),  # linregress takes it from 1 − r², which loses digits
        intercept_uncertainty=scatter * math.sqrt(1 / len(volts) + float(volts.mean()) ** 2 / squares),
        residual_spread_nm=scatter,
        points=len(volts),
        lowest_v=float(volts.min()),
        highest_v=float(volts.max()),
        mean_v=float(volts.mean()),
        spread_v2=squares,
        is_fitted=bool(found.slope > 0),
        note=_fit_note(found.slope, free),
    )


def _fit_note(slope: float, free: int) -> str:
    if not slope > 0:
        return f"No growth with voltage (slope {slope:.3g} nm/V): the line cannot be used. {GROWTH_LIMITS}"
    if not free:
        return f"Two points fix the line and leave nothing to judge it by: no uncertainty is given. {GROWTH_LIMITS}"
    return GROWTH_LIMITS


@formula(
    "d = a·V + b; u²(line) = s²·(1/n + (V − V̄)²/Sxx), u²(coupon) = u²(line) + s²",
    source="calibration_line",
    holds_when="inside the voltages of the line",
)
def thickness_at_voltage(line: GrowthLine, voltage_v) -> GrowthReading:
    """Film thickness that a lab's growth line gives for a voltage, with standard uncertainty.

    Parameters
    ----------
    line : GrowthLine
        From `fit_growth`.
    voltage_v : float or array
        Final voltage [V], from 0.

    Returns
    -------
    GrowthReading
        Thickness [nm], standard uncertainty of the line and of one new coupon [nm]; NaN for a line through two
        points. Multiply by Student's t with the line's degrees of freedom for an interval. A thickness below 0
        means that the line does not reach so far down; the note says so.

    Raises
    ------
    ValueError
        For a voltage below 0 or a line that was not fitted. NaN gives NaN in its place.

    Source: `calibration_line`.

    >>> reading = thickness_at_voltage(fit_growth([20, 40, 60], [48, 92, 130]), 50)
    >>> round(reading.value, 2), round(reading.line_uncertainty, 2), reading.is_extrapolated
    (110.5, 1.66, False)
    """
    _require_growth(line)
    volts = within("voltage", voltage_v, "V", at_least=0)
    value = line.slope_nm_per_v * volts + line.intercept_nm
    of_line, of_coupon = _uncertainties(line, volts)
    below = " Below 0 nm the line means nothing: no film has that thickness." if (value < 0).any() else ""
    return _reading(line, volts, value, of_line, of_coupon, line.note + below)


@formula(
    "V = (d − b)/a; u(V) = u(d at V)/a",
    source="calibration_line",
    holds_when="inside the voltages of the line; slope well above its uncertainty (first order)",
)
def voltage_for_thickness(line: GrowthLine, thickness_nm) -> GrowthReading:
    """Voltage at which a lab's growth line reaches a thickness, with standard uncertainty.

    Parameters
    ----------
    line : GrowthLine
        From `fit_growth`.
    thickness_nm : float or array
        Film thickness [nm], from 0.

    Returns
    -------
    GrowthReading
        Voltage [V]: negative below the intercept, where it means nothing, and marked as extrapolated. Standard
        uncertainty of the line [V], and of the voltage that one coupon of this thickness was grown at [V].

    Raises
    ------
    ValueError
        For a thickness below 0 or a line that was not fitted. NaN gives NaN in its place.

    Source: `calibration_line`.

    >>> round(voltage_for_thickness(fit_growth([20, 40], [48, 92]), 70).value, 6)
    30.0
    """
    _require_growth(line)
    depths = within("film thickness", thickness_nm, "nm", at_least=0)
    volts = (depths - line.intercept_nm) / line.slope_nm_per_v
    of_line, of_coupon = (u / line.slope_nm_per_v for u in _uncertainties(line, volts))
    return _reading(line, volts, volts, of_line, of_coupon, f"{line.note} {GROWTH_CAUTION}")


def _uncertainties(line: GrowthLine, volts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    share = 1 / line.points + (volts - line.mean_v) ** 2 / line.spread_v2
    return line.residual_spread_nm * np.sqrt(share), line.residual_spread_nm * np.sqrt(1 + share)


def _reading(line: GrowthLine, volts, value, of_line, of_coupon, note: str) -> GrowthReading:
    beyond = (volts < line.lowest_v) | (volts > line.highest_v)
    if beyond.any():
        note += f" Extrapolated beyond the measured {line.lowest_v:g} to {line.highest_v:g} V."
    return GrowthReading(plain(value), plain(of_line), plain(of_coupon), plain(beyond), note)


def _require_growth(line: GrowthLine) -> None:
    if not line.is_fitted:
        raise ValueError(f"slope of the line must be above 0 nm/V, not {line.slope_nm_per_v:g} nm/V")
