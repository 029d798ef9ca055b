"""What a texture offers a lubricant: true area, share of bare tops, and room below the tops.

Lengths in µm. The room is a volume per projected area, µm³/µm² = µm: the thickness of lubricant that just fills
the texture. 10 µm are 1 µL/cm².
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import Numbers, number, said_where
from analysis.film.states import critical_angle_deg
from analysis.formula import formula
from analysis.ranges import plain

_ROUND_TOPS = "round tops: bare only along lines, so the solid fraction is 0"


@dataclass(frozen=True, slots=True)
class Texture:
    """A texture as a lubricant meets it."""

    roughness: Numbers  # true over projected area [-]
    solid_fraction: Numbers  # share of the projected area that flat tops take [-]
    void_um: Numbers  # volume below the tops per projected area [um]
    height_um: Numbers  # from floor to tops [um]
    notes: tuple[str, ...] = ()

    @property
    def critical_angle_deg(self) -> Numbers:
        """Largest angle of a lubricant on the smooth solid with which it fills the texture by itself [deg]."""
        return critical_angle_deg(self.roughness, self.solid_fraction)

    @property
    def void_ul_cm2(self) -> Numbers:
        """The room below the tops as a volume per area [uL/cm2]."""
        return self.void_um / 10


@formula(
    "φ = a²/P², r = 1 + 4aH/P², v = (1 − φ)H",
    source="texture_geometry",
    holds_when="upright posts with square tops on a square lattice, smooth walls",
)
def square_posts(width_um: Numbers, pitch_um: Numbers, height_um: Numbers) -> Texture:
    """Square posts on a square lattice.

    Parameters
    ----------
    width_um : float or array
        Side of a post [um], above 0.
    pitch_um : float or array
        Distance from post to post, centre to centre [um], more than the width.
    height_um : float or array
        Height of the posts [um], 0 or more.

    Returns
    -------
    Texture
        Roughness factor, solid fraction, room below the tops [um].

    Raises
    ------
    ValueError
        For a length out of range, posts that touch, or a single NaN; NaN in an array stays NaN in its place.

    Source: `texture_geometry`.

    >>> square_posts(10, 20, 10).roughness, square_posts(10, 20, 10).void_um
    (2.0, 7.5)
    """
    width, pitch, height = _lattice("width of a post", width_um, pitch_um, height_um)
    return _posts(width**2 / pitch**2, 1 + 4 * width * height / pitch**2, height)


@formula(
    "φ = πd²/(4P²), r = 1 + πdH/P², v = (1 − φ)H",
    source="texture_geometry",
    holds_when="upright cylinders on a square lattice, smooth walls",
)
def cylinder_posts(diameter_um: Numbers, pitch_um: Numbers, height_um: Numbers) -> Texture:
    """Round posts on a square lattice.

    Parameters
    ----------
    diameter_um, pitch_um, height_um : float or array
        Diameter of a post, distance from centre to centre (more than the diameter), height [um].

    Returns
    -------
    Texture
        Roughness factor, solid fraction, room below the tops [um].

    Raises
    ------
    ValueError
        As in `square_posts`.

    Source: `texture_geometry`.

    >>> round(cylinder_posts(10, 20, 10).void_um, 4)
    8.0365
    """
    diameter, pitch, height = _lattice("diameter of a post", diameter_um, pitch_um, height_um)
    return _posts(np.pi * diameter**2 / (4 * pitch**2), 1 + np.pi * diameter * height / pitch**2, height)


@formula(
    "r = 1 + πd/P, v = d − πd²/(4P), P = d + gap",
    source="texture_geometry",
    holds_when="one layer of parallel round fibres on a flat floor (without floor r = πd/P)",
)
def fibres(diameter_um: Numbers, gap_um: Numbers, *, has_floor: bool = True) -> Texture:
    """One layer of parallel round fibres.

    Parameters
    ----------
    diameter_um : float or array
        Diameter of a fibre [um], above 0.
    gap_um : float or array
        Clear distance between two fibres [um], 0 or more.
    has_floor : bool
        The layer lies on a flat solid, whose area counts too.

    Returns
    -------
    Texture
        Filled up to the tops of the fibres; the solid fraction of round tops is 0.

    Raises
    ------
    ValueError
        For a length out of range or a single NaN; NaN in an array stays NaN in its place. For a free layer so
        open that its area lies below the projected one: the film criteria do not describe it.

    Source: `texture_geometry`.

    >>> round(fibres(10, 10).void_um, 4)
    6.073
    """
    diameter, pitch = _strands(diameter_um, gap_um)
    area = np.pi * diameter / pitch + has_floor
    return _layer(area, diameter - np.pi * diameter**2 / (4 * pitch), diameter)


@formula(
    "r = 1 + 2πdℓ/P², v = 2d − πd²ℓ/(2P²), ℓ = √(P² + d²), P = d + gap",
    source="texture_geometry",
    holds_when="plain weave of round wires, crossings touching, each wire straight from crossing to crossing, on a "
    "flat floor (without floor r = 2πdℓ/P²)",
)
def plain_weave(diameter_um: Numbers, gap_um: Numbers, *, has_floor: bool = True) -> Texture:
    """A woven mesh or fabric of round wires with the same gap in both directions.

    Parameters
    ----------
    diameter_um : float or array
        Diameter of a wire [um], above 0.
    gap_um : float or array
        Clear width of an opening [um], 0 or more.
    has_floor : bool
        The mesh lies on a flat solid, whose area counts too.

    Returns
    -------
    Texture
        Filled up to the tops of the crossings, two diameters high; the solid fraction of round tops is 0.

    Raises
    ------
    ValueError
        As in `fibres`, and for wires so dense that they would fill the whole layer.

    Source: `texture_geometry`.

    >>> round(plain_weave(36, 43).void_um, 3)
    43.682
    """
    diameter, pitch = _strands(diameter_um, gap_um)
    length = np.hypot(pitch, diameter)
    void = 2 * diameter - np.pi * diameter**2 * length / (2 * pitch**2)
    if np.any(void <= 0):
        raise ValueError(f"a plain weave of {diameter_um} µm wires cannot have a gap of {gap_um} µm: no room is left")
    return _layer(2 * np.pi * diameter * length / pitch**2 + has_floor, void, 2 * diameter)


@formula(
    "OA = (gap/(d + gap))²",
    source="texture_geometry",
    holds_when="square openings, seen from above",
)
def open_area(diameter_um: Numbers, gap_um: Numbers) -> Numbers:
    """Share of a mesh that is open, seen from above.

    Parameters
    ----------
    diameter_um, gap_um : float or array
        Diameter of a wire and clear width of an opening [um].

    Returns
    -------
    float or array
        Open share [-], 0 to below 1.

    Raises
    ------
    ValueError
        As in `fibres`.

    Source: `texture_geometry`.

    >>> round(open_area(28, 51), 4)
    0.4168
    """
    diameter, pitch = _strands(diameter_um, gap_um)
    return plain(((pitch - diameter) / pitch) ** 2)


@formula(
    "r = r1·r2, φ = φ1·φ2, v = v1 + r1·v2",
    source="texture_geometry",
    holds_when="the fine texture covers all of the coarse one and is small against it",
)
def hierarchical(coarse: Texture, fine: Texture) -> Texture:
    """A fine texture all over a coarse one.

    Parameters
    ----------
    coarse, fine : Texture
        The two textures, each on its own.

    Returns
    -------
    Texture
        Roughness factors and solid fractions multiplied; the room of the fine one counts on all of the true
        area of the coarse one.

    Raises
    ------
    ValueError
        Never of its own.

    Source: `texture_geometry`.

    >>> hierarchical(square_posts(10, 20, 10), square_posts(0.1, 0.2, 0.1)).roughness
    4.0
    """
    is_large = np.asarray(fine.height_um) > 0.1 * np.asarray(coarse.height_um)
    notes = said_where(is_large, "the fine texture is not small against the coarse one: r and room are rough")
    return Texture(
        coarse.roughness * fine.roughness,
        coarse.solid_fraction * fine.solid_fraction,
        coarse.void_um + coarse.roughness * fine.void_um,
        coarse.height_um + fine.height_um,
        tuple(dict.fromkeys((*coarse.notes, *fine.notes, *notes))),
    )


def _posts(fraction, roughness, height) -> Texture:
    return Texture(plain(roughness), plain(fraction), plain((1 - fraction) * height), plain(height + 0 * fraction))


def _layer(area, void, height) -> Texture:
    if np.any(area < 1):
        raise ValueError("the fibres have less area than the ground they cover: the film criteria need 1 or more")
    zero = plain(0.0 * area)
    return Texture(plain(area), zero, plain(void), plain(height + 0 * area), (_ROUND_TOPS,))


def _lattice(name: str, width_um, pitch_um, height_um):
    width = number(name, width_um, unit="µm", above=0)
    pitch = number("pitch", pitch_um, unit="µm", above=0)
    if np.any(width >= pitch):
        raise ValueError(f"{name} must be below the pitch of {pitch_um} µm, not {width_um} µm")
    return width, pitch, number("height", height_um, unit="µm", at_least=0)


def _strands(diameter_um, gap_um):
    diameter = number("diameter", diameter_um, unit="µm", above=0)
    return diameter, diameter + number("gap", gap_um, unit="µm", at_least=0)
