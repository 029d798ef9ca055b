"""What a surface energy comes out as, with its uncertainty and the caution that belongs to the sample."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.ranges import within

FROM_ANGLES = "scatter of the angles"
FROM_RESIDUALS = "distance of the points from the fit"
NOT_RESOLVED = "polar part not resolved"
_NO_CONSTANT = "the angles depend on the shape of the surface as well: the result is no constant of the material"
SURFACES = {
    "smooth": "",
    "rough": f"Rough surface (EN 828: above about 0.5 µm roughness): {_NO_CONSTANT}; compare only alike samples.",
    "textured": f"Textured surface: {_NO_CONSTANT}. Measure a smooth witness with the same chemistry.",
    "infused": f"Infused surface: the drop rests on lubricant, and {_NO_CONSTANT}. Measure the dry, smooth solid.",
    "not_stated": "Not stated whether the surface is smooth; on a textured, infused or rough one the result is no "
    "constant of the material.",
}


@dataclass(frozen=True, slots=True)
class PartUncertainty:
    """Standard uncertainties of the parts [mN/m], and what they were taken from."""

    basis: str  # FROM_ANGLES or FROM_RESIDUALS
    total: float | None
    dispersive: float | None
    polar: float | None
    correlation: float | None  # of dispersive and polar part; mostly negative, so that the total is known better
    acid_root: float | None = None  # [√(mN/m)]
    base_root: float | None = None


@dataclass(frozen=True, slots=True)
class SurfaceEnergy:
    """Surface free energy of one sample [mN/m = mJ/m²]; None where a model does not give the part."""

    model: str
    set_key: str  # component set of the liquids: results of different sets are not comparable
    liquids: tuple[str, ...]
    angles_deg: tuple[float, ...]
    total: float | None
    dispersive: float | None
    polar: float | None  # None: not resolved, see notes; van Oss–Chaudhury–Good: acid–base part, with its sign
    uncertainties: tuple[PartUncertainty, ...]
    r_squared: float | None
    notes: tuple[str, ...]
    caution: str
    acid_root: float | None = None  # signed root of the electron acceptor number [√(mN/m)]
    base_root: float | None = None
    condition_number: float | None = None
    other_roots: tuple[tuple[float, float], ...] = ()  # further (dispersive, polar) that fit
    is_fitted: bool = True

    @property
    def u_total(self) -> float | None:
        """The largest standard uncertainty of the total [mN/m]; None when none could be computed."""
        return max((part.total for part in self.uncertainties if part.total is not None), default=None)


def surface_caution(surface: str) -> str:
    """What must be said beside a surface energy of such a sample.

    Parameters
    ----------
    surface : str
        "smooth", "rough", "textured", "infused" or "not_stated".

    Returns
    -------
    str
        Empty for a smooth surface.

    Raises
    ------
    ValueError
        For another word.

    Source: `en_828`, `iso_19403_2`.

    >>> surface_caution("textured").split(":")[0]
    'Textured surface'
    """
    if surface not in SURFACES:
        raise ValueError(f"surface must be one of {', '.join(SURFACES)}, not {surface!r}")
    return SURFACES[surface]


def energy(model: str, set_key: str, liquids: Sequence, angles_deg: np.ndarray, surface: str, **found) -> SurfaceEnergy:
    """The record of one sample, its caution filled in; further fields by name.

    Source: `common_practice`.

    >>> energy("Fowkes", "set_a", (), np.array([]), "smooth", total=20.0).total
    20.0
    """
    empty = {"total": None, "dispersive": None, "polar": None, "uncertainties": (), "r_squared": None, "notes": ()}
    names, angles = tuple(liquid.name for liquid in liquids), tuple(float(angle) for angle in angles_deg)
    return SurfaceEnergy(model, set_key, names, angles, caution=surface_caution(surface), **{**empty, **found})


def probe_angles(angles_deg: ArrayLike, n_liquids: int, fewest: int, *, has_nan: bool = False) -> np.ndarray:
    """Angles with the liquids along the last axis, checked; 0° is refused, since it is only a limit.

    Source: `common_practice`.

    >>> probe_angles([80, 41], 2, 2)
    array([80., 41.])
    """
    angles = within("contact angle of a probe liquid", angles_deg, "deg", above=0, at_most=180, has_nan=has_nan)
    if n_liquids < fewest:
        raise ValueError(f"at least {fewest} liquids are needed, not {n_liquids}")
    if angles.ndim == 0 or angles.shape[-1] != n_liquids:
        raise ValueError(f"one angle for each of {n_liquids} liquids is needed, not an array of shape {angles.shape}")
    return angles


def mean_uncertainty(
    angle_sd_deg: ArrayLike | None, replicates: ArrayLike, shape: tuple[int, ...]
) -> np.ndarray | None:
    """Standard uncertainty of each mean angle [rad] from the standard deviation of its replicates, sd/√n.

    Source: `gum`.

    >>> mean_uncertainty(2.0, 4, (2,)).round(6)
    array([0.017453, 0.017453])
    """
    if angle_sd_deg is None:
        return None
    spread = within("standard deviation of the angles", angle_sd_deg, "deg", at_least=0, has_nan=False)
    counts = within("number of replicates", replicates, at_least=1, has_nan=False)
    return np.broadcast_to(np.radians(spread / np.sqrt(counts)), shape)


def part_uncertainty(basis: str, covariance: np.ndarray) -> PartUncertainty:
    """From the covariance of dispersive and polar part; the total takes their correlation into account.

    Source: `gum`, 5.2.2.

    >>> part_uncertainty(FROM_ANGLES, np.array([[1.0, -0.5], [-0.5, 1.0]])).total
    1.0
    """
    first, second = (math.sqrt(max(variance, 0.0)) for variance in np.diagonal(covariance))
    total = math.sqrt(max(float(covariance.sum()), 0.0))
    correlation = float(covariance[0, 1]) / (first * second) if first * second > 0 else None
    return PartUncertainty(basis, total, first, second, correlation)


def only_dispersive(basis: str, u: float) -> PartUncertainty:
    """Where the polar part is not resolved: total and dispersive part share one uncertainty.

    Source: `gum`.

    >>> only_dispersive(FROM_ANGLES, 0.4).polar is None
    True
    """
    return PartUncertainty(basis, u, u, None, None)
