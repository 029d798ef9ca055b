"""Reflectance and transmittance of surfaces, single films, stacks of films and plates."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.optics.constants import OpticalConstants, complex_index
from analysis.ranges import plain, within

LARGEST_THICKNESS_NM = 1e5  # above 0.1 mm no film is even enough to show interference
STEEPEST_ANGLE_DEG = 89.0  # nearer to grazing, cos(arcsin(sin θ)) loses the digits of the transmittance
_POLARISATIONS = ("unpolarised", "s", "p")
_GRAZING = 1e-4  # cosine of the angle inside a layer
_OPAQUE = 34.9  # exponent of the amplitude in one pass; tmm cuts at 35 itself, but prints when it does

LayerIndex = OpticalConstants | complex | np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class StackResponse:
    """Shares of the incident light that a stack sends back, lets through and absorbs [-]."""

    reflectance: float | np.ndarray
    transmittance: float | np.ndarray
    absorptance: float | np.ndarray


@formula(
    "R = |(n0 − n1)/(n0 + n1)|²",
    source="thin_film_airy",
    holds_when="one smooth interface, normal incidence, n0 without absorption",
)
def surface_reflectance(index, ambient=1.0):
    """Share of light that one bare smooth surface reflects at normal incidence.

    Parameters
    ----------
    index : float, complex or array
        Refractive index n + i·k of the solid [-], n above 0, k from 0.
    ambient : float or array
        Refractive index of what lies above it [-], above 0; 1 is air.

    Returns
    -------
    float or array
        Reflectance [-], 0 to 1.

    Raises
    ------
    ValueError
        For an index out of range. NaN gives NaN in its place.

    Source: `thin_film_airy`.

    >>> round(surface_reflectance(1.5), 4)
    0.04
    """
    above = within("refractive index of the ambient", ambient, above=0)
    return plain(_share(_amplitude(above, complex_index("solid", index, None))))


@formula(
    "R = |(r01 + r12·e^(2iβ))/(1 + r01·r12·e^(2iβ))|², β = 2π·n1·d/λ, rjk = (nj − nk)/(nj + nk)",
    source="thin_film_airy",
    holds_when="one even, smooth film on a thick substrate, normal incidence, light coherent across the film",
)
def film_reflectance(thickness_nm, wavelength_nm, film: LayerIndex, substrate: LayerIndex, ambient=1.0):
    """Share of light that a substrate with one film reflects at normal incidence.

    Parameters
    ----------
    thickness_nm : float or array
        Film thickness [nm], 0 to 100000.
    wavelength_nm : float or array
        Wavelength in vacuum [nm], above 0; broadcasts with the thickness: `thickness[:, None]` with a row of
        wavelengths gives a table.
    film, substrate : OpticalConstants, complex or array
        Table of a material, or n + i·k [-].
    ambient : float or array
        Refractive index of what lies above the film [-], above 0.

    Returns
    -------
    float or array
        Reflectance [-], 0 to 1.

    Raises
    ------
    ValueError
        For a value out of range or a wavelength outside a table. NaN gives NaN in its place.

    Source: `thin_film_airy`; Airy's sum, equal to the transfer matrix of one film.

    >>> from analysis.optics.constants import AMORPHOUS_TITANIA, TITANIUM
    >>> round(film_reflectance(50, 550, AMORPHOUS_TITANIA, TITANIUM), 12)
    0.157077034443
    """
    thickness = within("film thickness", thickness_nm, "nm", at_least=0, at_most=LARGEST_THICKNESS_NM)
    wavelength = within("wavelength", wavelength_nm, "nm", above=0)
    above = within("refractive index of the ambient", ambient, above=0)
    layer = complex_index("film", film, wavelength)
    below = complex_index("substrate", substrate, wavelength)
    with np.errstate(invalid="ignore"):  # complex arithmetic raises this flag for NaN, which shall stay NaN
        upper, lower = _amplitude(above, layer), _amplitude(layer, below)
        turn = np.exp(4j * math.pi * layer * thickness / wavelength)
        return plain(_share((upper + lower * turn) / (1 + upper * lower * turn)))


def _amplitude(upper, lower):
    with np.errstate(invalid="ignore"):  # as above
        return (upper - lower) / (upper + lower)


def _share(amplitude):
    return amplitude.real**2 + amplitude.imag**2


@formula(
    "(v0, w0) = M01·Π Mj·(t, 0), Mj = phase of layer j × interface j to j+1; R = |r|²",
    source="byrnes_2016",
    holds_when="even, smooth layers, coherent light, ambient without absorption",
    library="tmm.coh_tmm",
)
def stack_response(
    layers: list[tuple[LayerIndex, float]],
    substrate: LayerIndex,
    wavelength_nm,
    angle_deg=0.0,
    *,
    ambient: float = 1.0,
    polarisation: str = "unpolarised",
) -> StackResponse:
    """Reflectance, transmittance and absorptance of any stack of films, straight on or at an angle.

    Parameters
    ----------
    layers : list of (index, thickness)
        From the outside inwards: table or n + i·k [-], thickness [nm], 0 to 100000. An index may be an array
        that broadcasts with the wavelengths. An empty list is the bare substrate.
    substrate : OpticalConstants, complex or array
        What lies under the stack, without an end.
    wavelength_nm, angle_deg : float or array
        Wavelength in vacuum [nm], above 0, and angle of incidence [deg], 0 to 89; they broadcast.
    ambient : float
        Refractive index above the stack [-], above 0.
    polarisation : str
        "unpolarised" (mean of both), "s" or "p".

    Returns
    -------
    StackResponse
        Shares of the incident light [-]; the transmittance is into the substrate, before its rear side.

    Raises
    ------
    ValueError
        For a value out of range or an unknown polarisation. A NaN wavelength or angle gives NaN in its place.

    Source: `byrnes_2016`.

    >>> round(stack_response([(1.38, 99.638)], 1.498, 550).reflectance, 5)
    0.01427
    """
    if polarisation not in _POLARISATIONS:
        raise ValueError(f"polarisation must be one of {', '.join(_POLARISATIONS)}, not {polarisation!r}")
    wavelength = within("wavelength", wavelength_nm, "nm", above=0)
    angle = within("angle of incidence", angle_deg, "deg", at_least=0, at_most=STEEPEST_ANGLE_DEG)
    within("refractive index of the ambient", ambient, above=0, has_nan=False)
    depths = [float(_thickness(depth)) for _, depth in layers]
    indices = [complex_index(f"layer {place}", index, wavelength) for place, (index, _) in enumerate(layers, 1)]
    indices.append(complex_index("substrate", substrate, wavelength))
    wavelength, angle, *indices = np.broadcast_arrays(wavelength, angle, *indices)
    shares = np.full((2, wavelength.size), np.nan)
    for place, (at, tilt, *inner) in enumerate(zip(wavelength.flat, angle.flat, *(i.flat for i in indices))):  # noqa: B905
        if not np.isnan([at, tilt, *inner]).any():
            shares[:, place] = _one_response([ambient, *inner], depths, math.radians(tilt), at, polarisation)
    reflectance, transmittance = shares.reshape(2, *wavelength.shape)
    rest = 1 - reflectance - transmittance
    rest = np.where(abs(rest) < 1e-12, 0.0, rest)  # rounding of a clear stack
    return StackResponse(plain(reflectance), plain(transmittance), plain(rest))


def _thickness(depth):
    if np.ndim(depth) > 0:
        raise ValueError(f"layer thickness must be one number, not an array of shape {np.shape(depth)}")
    return within("layer thickness", depth, "nm", at_least=0, at_most=LARGEST_THICKNESS_NM, has_nan=False)


def _one_response(indices: list, depths: list[float], angle: float, wavelength: float, polarisation: str):
    """Reflectance and transmittance at one wavelength and angle."""
    from tmm import coh_tmm, list_snell

    indices = np.array(indices, dtype=complex)
    if (abs(np.cos(list_snell(indices, angle))[1:-1]) < _GRAZING).any():
        angle -= _GRAZING**2  # light that runs along a layer makes 0/0; R and T are smooth there
    fading = 2 * math.pi * abs((indices * np.cos(list_snell(indices, angle))).imag) / wavelength
    # What is thicker than opaque is as opaque: tmm would print a remark, or e^(thickness) would overflow.
    held = [
        depth if depth * fade < _OPAQUE else _OPAQUE / fade for depth, fade in zip(depths, fading[1:-1], strict=True)
    ]
    kinds = "sp" if polarisation == "unpolarised" else polarisation
    found = [coh_tmm(kind, indices, [math.inf, *held, math.inf], angle, wavelength) for kind in kinds]
    return np.mean([[one["R"], one["T"]] for one in found], axis=0)


@formula(
    "T = (1 − R1)(1 − R2)·τ/(1 − R1·R2·τ²); for R1 = R2 = R and τ = 1: T = (1 − R)/(1 + R)",
    source="plate_two_surfaces",
    holds_when="plate much thicker than the coherence length, clear or evenly absorbing, nothing scattered",
)
def plate_transmittance(front_reflectance, back_reflectance=None, internal_transmittance=1.0):
    """Share of light that passes a plate or lens with its two surfaces, all passes summed.

    Parameters
    ----------
    front_reflectance, back_reflectance : float or array
        Reflectance of each surface [-], 0 to 1; the back is like the front when it is not given.
    internal_transmittance : float or array
        Share that survives one pass through the material [-], 0 to 1; 1 is clear.

    Returns
    -------
    float or array
        Transmittance [-]. Two totally reflecting surfaces let nothing through.

    Raises
    ------
    ValueError
        For a share outside 0 to 1. NaN gives NaN in its place.

    Source: `plate_two_surfaces`.

    >>> round(plate_transmittance(surface_reflectance(1.498)), 5)
    0.92355
    """
    front = _unit("front reflectance", front_reflectance)
    back = front if back_reflectance is None else _unit("back reflectance", back_reflectance)
    inside = _unit("internal transmittance", internal_transmittance)
    through, returned = (1 - front) * (1 - back) * inside, front * back * inside**2
    total = returned == 1  # then nothing enters: 0/0 stands for 0
    return plain(np.where(total, 0.0, through / np.where(total, 1.0, 1 - returned)))


@formula(
    "R = R1 + R2·(1 − R1)²·τ²/(1 − R1·R2·τ²)",
    source="plate_two_surfaces",
    holds_when="plate much thicker than the coherence length, clear or evenly absorbing, nothing scattered",
)
def plate_reflectance(front_reflectance, back_reflectance=None, internal_transmittance=1.0):
    """Share of light that a plate or lens reflects with both surfaces, all passes summed.

    Parameters
    ----------
    front_reflectance, back_reflectance, internal_transmittance : float or array
        As for `plate_transmittance` [-].

    Returns
    -------
    float or array
        Reflectance [-].

    Raises
    ------
    ValueError
        For a share outside 0 to 1. NaN gives NaN in its place.

    Source: `plate_two_surfaces`.

    >>> round(plate_reflectance(surface_reflectance(1.498)), 5)
    0.07645
    """
    front = _unit("front reflectance", front_reflectance)
    back = front if back_reflectance is None else _unit("back reflectance", back_reflectance)
    inside = _unit("internal transmittance", internal_transmittance)
    returned = front * back * inside**2
    total = returned == 1
    again = back * (1 - front) ** 2 * inside**2 / np.where(total, 1.0, 1 - returned)
    return plain(front + again)


def _unit(name: str, value):
    return within(name, value, at_least=0, at_most=1)
