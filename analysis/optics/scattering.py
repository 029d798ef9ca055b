"""Light scattered by a rough interface: why a filled, index-matched texture on a lens stays clear."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within

LARGEST_PHASE_RAD = 1.0  # rad of rms phase; a rougher interface scatters nearly all and the estimate only says "much"
_LIMITS = (
    "An estimate of all scattered light: a haze reading counts only what leaves by more than 2.5°, so a coarse texture "
    "reads lower. One interface, gentle slopes, features wider than the wavelength."
)


@dataclass(frozen=True, slots=True, eq=False)
class TextureClarity:
    """Estimated share of the transmitted light that a texture scatters, dry and filled [%]."""

    dry_scatter_percent: float | np.ndarray
    filled_scatter_percent: float | np.ndarray
    is_within_limits: bool | np.ndarray  # both estimates lie where the theory holds
    note: str


@formula(
    "φ = 2π·|n2 − n1|·σ/λ",
    source="scalar_scattering",
    holds_when="normal incidence, transmission",
)
def rms_phase(roughness_nm, index_1, index_2, wavelength_nm=550.0):
    """Root-mean-square phase that a rough interface presses on the light passing it.

    Parameters
    ----------
    roughness_nm : float or array
        Rms roughness Rq of the interface [nm], from 0.
    index_1, index_2 : float or array
        Refractive indices on both sides [-], above 0.
    wavelength_nm : float or array
        Wavelength in vacuum [nm], above 0.

    Returns
    -------
    float or array
        Phase [rad].

    Raises
    ------
    ValueError
        For a value out of range. NaN gives NaN in its place.

    Source: `scalar_scattering`.

    >>> round(rms_phase(100, 1.0, 1.498), 3)
    0.569
    """
    height = within("rms roughness", roughness_nm, "nm", at_least=0)
    wavelength = within("wavelength", wavelength_nm, "nm", above=0)
    step = abs(_index(index_2) - _index(index_1))
    return plain(2 * math.pi * step * height / wavelength)


@formula(
    "TIS = 1 − exp(−(2π·Δn·σ/λ)²)",
    source="scalar_scattering",
    holds_when="rms phase below 1 rad, gentle slopes, features wider than the wavelength, normal incidence",
)
def transmission_scatter(roughness_nm, index_1, index_2, wavelength_nm=550.0):
    """Share of the transmitted light that a rough interface scatters: an upper estimate of its haze.

    Parameters
    ----------
    roughness_nm : float or array
        Rms roughness Rq of the interface [nm], from 0.
    index_1, index_2 : float or array
        Refractive indices on both sides [-], above 0.
    wavelength_nm : float or array
        Wavelength in vacuum [nm], above 0.

    Returns
    -------
    float or array
        Scattered share [-], 0 to 1. A haze reading counts only light that leaves by more than 2.5°; a texture
        wider than some 20 wavelengths scatters mostly inside that cone and reads lower.

    Raises
    ------
    ValueError
        For a value out of range. NaN gives NaN in its place.

    Source: `scalar_scattering`.

    >>> round(transmission_scatter(100, 1.0, 1.498), 3), round(transmission_scatter(100, 1.49, 1.498), 5)
    (0.277, 8e-05)
    """
    return plain(-np.expm1(-np.square(rms_phase(roughness_nm, index_1, index_2, wavelength_nm))))


@formula(
    "TIS = 1 − exp(−(4π·n1·cos θ·σ/λ)²)",
    source="scalar_scattering",
    holds_when="4π·n1·cos θ·σ/λ below 1, gentle slopes, features wider than the wavelength",
)
def reflection_scatter(roughness_nm, wavelength_nm=550.0, angle_deg=0.0, ambient=1.0):
    """Share of the reflected light that a rough surface scatters out of the mirror direction.

    Parameters
    ----------
    roughness_nm : float or array
        Rms roughness Rq [nm], from 0.
    wavelength_nm : float or array
        Wavelength in vacuum [nm], above 0.
    angle_deg : float or array
        Angle of incidence [deg], 0 to 90.
    ambient : float or array
        Refractive index above the surface [-], above 0.

    Returns
    -------
    float or array
        Scattered share of the reflected light [-], 0 to 1.

    Raises
    ------
    ValueError
        For a value out of range. NaN gives NaN in its place.

    Source: `scalar_scattering`.

    >>> round(reflection_scatter(10), 4)
    0.0509
    """
    height = within("rms roughness", roughness_nm, "nm", at_least=0)
    wavelength = within("wavelength", wavelength_nm, "nm", above=0)
    angle = np.radians(within("angle of incidence", angle_deg, "deg", at_least=0, at_most=90))
    return plain(-np.expm1(-np.square(4 * math.pi * _index(ambient) * np.cos(angle) * height / wavelength)))


@formula(
    "TIS of solid against air (dry) and of solid against oil (filled)",
    source="scalar_scattering",
    holds_when="texture filled everywhere with a smooth surface above; oil clear and without bubbles",
)
def texture_clarity(roughness_nm, solid_index, oil_index, wavelength_nm=550.0) -> TextureClarity:
    """How much a texture on a lens or window scatters when dry and when filled with oil.

    Parameters
    ----------
    roughness_nm : float or array
        Rms roughness Rq of the texture [nm], from 0.
    solid_index, oil_index : float or array
        Refractive indices of the solid and of the oil [-], above 0.
    wavelength_nm : float or array
        Wavelength in vacuum [nm], above 0.

    Returns
    -------
    TextureClarity
        Scattered shares of the transmitted light [%], whether both lie where the theory holds, and its limits in
        words.

    Raises
    ------
    ValueError
        For a value out of range. NaN gives NaN in its place.

    Source: `scalar_scattering`.

    >>> clarity = texture_clarity(100, 1.498, 1.49)
    >>> round(clarity.dry_scatter_percent, 1), round(clarity.filled_scatter_percent, 3)
    (27.7, 0.008)
    """
    dry = np.asarray(transmission_scatter(roughness_nm, 1.0, solid_index, wavelength_nm))
    filled = np.asarray(transmission_scatter(roughness_nm, oil_index, solid_index, wavelength_nm))
    phases = [rms_phase(roughness_nm, index, solid_index, wavelength_nm) for index in (1.0, oil_index)]
    is_within = np.maximum(*phases) <= LARGEST_PHASE_RAD
    beyond = int(np.sum(np.maximum(*phases) > LARGEST_PHASE_RAD))
    note = _LIMITS if not beyond else f"{_LIMITS} Too rough for the theory in {beyond} of {np.size(is_within)} cases."
    return TextureClarity(plain(100 * dry), plain(100 * filled), plain(is_within), note)


def _index(value):
    return within("refractive index", value, above=0)
