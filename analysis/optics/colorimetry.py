"""From a spectrum to a colour: CIE 1931 2° observer, illuminant D65, L*a*b*, sRGB, and colour differences."""

from __future__ import annotations

import sys
import warnings
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within

VISIBLE_NM = tuple(range(380, 781, 5))
_OBSERVER, _LIGHT = "CIE 1931 2 Degree Standard Observer", "D65"
_LOADING = Lock()  # filters of warnings are shared by all threads
_RULES = ("CIE 2000", "CIE 1976")
_GAMUT_SLACK = 0.5 / 255  # half a step of an 8-bit screen: what lies nearer to the edge looks the same


@dataclass(frozen=True, slots=True, eq=False)
class Colour:
    """A colour, or an array of colours with the three coordinates along the last axis."""

    xyz: np.ndarray  # tristimulus values, 0 to 100
    lab: np.ndarray  # L*, a*, b*
    srgb: np.ndarray  # as a screen can show it: 0 to 1, cut off where the screen cannot
    is_in_srgb: bool | np.ndarray  # False: outside the gamut (the screen shows another colour), or NaN
    gamut_excess: float | np.ndarray  # how far the furthest of the three lies outside 0 to 1

    @property
    def hex_code(self) -> str | np.ndarray:
        """The cut-off colour for a screen, "#2b66ae"; empty where a coordinate is NaN."""
        steps = np.atleast_2d(self.srgb_8bit).reshape(-1, 3)
        codes = ["" if np.isnan(row).any() else "#" + "".join(f"{int(part):02x}" for part in row) for row in steps]
        return codes[0] if self.srgb.ndim == 1 else np.array(codes).reshape(self.srgb.shape[:-1])

    @property
    def srgb_8bit(self) -> np.ndarray:
        """The cut-off colour in steps of 0 to 255."""
        return np.round(255 * self.srgb)

    @property
    def note(self) -> str:
        """What must stand beside the swatch; empty when every colour can be shown."""
        outside = int(np.sum(np.greater(self.gamut_excess, 0)))
        if not outside:
            return ""
        which = "the colour lies" if self.srgb.ndim == 1 else f"{outside} of {self.srgb[..., 0].size} colours lie"
        return (
            f"{which} outside sRGB (by up to {np.nanmax(self.gamut_excess):.2f} of full scale): the swatch is cut off"
        )


@lru_cache(maxsize=1)
def _library():
    """The package colour-science, loaded once (about a second) and without its side effects."""
    # Its import warns that plotting is unavailable, sets numpy's printing to that of version 1.13, and puts mock
    # modules in the place of matplotlib so that others would take it as installed. None of this has a switch.
    with _LOADING, warnings.catch_warnings(), np.printoptions():
        warnings.filterwarnings("ignore", message='"Matplotlib" related API features are not available')
        before = set(sys.modules)
        import colour

        for name in set(sys.modules) - before:
            if type(sys.modules[name]).__module__ == "unittest.mock":
                del sys.modules[name]
    return colour


@lru_cache(maxsize=16)
def _weights(first_nm: float, last_nm: float, count: int) -> np.ndarray:
    """What each wavelength of an even spectrum adds to X, Y and Z: one row a wavelength, sums are D65's white.

    The integral is linear in the spectrum, so the library integrates all unit spectra once, brought to 1 nm by
    Sprague's interpolation with the ends held constant, over 360 to 830 nm. The places are counted in steps: in
    nm the library would change wavelengths that do not end on whole numbers.
    """
    colour = _library()
    observer = colour.MSDS_CMFS[_OBSERVER]
    light = colour.SDS_ILLUMINANTS[_LIGHT].copy().align(observer.shape)
    place = (observer.wavelengths - first_nm) * (count - 1) / (last_nm - first_nm)
    inside, steps = np.clip(place, 0, count - 1), np.arange(count)
    unit = np.column_stack([colour.SpragueInterpolator(steps, row)(inside) for row in np.eye(count)])
    spectra = colour.MultiSpectralDistributions(unit, observer.wavelengths)
    found = colour.msds_to_XYZ(spectra, observer, light, method="Integration")
    found.setflags(write=False)  # shared by all callers
    return found


@formula(
    "X = k·Σ R·S·x̄·Δλ (Y, Z alike), k = 100/Σ S·ȳ·Δλ; L*a*b* to the white of D65",
    source="cie_015 iec_61966_2_1",
    holds_when="reflectance or transmittance of a sample that does not fluoresce, seen in D65 by the 2° observer",
    library="colour.msds_to_XYZ, colour.XYZ_to_Lab, colour.XYZ_to_sRGB",
)
def spectrum_colour(spectrum, wavelength_nm=VISIBLE_NM) -> Colour:
    """Colour of a surface or plate from its reflectance or transmittance spectrum.

    Parameters
    ----------
    spectrum : array
        Reflectance or transmittance [-], 0 to 1.5 (a percentage is refused), wavelengths along the last axis; any
        shape in front: one colour for each spectrum.
    wavelength_nm : array
        Wavelengths [nm], rising in even steps of 1 to 20, from 400 or below to 700 or above. What is missing
        between 360 and 830 is taken as equal to the value at the end.

    Returns
    -------
    Colour
        XYZ (perfect reflector: 95.047, 100, 108.883), L*a*b*, sRGB cut off at the gamut with the word whether it
        was.

    Raises
    ------
    ValueError
        For a value out of range or wavelengths that are uneven or too few. A spectrum with a NaN has the colour
        NaN.

    Source: `cie_015`, `iec_61966_2_1`.

    >>> spectrum_colour(np.ones(81)).lab.round(1) + 0.0
    array([100.,   0.,   0.])
    """
    shares = within("spectrum", spectrum, at_least=0, at_most=1.5)
    weights = _weights(*_even(within("wavelength", wavelength_nm, "nm", above=0, has_nan=False)))
    if shares.ndim == 0 or shares.shape[-1] != len(weights):
        raise ValueError(f"a spectrum must hold {len(weights)} values, one a wavelength, not {shares.shape}")
    return xyz_colour(np.maximum(shares @ weights, 0))  # interpolation of a narrow band may swing a hair below 0


def _even(wavelength: np.ndarray) -> tuple[float, float, int]:
    if wavelength.ndim != 1 or len(wavelength) < 2:
        raise ValueError("wavelengths must be a row of numbers")
    steps = np.diff(wavelength)
    if not np.allclose(steps, steps[0], rtol=1e-6) or not 1 <= round(steps[0], 6) <= 20:
        raise ValueError(
            f"wavelengths must rise in even steps of 1 to 20 nm, not {steps.min():g} to {steps.max():g} nm"
        )
    if wavelength[0] > 400 or wavelength[-1] < 700:
        raise ValueError(f"wavelengths must span 400 to 700 nm, not {wavelength[0]:g} to {wavelength[-1]:g} nm")
    return float(wavelength[0]), float(wavelength[-1]), len(wavelength)


@formula(
    "L* = 116·f(Y/Yn) − 16, a* = 500·(f(X/Xn) − f(Y/Yn)), b* = 200·(f(Y/Yn) − f(Z/Zn)); RGB = M·XYZ, sRGB curve",
    source="cie_015 iec_61966_2_1",
    holds_when="white of D65: x, y = 0.3127, 0.3290",
    library="colour.XYZ_to_Lab, colour.XYZ_to_sRGB",
)
def xyz_colour(xyz) -> Colour:
    """Colour from tristimulus values.

    Parameters
    ----------
    xyz : array
        X, Y, Z along the last axis, white at Y = 100; 0 to 1000.

    Returns
    -------
    Colour
        XYZ, L*a*b*, sRGB cut off at the gamut with the word whether it was.

    Raises
    ------
    ValueError
        For a value out of range or a last axis that is not 3 long. NaN gives the colour NaN.

    Source: `cie_015`, `iec_61966_2_1`.

    >>> xyz_colour([13.441, 13.165, 41.843]).hex_code
    '#2b66ae'
    """
    values = _triples("tristimulus value", xyz, at_least=0, at_most=1000)
    colour = _library()
    return _colour(values, np.asarray(colour.XYZ_to_Lab(values / 100)), np.asarray(colour.XYZ_to_sRGB(values / 100)))


@formula(
    "X = Xn·f⁻¹((L* + 16)/116 + a*/500), Z = Zn·f⁻¹((L* + 16)/116 − b*/200); RGB = M·XYZ, then the sRGB curve",
    source="cie_015 iec_61966_2_1",
    holds_when="L*a*b* measured for D65 and the 2° observer; real colours only (XYZ not below 0)",
    library="colour.Lab_to_XYZ, colour.XYZ_to_sRGB",
)
def lab_colour(lab) -> Colour:
    """Colour from L*a*b* as an instrument gives it, with what a screen can show of it.

    Parameters
    ----------
    lab : array
        L* (0 to 120), a*, b* (−500 to 500) along the last axis.

    Returns
    -------
    Colour
        XYZ, L*a*b*, sRGB cut off at the gamut with the word whether it was.

    Raises
    ------
    ValueError
        For a value out of range or a last axis that is not 3 long. NaN gives the colour NaN.

    Source: `cie_015`, `iec_61966_2_1`.

    >>> lab_colour([43.01, 6.14, -43.65]).is_in_srgb, lab_colour([60, -100, 60]).is_in_srgb
    (True, False)
    """
    values = lab_values(lab)
    colour = _library()
    xyz = np.asarray(colour.Lab_to_XYZ(values))
    return _colour(100 * xyz, values, np.asarray(colour.XYZ_to_sRGB(xyz)))


def _colour(xyz: np.ndarray, lab: np.ndarray, rgb: np.ndarray) -> Colour:
    beyond = np.max(np.maximum(-rgb, rgb - 1), axis=-1)
    excess = np.where(beyond > _GAMUT_SLACK, beyond, np.where(np.isnan(beyond), np.nan, 0.0))
    return Colour(xyz, lab, np.clip(rgb, 0, 1), plain(excess == 0), plain(excess))


def lab_values(lab) -> np.ndarray:
    """L*a*b* as an array of floats, refused where it cannot be one.

    Parameters
    ----------
    lab : array
        L* (0 to 120), a*, b* (−500 to 500) along the last axis.

    Returns
    -------
    array
        The same numbers.

    Raises
    ------
    ValueError
        For a value out of range or a last axis that is not 3 long. NaN passes.

    Source: `cie_015`.

    >>> lab_values((50, 0, 0))
    array([50.,  0.,  0.])
    """
    values = _triples("L*, a* or b*", lab, at_least=-500, at_most=500)
    within("L*", values[..., 0], at_least=0, at_most=120)
    return values


def _triples(name: str, values, **limits) -> np.ndarray:
    found = within(name, values, **limits)
    if found.ndim == 0 or found.shape[-1] != 3:
        raise ValueError(f"a colour must hold three numbers along the last axis, not {found.shape}")
    return found


@formula(
    "ΔE00 = √((ΔL′/SL)² + (ΔC′/SC)² + (ΔH′/SH)² + RT·(ΔC′/SC)(ΔH′/SH)); ΔE76 = √(ΔL*² + Δa*² + Δb*²)",
    source="sharma_2005 cie_015",
    holds_when="both colours for the same light and observer; ΔE00 was fitted to differences below about 5",
    library="colour.delta_E",
)
def colour_difference(lab_1, lab_2, rule: str = "CIE 2000"):
    """How far two colours lie apart.

    Parameters
    ----------
    lab_1, lab_2 : array
        L* (0 to 120), a*, b* along the last axis; they broadcast.
    rule : str
        "CIE 2000" (all weights 1) or "CIE 1976".

    Returns
    -------
    float or array
        Colour difference ΔE [-]; about 1 is just visible side by side, as a rule of thumb.

    Raises
    ------
    ValueError
        For a value out of range or an unknown rule. NaN gives NaN in its place.

    Source: `sharma_2005`, `cie_015`.

    >>> round(colour_difference([50, 2.6772, -79.7751], [50, 0, -82.7485]), 4)
    2.0425
    """
    if rule not in _RULES:
        raise ValueError(f"the rule of a colour difference must be one of {', '.join(_RULES)}, not {rule!r}")
    first, second = np.broadcast_arrays(lab_values(lab_1), lab_values(lab_2))
    return plain(_library().delta_E(first, second, method=rule))
