"""What people call a colour, and the order of colours that a growing film shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.optics.colorimetry import lab_values
from analysis.optics.film_colour import THICKEST_COLOUR_NM, film_colour
from analysis.optics.reflectance import LayerIndex
from analysis.ranges import plain, within

# Upper end of the hue angle [deg], word, word as a tint. Borders between names are a habit, not a measurement.
_HUES = (
    (40.0, "red", "reddish"),
    (70.0, "orange", "orange-tinted"),
    (110.0, "yellow", "yellowish"),
    (170.0, "green", "greenish"),
    (225.0, "blue-green", "blue-greenish"),
    (295.0, "blue", "bluish"),
    (315.0, "violet", "violet-tinted"),
    (345.0, "purple", "purplish"),
    (360.0, "red", "reddish"),
)
_GREY, _TINT = 5.0, 15.0  # chroma below which a colour is called grey, or only tinted
_DARK, _LIGHT = 35.0, 62.0  # lightness


@dataclass(frozen=True, slots=True)
class ColourSpan:
    """A stretch of film thickness over which the film has one colour name."""

    name: str
    from_nm: float
    to_nm: float


@formula("h = atan2(b*, a*)", source="cie_015", holds_when="chroma above 0; the hue of a grey is arbitrary")
def hue_angle_deg(lab):
    """Hue angle of a colour in the a*b* plane: 0 reddish, 90 yellow, 180 green, 270 blue.

    Parameters
    ----------
    lab : array
        L* (0 to 120), a*, b* along the last axis.

    Returns
    -------
    float or array
        Hue angle [deg], from 0 to below 360; 0 for a* = b* = 0.

    Raises
    ------
    ValueError
        For a value out of range. NaN gives NaN in its place.

    Source: `cie_015`.

    >>> hue_angle_deg([50, 0, -20])
    270.0
    """
    values = lab_values(lab)
    turned = np.degrees(np.arctan2(values[..., 2], values[..., 1])) % 360
    return plain(np.where(turned == 360, 0.0, turned))  # a tiny negative angle is rounded to the full turn


@formula("C* = √(a*² + b*²)", source="cie_015", holds_when="any colour")
def chroma(lab):
    """Chroma of a colour: how far it lies from grey.

    Parameters
    ----------
    lab : array
        L* (0 to 120), a*, b* along the last axis.

    Returns
    -------
    float or array
        Chroma [-], from 0.

    Raises
    ------
    ValueError
        For a value out of range. NaN gives NaN in its place.

    Source: `cie_015`.

    >>> chroma([50, 3, 4])
    5.0
    """
    values = lab_values(lab)
    return plain(np.hypot(values[..., 1], values[..., 2]))


@formula(
    "name by hue angle; grey below C* 5, a tint below 15; dark below L* 35, light above 62",
    source="common_practice",
    holds_when="for a label only; people differ about the borders",
)
def colour_name(lab):
    """Everyday name of a colour, such as "light blue" or "yellowish".

    Parameters
    ----------
    lab : array
        L* (0 to 120), a*, b* along the last axis.

    Returns
    -------
    str or array of str
        Name; empty for a colour with NaN.

    Raises
    ------
    ValueError
        For a value out of range.

    Source: `common_practice`.

    >>> colour_name([65.1, -8.5, -24.8])
    'light blue'
    """
    values = lab_values(lab)
    hues, chromas = np.atleast_1d(hue_angle_deg(values)), np.atleast_1d(chroma(values))
    lightness = np.atleast_1d(values[..., 0])
    named = [_name(*one) for one in zip(lightness.flat, chromas.flat, hues.flat, strict=True)]
    return named[0] if values.ndim == 1 else np.array(named, dtype=object).reshape(values.shape[:-1])


def _name(lightness: float, vividness: float, hue_deg: float) -> str:
    if np.isnan([lightness, vividness]).any():
        return ""
    shade = "dark " if lightness < _DARK else "light " if lightness > _LIGHT else ""
    if vividness < _GREY:
        return f"{shade}grey"
    word, tint = next((word, tint) for end, word, tint in _HUES if hue_deg <= end)
    if vividness < _TINT:
        return tint
    return "pink" if (shade, word) == ("light ", "red") else f"{shade}{word}"


@formula(
    "names of the colours of film(d) for rising d",
    source="thin_film_airy common_practice",
    holds_when="as for the colour of a film",
)
def colour_sequence(
    film: LayerIndex, substrate: LayerIndex, *, ambient: float = 1.0, low_nm: float = 0.0, high_nm: float = 200.0
) -> tuple[ColourSpan, ...]:
    """The colours that a growing film passes through, in order, with the thickness of each.

    Parameters
    ----------
    film, substrate : OpticalConstants or complex
        As in `film_colour`.
    ambient : float
        Refractive index above the film [-].
    low_nm, high_nm : float
        First and last thickness [nm], 0 to 1000; looked at every nanometre.

    Returns
    -------
    tuple of ColourSpan
        One for each change of name: from its first thickness up to that of the next [nm].

    Raises
    ------
    ValueError
        For a value out of range or NaN.

    Source: `thin_film_airy`, `common_practice`.

    >>> from analysis.optics.constants import AMORPHOUS_TITANIA, TITANIUM
    >>> [span.name for span in colour_sequence(AMORPHOUS_TITANIA, TITANIUM, high_nm=60)][1]
    'yellowish'
    """
    low = float(within("first thickness", low_nm, "nm", at_least=0, at_most=THICKEST_COLOUR_NM, has_nan=False))
    high = float(within("last thickness", high_nm, "nm", above=low, at_most=THICKEST_COLOUR_NM, has_nan=False))
    steps = max(1, np.ceil(high - low - 1e-9))  # a last one as short as a rounding error is none
    thickness = low + np.arange(steps)
    names = colour_name(film_colour(thickness, film, substrate, ambient).lab)
    starts = [0, *(np.flatnonzero(names[1:] != names[:-1]) + 1)]
    ends = [*thickness[starts[1:]], high]
    return tuple(
        ColourSpan(names[start], float(thickness[start]), float(end)) for start, end in zip(starts, ends, strict=True)
    )
