"""Quarter-wave anti-reflection layers, porous ones among them, and what filling the pores with oil does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.optics.effective_index import effective_index
from analysis.optics.reflectance import film_reflectance, plate_transmittance, surface_reflectance
from analysis.ranges import plain, within


@dataclass(frozen=True, slots=True, eq=False)
class FilledLayer:
    """A porous quarter-wave layer dry and with its pores filled: indices, and shares of light per surface [-]."""

    thickness_nm: float | np.ndarray  # a quarter wave of the dry layer
    dry_index: float | np.ndarray
    filled_index: float | np.ndarray
    bare_reflectance: float | np.ndarray  # of the substrate without a layer
    dry_reflectance: float | np.ndarray
    filled_reflectance: float | np.ndarray
    dry_transmittance: float | np.ndarray  # of a clear plate with the layer on both sides
    filled_transmittance: float | np.ndarray

    @property
    def effect_lost(self) -> float | np.ndarray:
        """Share of the gain over the bare surface that filling takes away; above 1: worse than bare [-]."""
        gain = np.subtract(self.bare_reflectance, self.dry_reflectance)
        with np.errstate(divide="ignore", invalid="ignore"):  # a layer without any gain has nothing to lose
            return plain(np.subtract(self.filled_reflectance, self.dry_reflectance) / np.where(gain > 0, gain, np.nan))


@formula("n = √(n0·ns)", source="quarter_wave_layer", holds_when="one layer without absorption, normal incidence")
def quarter_wave_index(substrate_index, ambient=1.0):
    """Refractive index of the single layer that takes all reflection away at one wavelength.

    Parameters
    ----------
    substrate_index, ambient : float or array
        Refractive indices of substrate and of what lies above [-], above 0.

    Returns
    -------
    float or array
        Ideal index [-]. For common lenses it is 1.22 to 1.26, which only porous layers reach.

    Raises
    ------
    ValueError
        For an index not above 0. NaN gives NaN in its place.

    Source: `quarter_wave_layer`.

    >>> round(quarter_wave_index(1.498), 4)
    1.2239
    """
    return plain(np.sqrt(_index("ambient", ambient) * _index("substrate", substrate_index)))


@formula("d = (2m − 1)·λ/(4n)", source="quarter_wave_layer", holds_when="layer without absorption, normal incidence")
def quarter_wave_thickness_nm(index, wavelength_nm=550.0, order=1):
    """Thickness at which a layer is a quarter of a wave, or an odd number of quarters.

    Parameters
    ----------
    index : float or array
        Refractive index of the layer [-], above 0.
    wavelength_nm : float or array
        Design wavelength in vacuum [nm], above 0.
    order : int or array
        1 for one quarter, 2 for three quarters, … [-].

    Returns
    -------
    float or array
        Thickness [nm].

    Raises
    ------
    ValueError
        For a value out of range or an order that is no whole number. NaN gives NaN in its place.

    Source: `quarter_wave_layer`.

    >>> round(quarter_wave_thickness_nm(1.38), 3)
    99.638
    """
    number = within("order", order, at_least=1)
    broken = number % 1 > 0
    if broken.any():
        raise ValueError(f"order must be a whole number, not {number[broken].flat[0]:g}")
    wavelength = within("wavelength", wavelength_nm, "nm", above=0)
    return plain((2 * number - 1) * wavelength / (4 * _index("layer", index)))


@formula(
    "R = ((n0·ns − nf²)/(n0·ns + nf²))²",
    source="quarter_wave_layer",
    holds_when="at the design wavelength, layer without absorption, normal incidence",
)
def quarter_wave_reflectance(film_index, substrate_index, ambient=1.0):
    """Share of light that one surface with a quarter-wave layer reflects at its design wavelength.

    Parameters
    ----------
    film_index, substrate_index, ambient : float or array
        Refractive indices of layer, substrate and of what lies above [-], above 0.

    Returns
    -------
    float or array
        Reflectance [-]. Away from the design wavelength: `film_reflectance`, or `stack_response` at an angle.

    Raises
    ------
    ValueError
        For an index not above 0. NaN gives NaN in its place.

    Source: `quarter_wave_layer`.

    >>> round(quarter_wave_reflectance(1.38, 1.498), 6)
    0.014267
    """
    outer = _index("ambient", ambient) * _index("substrate", substrate_index)
    inner = _index("layer", film_index) ** 2
    return plain(((outer - inner) / (outer + inner)) ** 2)


@formula(
    "R of a layer λ/(4·n_dry) thick with n_dry(p, air) against n_filled(p, oil)",
    source="quarter_wave_layer thin_film_airy volume_average_index bruggeman_1935 lorentz_lorenz",
    holds_when="pores far below the wavelength, all filled, no oil standing above the layer",
)
def filled_quarter_wave(
    substrate_index, solid_index, porosity, oil_index, wavelength_nm=550.0, *, rule: str = "volume_average"
) -> FilledLayer:
    """What filling the pores of a quarter-wave anti-reflection layer with oil does to it.

    Parameters
    ----------
    substrate_index, solid_index, oil_index : float or array
        Refractive indices of substrate, of the layer's solid and of the oil [-], above 0.
    porosity : float or array
        Share of pores in the layer's volume [-], 0 to 1.
    wavelength_nm : float or array
        Design wavelength [nm], above 0; the layer is a quarter wave of the dry index.
    rule : str
        How the indices mix, as in `effective_index`.

    Returns
    -------
    FilledLayer
        Dry and filled index, reflectance of one surface bare, dry and filled at the design wavelength, and
        transmittance of a clear plate with both sides alike. Oil that stands above the layer adds the reflection
        of its own surface (3 to 4 %) on top.

    Raises
    ------
    ValueError
        For a value out of range or an unknown rule. NaN gives NaN in its place.

    Source: `quarter_wave_layer`, `thin_film_airy`.

    >>> layer = filled_quarter_wave(1.498, 1.46, 0.5684, 1.38)
    >>> round(layer.dry_index, 3), round(layer.filled_index, 3), round(layer.filled_reflectance, 4)
    (1.22, 1.415, 0.022)
    """
    dry = effective_index(solid_index, 1.0, porosity, rule=rule)
    filled = effective_index(solid_index, oil_index, porosity, rule=rule)
    depth = quarter_wave_thickness_nm(dry, wavelength_nm)
    held = [film_reflectance(depth, wavelength_nm, index, substrate_index) for index in (dry, filled)]
    through = [plate_transmittance(share) for share in held]
    return FilledLayer(depth, dry, filled, surface_reflectance(substrate_index), *held, *through)


def _index(name: str, value):
    return within(f"refractive index of the {name}", value, above=0)
