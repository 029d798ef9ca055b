"""Texture from measured heights: an areal map or a profile of a microscope or stylus.

A measured map sees nothing finer than its pixel and nothing below an overhang: the true area is at least what it
says.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import number
from analysis.film.texture import Texture
from analysis.formula import formula

TOP_PERCENTILE = 98.0  # single spikes and dust above it do not make the tops
_PIXEL = "nothing finer than a pixel and nothing below an overhang is seen: the roughness factor is at least this"
_STEEP = "walls steeper than 80° in the data: their area depends on the pixel"
_LINE = "ratio of lengths along one line: that of areas only for grooves across it"


@dataclass(frozen=True, slots=True)
class Topography:
    """A measured texture: heights about the mean plane or line, and what it offers a lubricant."""

    mean_deviation_um: float  # Sa of a map, Ra of a profile
    root_mean_square_um: float  # Sq, Rq
    developed_ratio_pct: float  # Sdr: true less projected area over projected area; of a profile, lengths
    top_plane_um: float  # height of the plane taken as the tops
    texture: Texture


@formula(
    "r = Σ A_triangles/A, Sdr = 100(r − 1), Sa = mean|z − z̄|, Sq = √mean(z − z̄)², v = mean max(0, z_top − z)",
    source="texture_geometry iso_25178_terms",
    holds_when="heights on a regular grid, levelled; pixels much finer than the texture",
)
def height_map(
    heights_um: np.ndarray,
    pixel_um: float | tuple[float, float],
    *,
    top_percentile: float = TOP_PERCENTILE,
    top_um: float | None = None,
    is_levelled: bool = True,
) -> Topography:
    """Roughness factor, solid fraction and room below the tops of a measured map of heights.

    Parameters
    ----------
    heights_um : array
        Heights [um], two-dimensional, at least 2 × 2; holes must be filled before.
    pixel_um : float or tuple of float
        Distance of two points [um], above 0; a pair for rows and columns.
    top_percentile : float
        Percentile of the heights that is taken as the plane of the tops [%], above 0 to 100.
    top_um : float
        Height of the plane of the tops [um], in place of the percentile.
    is_levelled : bool
        False removes the plane of least squares first: a tilted sample has more area and far larger Sa.

    Returns
    -------
    Topography
        Each square of four points is split into triangles along both diagonals and the mean area taken. The
        solid fraction is the share of points at or above the plane of the tops.

    Raises
    ------
    ValueError
        For NaN, fewer points, a pixel size or percentile out of range, or a plane of the tops below the lowest
        height.

    Source: `texture_geometry`, `iso_25178_terms`.

    >>> ramp = np.outer(np.ones(5), np.arange(5.0))
    >>> round(height_map(ramp, 1.0).texture.roughness, 6)
    1.414214
    """
    heights = _heights(heights_um, 2)
    if np.shape(pixel_um) not in ((), (2,)):
        raise ValueError(f"pixel must be one size or a pair for rows and columns, not {pixel_um}")
    rows_um, columns_um = (float(number("pixel", side, unit="µm", above=0)) for side in np.broadcast_to(pixel_um, 2))
    if not is_levelled:
        heights = heights - _plane(heights)
    ratio = float(np.mean(_cell_areas(heights, rows_um, columns_um))) / (rows_um * columns_um)
    return _described(heights, ratio, _slopes(heights, rows_um, columns_um), top_percentile, top_um, _PIXEL)


@formula(
    "r = Σ√(Δx² + Δz²)/L, Ra = mean|z − z̄|, Rq = √mean(z − z̄)², v = mean max(0, z_top − z)",
    source="texture_geometry",
    holds_when="grooves measured across; for any other texture r is a lower bound",
)
def height_profile(
    heights_um: np.ndarray,
    spacing_um: float,
    *,
    top_percentile: float = TOP_PERCENTILE,
    top_um: float | None = None,
    is_levelled: bool = True,
) -> Topography:
    """Roughness factor, solid fraction and room below the tops of a measured profile.

    Parameters
    ----------
    heights_um : array
        Heights along a line [um], at least 2.
    spacing_um : float
        Distance of two points [um], above 0.
    top_percentile, top_um, is_levelled
        As in `height_map`.

    Returns
    -------
    Topography
        Length along the profile over its straight length as roughness factor, with the note that this is the
        ratio of areas for grooves only.

    Raises
    ------
    ValueError
        As in `height_map`.

    Source: `texture_geometry`.

    >>> round(height_profile([0.0, 3.0, 0.0, 3.0], 4.0).texture.roughness, 6)
    1.25
    """
    heights = _heights(heights_um, 1)
    if np.ndim(spacing_um):
        raise ValueError(f"spacing must be one number, not {spacing_um}")
    step = float(number("spacing", spacing_um, unit="µm", above=0))
    if not is_levelled:
        heights = heights - _plane(heights)
    rise = np.diff(heights)
    ratio = float(np.mean(np.hypot(step, rise))) / step
    return _described(heights, ratio, np.abs(rise) / step, top_percentile, top_um, _LINE)


def _heights(given, dimensions: int) -> np.ndarray:
    found = np.asarray(given, dtype=float)
    if found.ndim != dimensions or min(found.shape, default=0) < 2:
        raise ValueError(f"heights must be an array of {dimensions} dimension(s) with at least 2 points in each")
    if not np.isfinite(found).all():
        raise ValueError("heights must be finite: fill or cut holes before")
    return found


def _plane(heights: np.ndarray) -> np.ndarray:
    """Plane or line of least squares; on a regular grid the directions are independent."""
    found = np.full(heights.shape, heights.mean())
    for axis, count in enumerate(heights.shape):
        along = np.arange(count) - (count - 1) / 2
        shaped = along.reshape([-1 if place == axis else 1 for place in range(heights.ndim)])
        slope = np.sum(heights * shaped) / (np.sum(along**2) * heights.size / count)
        found = found + slope * shaped
    return found


def _cell_areas(z: np.ndarray, dy: float, dx: float) -> np.ndarray:
    """Area of each square of four points: mean of the two ways to split it into two triangles."""
    a, b, c, d = z[:-1, :-1], z[:-1, 1:], z[1:, :-1], z[1:, 1:]

    def triangle(along_x, along_y):
        return 0.5 * np.sqrt((dx * dy) ** 2 + (along_x * dy) ** 2 + (along_y * dx) ** 2)

    return 0.5 * (triangle(b - a, c - a) + triangle(d - c, d - b) + triangle(b - a, d - b) + triangle(d - c, c - a))


def _slopes(z: np.ndarray, dy: float, dx: float) -> np.ndarray:
    return np.append(np.abs(np.diff(z, axis=0)).ravel() / dy, np.abs(np.diff(z, axis=1)).ravel() / dx)


def _described(heights, ratio, slopes, top_percentile, top_um, note) -> Topography:
    percentile = float(number("top percentile", top_percentile, unit="%", above=0, at_most=100))
    lowest = float(heights.min())
    top = float(np.percentile(heights, percentile) if top_um is None else number("top", top_um, unit="µm"))
    number("plane of the tops", top, unit="µm", at_least=lowest)
    steep = (_STEEP,) if np.any(slopes > np.tan(np.radians(80))) else ()
    deviation = heights - heights.mean()
    void = float(np.mean(np.maximum(top - heights, 0)))
    fraction = float(np.mean(heights >= top))
    ratio = max(ratio, 1.0)  # of a flat map rounding may leave a little less, which no area has
    texture = Texture(ratio, fraction, void, top - lowest, (note, *steep))
    return Topography(
        float(np.mean(np.abs(deviation))), float(np.sqrt(np.mean(deviation**2))), 100 * (ratio - 1), top, texture
    )
