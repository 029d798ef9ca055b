"""Zisman: the tension at which a liquid of a homologous series would just spread, by a straight line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import within
from analysis.wetting.surface_energy.result import mean_uncertainty, surface_caution

NOT_DETERMINED = "critical tension not determined"
_FLAT = 1e-12  # 1/(mN/m): a slope of round-off


@dataclass(frozen=True, slots=True)
class CriticalTension:
    """Where the line through cos θ against tension reaches 1 [mN/m]; None when it does not."""

    value: float | None
    u_from_angles: float | None  # [mN/m], first order; None without scatter
    u_from_residuals: float | None  # from 3 liquids
    slope: float  # of cos θ against tension [1/(mN/m)]
    r_squared: float | None
    is_extrapolated: bool  # beyond the tensions of the liquids
    tensions: tuple[float, ...]
    angles_deg: tuple[float, ...]
    notes: tuple[str, ...]
    caution: str


@formula(
    "cos θ = 1 + b(γL − γc), γc = mean γL + (1 − mean cos θ)/b",
    source="fox_zisman_1950",
    holds_when="homologous, apolar liquids on a smooth, low-energy solid; each with an angle above 0",
    library="numpy.linalg.pinv",
)
def critical_tension(
    tensions: ArrayLike,
    angles_deg: ArrayLike,
    *,
    angle_sd_deg: ArrayLike | None = None,
    replicates: ArrayLike = 1,
    surface: str = "not_stated",
) -> CriticalTension:
    """Critical surface tension of one sample from the angles of several liquids.

    Parameters
    ----------
    tensions : array_like
        Tensions of the liquids, shape (liquids,) [mN/m], above 0 and not all equal.
    angles_deg : array_like
        Their mean angles [deg], 0 to 180. A liquid at 0 has spread: it is left out of the line and said so.
    angle_sd_deg, replicates : array_like
        Standard deviation of the replicates of each angle [deg] and their number [-]; the mean has sd/√n.
    surface : str
        "smooth", "rough", "textured", "infused" or "not_stated": sets the caution.

    Returns
    -------
    CriticalTension
        None as value when the cosine does not fall with the tension.

    Raises
    ------
    ValueError
        For values out of range or NaN, unequal lengths, or fewer than 2 liquids with an angle above 0.

    Source: `fox_zisman_1950`.

    >>> round(critical_tension([20, 30, 40], [0.0, 41.409622109, 60.0]).value, 6)
    20.0
    """
    gamma = within("tension of a probe liquid", tensions, "mN/m", above=0, has_nan=False)
    angles = within("contact angle", angles_deg, "deg", at_least=0, at_most=180, has_nan=False)
    if gamma.ndim != 1 or gamma.shape != angles.shape:
        raise ValueError(f"one angle for each liquid is needed, not {angles.shape} angles for {gamma.shape} liquids")
    used = angles > 0
    if used.sum() < 2 or np.ptp(gamma[used]) == 0:
        raise ValueError("at least 2 liquids of different tension with an angle above 0 deg are needed")
    u_angles = mean_uncertainty(angle_sd_deg, replicates, angles.shape)
    notes = [] if used.all() else [f"{int(np.sum(~used))} liquid(s) at 0 deg have spread and are left out"]
    found = _crossing(gamma[used], angles[used], None if u_angles is None else u_angles[used])
    value, is_extrapolated = found["value"], False
    if value is None:
        notes.append(f"{NOT_DETERMINED}: the cosine does not fall with the tension (slope {found['slope']:.3g})")
    elif not gamma.min() <= value <= gamma.max():
        is_extrapolated = True
        notes.append(_reach(value, gamma))
    return CriticalTension(
        **found, is_extrapolated=is_extrapolated, tensions=tuple(gamma.tolist()), angles_deg=tuple(angles.tolist()),
        notes=tuple(notes), caution=surface_caution(surface),
    )  # fmt: skip


def _crossing(x: np.ndarray, angles: np.ndarray, u_angles: np.ndarray | None) -> dict:
    """Where the least squares line reaches a cosine of 1, with its uncertainties to first order."""
    cosine, center = np.cos(np.radians(angles)), x.mean()
    solve = np.linalg.pinv(np.column_stack([np.ones_like(x), x - center]))
    level, slope = (float(number) for number in solve @ cosine)
    residuals = cosine - level - slope * (x - center)
    found = {"slope": slope, "r_squared": _r_squared(cosine, residuals)}
    if slope >= -_FLAT:
        return found | {"value": None, "u_from_angles": None, "u_from_residuals": None}
    reach = (1 - level) / slope
    by_cosine = -(solve[0] + reach * solve[1]) / slope
    found |= {"value": float(center + reach), "u_from_angles": None, "u_from_residuals": None}
    if u_angles is not None:
        found["u_from_angles"] = float(np.linalg.norm(by_cosine * np.sin(np.radians(angles)) * u_angles))
    if len(x) > 2:
        found["u_from_residuals"] = float(np.sqrt(residuals @ residuals / (len(x) - 2)) * np.linalg.norm(by_cosine))
    return found


def _reach(value: float, gamma: np.ndarray) -> str:
    distance = float(max(gamma.min() - value, value - gamma.max()))
    nearest = float(gamma.min() if value < gamma.min() else gamma.max())
    return f"extrapolated by {distance:.3g} mN/m beyond the nearest liquid ({nearest:g} mN/m)"


def _r_squared(cosine: np.ndarray, residuals: np.ndarray) -> float | None:
    around_mean = float(np.sum((cosine - cosine.mean()) ** 2))
    return 1 - float(np.sum(residuals**2)) / around_mean if len(cosine) > 2 and around_mean > 1e-24 else None
