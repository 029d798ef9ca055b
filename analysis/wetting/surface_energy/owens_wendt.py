"""Owens–Wendt–Rabel–Kaelble: a line whose slope is the polar root and whose intercept is the dispersive root."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.inputs import number
from analysis.wetting.surface_energy.probe_liquids import ProbeLiquid, recalled_note, set_of
from analysis.wetting.surface_energy.result import (
    FROM_ANGLES,
    FROM_RESIDUALS,
    NOT_RESOLVED,
    PartUncertainty,
    SurfaceEnergy,
    energy,
    mean_uncertainty,
    only_dispersive,
    part_uncertainty,
    probe_angles,
)

MODEL = "Owens–Wendt–Rabel–Kaelble"
HELD_AT_ZERO, INTERCEPT = "held_at_zero", "intercept"
_ROUND_OFF = 1e-9  # a slope this small beside the intercept is 0: the angles of a solid without polar part


@dataclass(frozen=True, slots=True)
class OwensWendtLine:
    """The line y = slope·x + intercept of each sample [√(mN/m)]; arrays have the shape of the samples."""

    slope: float | np.ndarray
    intercept: float | np.ndarray
    r_squared: float | np.ndarray  # NaN for two liquids, and for points without any spread
    covariance_from_angles: np.ndarray | None  # (..., 2, 2) of (intercept, slope)
    covariance_from_residuals: np.ndarray | None  # None for two liquids

    @property
    def is_polar_resolved(self) -> bool | np.ndarray:
        """Whether slope and intercept are both roots of an energy; a negative one must not be squared."""
        return plain(self._has_dispersive & (self.slope >= -_ROUND_OFF * np.abs(self.intercept)))

    @property
    def _has_dispersive(self) -> np.ndarray:
        return np.asarray(self.intercept) > _ROUND_OFF * np.abs(self.slope)

    @property
    def dispersive(self) -> float | np.ndarray:
        """Intercept squared [mN/m]; NaN where the intercept is not above 0."""
        return plain(np.where(self._has_dispersive, np.square(self.intercept), np.nan))

    @property
    def polar(self) -> float | np.ndarray:
        """Slope squared [mN/m]; NaN where it is not resolved."""
        return plain(np.where(self.is_polar_resolved, np.square(self.slope), np.nan))


@formula(
    "γL(1 + cos θ)/(2√γLᵈ) = √γSᵖ · √(γLᵖ/γLᵈ) + √γSᵈ",
    source="owens_wendt_1969 rabel_1971",
    holds_when="smooth, rigid, inert solid; liquids of one component set; static or advancing angles throughout",
    library="numpy.linalg.pinv",
)
def owens_wendt_line(
    angles_deg: ArrayLike,
    liquids: Sequence[ProbeLiquid],
    angle_sd_deg: ArrayLike | None = None,
    replicates: ArrayLike = 1,
) -> OwensWendtLine:
    """Straight line through the probe liquids of each of many samples, with the covariance of its two numbers.

    Parameters
    ----------
    angles_deg : array_like
        Mean contact angles, liquids along the last axis, shape (..., liquids) [deg], above 0 up to 180.
    liquids : sequence of ProbeLiquid
        At least 2, of one set, not all with the same share of polar part.
    angle_sd_deg : array_like, optional
        Standard deviation of the replicates of each angle, broadcast against the angles [deg], at least 0.
    replicates : array_like
        Number of coupons behind each mean angle [-], at least 1; with 1 the standard deviation is taken as it is.

    Returns
    -------
    OwensWendtLine
        Slope, intercept, R² and two covariances: of the angles' scatter, and of the residuals (from 3 liquids).

    Raises
    ------
    ValueError
        For angles out of range, too few liquids, mixed sets, or liquids that cannot part the two numbers.
        A NaN among the angles makes NaN of that sample alone.

    Source: `owens_wendt_1969`, `rabel_1971`.

    >>> from analysis.wetting.surface_energy.probe_liquids import probe_liquids
    >>> line = owens_wendt_line([[80, 41], [108, 77]], probe_liquids("set_b", "water", "diiodomethane"))
    >>> line.dispersive.round(2), line.polar.round(2)
    (array([36.02, 18.56]), array([4.24, 0.5 ]))
    """
    set_of(liquids)
    angles = probe_angles(angles_deg, len(liquids), 2, has_nan=True)
    x, scale = _abscissa(liquids)
    solve = np.linalg.pinv(np.column_stack([np.ones_like(x), x]))  # (2, liquids)
    y = scale * (1 + np.cos(np.radians(angles)))
    intercept, slope = np.moveaxis(y @ solve.T, -1, 0)
    residuals = y - (intercept[..., None] + slope[..., None] * x)
    u_angles = mean_uncertainty(angle_sd_deg, replicates, angles.shape)
    from_angles = None if u_angles is None else _spread(solve, scale * np.sin(np.radians(angles)) * u_angles)
    return OwensWendtLine(
        plain(slope), plain(intercept), plain(_r_squared(y, residuals)), from_angles, _residual_spread(solve, residuals)
    )


@formula(
    "γS = γSᵈ + γSᵖ, γSᵈ = q², γSᵖ = m² of the line y = m·x + q; u²(γS) = 4q²u²(q) + 4m²u²(m) + 8qm·u(q, m)",
    source="owens_wendt_1969 rabel_1971 gum",
    holds_when="slope not negative; smooth, rigid, inert solid; liquids of one component set",
    library="numpy.linalg.pinv",
)
def owens_wendt(
    angles_deg: ArrayLike,
    liquids: Sequence[ProbeLiquid],
    *,
    angle_sd_deg: ArrayLike | None = None,
    replicates: ArrayLike = 1,
    without_polar: str = HELD_AT_ZERO,
    surface: str = "not_stated",
) -> SurfaceEnergy:
    """Surface free energy of one sample with its dispersive and polar part.

    Parameters
    ----------
    angles_deg : array_like
        Mean contact angle of each liquid, shape (liquids,) [deg], above 0 up to 180.
    liquids : sequence of ProbeLiquid
        At least 2, of one set: one polar and one apolar at the least.
    angle_sd_deg, replicates : array_like
        As in `owens_wendt_line`.
    without_polar : str
        What is reported when the slope is negative: "held_at_zero" (dispersive part by least squares with the
        polar part held at 0) or "intercept" (dispersive part from the intercept of the line). The polar part is
        then None, never the square of a negative slope.
    surface : str
        "smooth", "rough", "textured", "infused" or "not_stated": sets the caution.

    Returns
    -------
    SurfaceEnergy
        Parts [mN/m], standard uncertainties from the angles and, from 3 liquids, from the residuals.

    Raises
    ------
    ValueError
        As in `owens_wendt_line`; NaN is refused.

    Source: `owens_wendt_1969`, `rabel_1971`, `gum`.

    >>> from analysis.wetting.surface_energy.probe_liquids import probe_liquids
    >>> two = probe_liquids("set_b", "water", "diiodomethane")
    >>> found = owens_wendt([80, 41], two, angle_sd_deg=2, surface="smooth")
    >>> round(found.total, 2), round(found.u_total, 2)
    (40.25, 0.96)
    """
    if without_polar not in (HELD_AT_ZERO, INTERCEPT):
        raise ValueError(f"without_polar must be {HELD_AT_ZERO} or {INTERCEPT}, not {without_polar!r}")
    angles = probe_angles(np.atleast_1d(angles_deg), len(liquids), 2)
    if angles.ndim != 1:
        raise ValueError(f"one sample has one row of angles, not an array of shape {angles.shape}")
    line = owens_wendt_line(angles, liquids, angle_sd_deg, replicates)
    r_squared = None if np.isnan(line.r_squared) else line.r_squared
    said = {"r_squared": r_squared, "notes": (*_liquid_notes(liquids), *_line_notes(line))}
    if line.is_polar_resolved:
        parts = {"dispersive": line.dispersive, "polar": line.polar, "total": line.dispersive + line.polar}
        said |= parts | {"uncertainties": _both_parts(line)}
    elif np.isnan(line.dispersive):
        said["is_fitted"] = False
    elif without_polar == INTERCEPT:
        parts = {"dispersive": line.dispersive, "total": line.dispersive}
        said |= parts | {"uncertainties": _intercept_alone(line)}
    else:
        u_angles = mean_uncertainty(angle_sd_deg, replicates, angles.shape)
        said |= _held_at_zero(angles, liquids, u_angles)
    return energy(MODEL, set_of(liquids), liquids, angles, surface, **said)


@formula(
    "cos θ = 2(√(γSᵈ·γLᵈ) + √(γSᵖ·γLᵖ))/γL − 1",
    source="owens_wendt_1969",
    holds_when="smooth, rigid, inert solid; right side at most 1, otherwise the liquid spreads",
)
def owens_wendt_angle(dispersive: ArrayLike, polar: ArrayLike, liquid: ProbeLiquid) -> float | np.ndarray:
    """Contact angle that a liquid is expected to have on a solid of known dispersive and polar part.

    Parameters
    ----------
    dispersive, polar : array_like
        Parts of the solid's surface energy [mN/m], at least 0; they broadcast.
    liquid : ProbeLiquid
        Of the set that the parts were determined with.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg]; 0 where the liquid spreads. NaN in an array stays NaN, a single NaN is refused.

    Raises
    ------
    ValueError
        For a negative part.

    Source: `owens_wendt_1969`.

    >>> round(owens_wendt_angle(30, 8, ProbeLiquid("water", 72.8, 21.8, 51.0, "set_a")), 4)
    75.0792
    """
    apolar = number("dispersive part", dispersive, "mN/m", at_least=0) * liquid.dispersive
    polar_part = number("polar part", polar, "mN/m", at_least=0) * liquid.polar
    cosine = 2 * (np.sqrt(apolar) + np.sqrt(polar_part)) / liquid.total - 1
    return plain(np.degrees(np.arccos(np.minimum(cosine, 1.0))))


def _abscissa(liquids: Sequence[ProbeLiquid]) -> tuple[np.ndarray, np.ndarray]:
    total, dispersive, polar = (np.array([getattr(one, part) for one in liquids]) for part in _PARTS)
    x = np.sqrt(polar / dispersive)
    if np.ptp(x) < 1e-6:
        raise ValueError("liquids must differ in their share of polar part: take at least one polar and one apolar one")
    return x, total / (2 * np.sqrt(dispersive))


_PARTS = ("total", "dispersive", "polar")


def _spread(solve: np.ndarray, u_points: np.ndarray) -> np.ndarray:
    """Covariance of a linear solution from the standard uncertainties of its points, (..., 2, 2)."""
    return np.einsum("ik,...k,jk->...ij", solve, u_points**2, solve)


def _residual_spread(solve: np.ndarray, residuals: np.ndarray) -> np.ndarray | None:
    free = residuals.shape[-1] - 2
    if free < 1:
        return None
    return (np.sum(residuals**2, axis=-1) / free)[..., None, None] * (solve @ solve.T)


def _r_squared(y: np.ndarray, residuals: np.ndarray) -> np.ndarray:
    around_mean = np.sum((y - y.mean(axis=-1, keepdims=True)) ** 2, axis=-1)
    if y.shape[-1] == 2:
        return np.full_like(around_mean, np.nan)
    has_spread = around_mean > 1e-20 * np.sum(y**2, axis=-1)
    return 1 - np.sum(residuals**2, axis=-1) / np.where(has_spread, around_mean, np.nan)


def _covariances(line: OwensWendtLine) -> list[tuple[str, np.ndarray]]:
    pairs = ((FROM_ANGLES, line.covariance_from_angles), (FROM_RESIDUALS, line.covariance_from_residuals))
    return [(basis, covariance) for basis, covariance in pairs if covariance is not None]


def _both_parts(line: OwensWendtLine) -> tuple[PartUncertainty, ...]:
    slopes = np.diag([2 * line.intercept, 2 * line.slope])
    return tuple(part_uncertainty(basis, slopes @ spread @ slopes) for basis, spread in _covariances(line))


def _intercept_alone(line: OwensWendtLine) -> tuple[PartUncertainty, ...]:
    spreads = _covariances(line)
    return tuple(only_dispersive(basis, float(2 * line.intercept * spread[0, 0] ** 0.5)) for basis, spread in spreads)


def _held_at_zero(angles: np.ndarray, liquids: Sequence[ProbeLiquid], u_angles: np.ndarray | None) -> dict:
    _, scale = _abscissa(liquids)
    y = scale * (1 + np.cos(np.radians(angles)))
    root, uncertainties = float(y.mean()), []
    if u_angles is not None:
        u_root = np.linalg.norm(scale * np.sin(np.radians(angles)) * u_angles) / len(y)
        uncertainties.append(only_dispersive(FROM_ANGLES, float(2 * root * u_root)))
    uncertainties.append(only_dispersive(FROM_RESIDUALS, float(2 * root * y.std(ddof=1) / len(y) ** 0.5)))
    return {"dispersive": root**2, "total": root**2, "uncertainties": tuple(uncertainties)}


def _liquid_notes(liquids: Sequence[ProbeLiquid]) -> list[str]:
    notes = recalled_note(liquids)
    if len(liquids) == 2:
        notes.append("two liquids: the line passes through both points, so the fit shows no deviation")
    return notes


def _line_notes(line: OwensWendtLine) -> list[str]:
    if np.isnan(line.dispersive):
        return [
            f"{NOT_RESOLVED}: intercept {line.intercept:.3g} is not above 0, the model does not describe the angles"
        ]
    if not line.is_polar_resolved:
        return [f"{NOT_RESOLVED}: slope {line.slope:.3g} is negative; its square would be no energy"]
    for basis, spread in _covariances(line):
        if line.slope < 2 * spread[1, 1] ** 0.5:
            return [f"polar part not distinct from 0 by the {basis}; its uncertainty, to first order, is too small"]
    return []
