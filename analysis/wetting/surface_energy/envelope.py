"""The wetting envelope: which liquids, by their polar and dispersive part, a solid of known energy lets spread."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import within


@formula(
    "γL = [2(√(γSᵈ·cos φ) + √(γSᵖ·sin φ))/((1 + cos θ)(cos φ + sin φ))]²·(cos φ + sin φ), tan φ = γLᵖ/γLᵈ",
    source="owens_wendt_1969",
    holds_when="smooth, rigid, inert solid; liquids of the component set that the parts were determined with",
)
def wetting_envelope(
    dispersive: float, polar: float, angle_deg: float = 0.0, points: int = 91
) -> tuple[np.ndarray, np.ndarray]:
    """Curve of liquids that meet a solid at one contact angle, in the plane of dispersive and polar part.

    Parameters
    ----------
    dispersive, polar : float
        Parts of the solid's surface energy [mN/m], at least 0, not both 0.
    angle_deg : float
        The contact angle [deg], 0 up to below 180; 0 gives the limit of spreading.
    points : int
        Number of points, at least 2, at equal steps of φ from 0 to 90 deg.

    Returns
    -------
    tuple of numpy.ndarray
        Dispersive and polar part of the liquids on the curve [mN/m]. A liquid nearer to the origin has a
        smaller angle.

    Raises
    ------
    ValueError
        For values out of range, NaN, or more than one number at a time.

    Source: `owens_wendt_1969`.

    >>> apolar, polar = wetting_envelope(30, 8)
    >>> round(float(apolar[0]), 9), round(float(polar[-1]), 9)
    (30.0, 8.0)
    """
    _check(dispersive, polar, angle_deg, points)
    phi = np.linspace(0, np.pi / 2, int(points))
    cosine, sine = np.cos(phi), np.sin(phi)
    cosine[-1] = 0.0  # exactly: its root would carry the round-off of π/2 into the eighth digit
    together = cosine + sine
    reach = (2 * (np.sqrt(dispersive * cosine) + np.sqrt(polar * sine)) / (1 + np.cos(np.radians(angle_deg)))) ** 2
    return reach * cosine / together**2, reach * sine / together**2


def _check(dispersive: ArrayLike, polar: ArrayLike, angle_deg: ArrayLike, points: int) -> None:
    for name, value in (("dispersive part", dispersive), ("polar part", polar), ("contact angle", angle_deg)):
        if np.ndim(value) > 0:
            raise ValueError(f"{name} must be one number, not an array of shape {np.shape(value)}")
    apolar = within("dispersive part", dispersive, "mN/m", at_least=0, has_nan=False)
    polar_part = within("polar part", polar, "mN/m", at_least=0, has_nan=False)
    if apolar + polar_part <= 0:
        raise ValueError("a surface energy of 0 mN/m has no envelope")
    within("contact angle", angle_deg, "deg", at_least=0, below=180, has_nan=False)
    if within("number of points", points, at_least=2, has_nan=False) % 1:
        raise ValueError(f"number of points must be a whole number, not {points:g}")
