"""van Oss–Chaudhury–Good: an apolar part and two roots, electron acceptor and donor, that may come out negative."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.inputs import number
from analysis.wetting.surface_energy.probe_liquids import AcidBaseLiquid, recalled_note, set_of
from analysis.wetting.surface_energy.result import (
    FROM_ANGLES,
    FROM_RESIDUALS,
    PartUncertainty,
    SurfaceEnergy,
    energy,
    mean_uncertainty,
    probe_angles,
)

MODEL = "van Oss–Chaudhury–Good"
LARGE_CONDITION = 10.0  # from memory: above it the roots follow small errors of the angles too closely


@formula(
    "γL(1 + cos θ)/2 = √γSᴸᵂ·√γLᴸᵂ + √γS⁺·√γL⁻ + √γS⁻·√γL⁺",
    source="van_oss_1988",
    holds_when="smooth, rigid, inert solid; liquids of one component set, at least one apolar and two polar",
    library="numpy.linalg.pinv",
)
def acid_base_roots(angles_deg: ArrayLike, liquids: Sequence[AcidBaseLiquid]) -> np.ndarray:
    """Signed roots of the apolar part, the acceptor and the donor number of each of many samples.

    Parameters
    ----------
    angles_deg : array_like
        Mean contact angles, liquids along the last axis, shape (..., liquids) [deg], above 0 up to 180.
    liquids : sequence of AcidBaseLiquid
        At least 3, of one set; more are fitted by least squares.

    Returns
    -------
    numpy.ndarray
        Shape (..., 3): √γ^LW, √γ^+, √γ^− [√(mN/m)], each with its sign. NaN makes NaN of that sample alone.

    Raises
    ------
    ValueError
        For angles out of range, mixed sets, or liquids that do not determine three numbers.

    Source: `van_oss_1988`.

    >>> from analysis.wetting.surface_energy.probe_liquids import acid_base_liquids
    >>> three = acid_base_liquids("set_van_oss", "water", "diiodomethane", "formamide")
    >>> acid_base_roots([94.5, 72.8, 66.5], three).round(2)
    array([4.62, 1.7 , 0.67])
    """
    set_of(liquids)
    angles = probe_angles(angles_deg, len(liquids), 3, has_nan=True)
    return _work(angles, liquids) @ np.linalg.pinv(_system(liquids)).T


@formula(
    "κ = σ_max/σ_min of the matrix with rows (√γLᴸᵂ, √γL⁻, √γL⁺)",
    source="van_oss_1988",
    holds_when="compares choices of liquids; errors of the angles are magnified at most κ-fold",
    library="numpy.linalg.cond",
)
def condition_number(liquids: Sequence[AcidBaseLiquid]) -> float:
    """How strongly a choice of liquids magnifies errors of the angles: largest over smallest singular value.

    Parameters
    ----------
    liquids : sequence of AcidBaseLiquid
        At least 3.

    Returns
    -------
    float
        At least 1 [-]; above about 10 the acceptor and donor numbers are hardly determined.

    Raises
    ------
    ValueError
        For liquids that do not determine three numbers.

    Source: `van_oss_1988`; the limit of 10 `from_memory`.

    >>> from analysis.wetting.surface_energy.probe_liquids import acid_base_liquids
    >>> condition_number(acid_base_liquids("set_van_oss", "water", "diiodomethane", "formamide")) > 3
    True
    """
    return float(np.linalg.cond(_system(liquids)))


@formula(
    "γS = γSᴸᵂ + γSᴬᴮ, γSᴬᴮ = 2·√γS⁺·√γS⁻",
    source="van_oss_1988 gum",
    holds_when="smooth, rigid, inert solid; liquids of one component set, at least one apolar and two polar",
    library="numpy.linalg.pinv",
)
def acid_base(
    angles_deg: ArrayLike,
    liquids: Sequence[AcidBaseLiquid],
    *,
    angle_sd_deg: ArrayLike | None = None,
    replicates: ArrayLike = 1,
    surface: str = "not_stated",
) -> SurfaceEnergy:
    """Surface free energy of one sample with its apolar and its acid–base part.

    Parameters
    ----------
    angles_deg : array_like
        Mean contact angle of each liquid, shape (liquids,) [deg], above 0 up to 180.
    liquids : sequence of AcidBaseLiquid
        At least 3, of one set.
    angle_sd_deg, replicates : array_like
        Standard deviation of the replicates of each angle [deg] and their number [-]; the mean has sd/√n.
    surface : str
        "smooth", "rough", "textured", "infused" or "not_stated": sets the caution.

    Returns
    -------
    SurfaceEnergy
        `dispersive` is the apolar part γ^LW, `polar` the acid–base part with its sign [mN/m]; the two roots with
        their signs, the condition number, and notes where a root is negative or the system ill-conditioned. With
        an apolar root of 0 or less the model does not describe the angles: no parts, `is_fitted` False.

    Raises
    ------
    ValueError
        As in `acid_base_roots`; NaN is refused.

    Source: `van_oss_1988`, `gum`.

    >>> from analysis.wetting.surface_energy.probe_liquids import acid_base_liquids
    >>> three = acid_base_liquids("set_van_oss", "water", "diiodomethane", "formamide")
    >>> found = acid_base([94.5, 72.8, 66.5], three)
    >>> round(found.total, 2), round(found.polar, 2)
    (23.61, 2.28)
    """
    angles = probe_angles(np.atleast_1d(angles_deg), len(liquids), 3)
    if angles.ndim != 1:
        raise ValueError(f"one sample has one row of angles, not an array of shape {angles.shape}")
    roots = acid_base_roots(angles, liquids)
    apolar, acid, base = (float(root) for root in roots)
    condition = condition_number(liquids)
    u_angles = mean_uncertainty(angle_sd_deg, replicates, angles.shape)
    said = {"acid_root": acid, "base_root": base, "condition_number": condition}
    said["notes"] = _notes(roots, condition, liquids)
    if apolar > 0:
        said |= {"total": apolar**2 + 2 * acid * base, "dispersive": apolar**2, "polar": 2 * acid * base}
        said["uncertainties"] = _uncertainties(roots, angles, liquids, u_angles)
    return energy(MODEL, set_of(liquids), liquids, angles, surface, is_fitted=apolar > 0, **said)


@formula(
    "cos θ = 2(√γSᴸᵂ·√γLᴸᵂ + √γS⁺·√γL⁻ + √γS⁻·√γL⁺)/γL − 1",
    source="van_oss_1988",
    holds_when="smooth, rigid, inert solid; right side between −1 and 1",
)
def acid_base_angle(
    apolar_root: ArrayLike, acid_root: ArrayLike, base_root: ArrayLike, liquid: AcidBaseLiquid
) -> float | np.ndarray:
    """Contact angle that a liquid is expected to have on a solid of known roots.

    Parameters
    ----------
    apolar_root, acid_root, base_root : array_like
        Signed roots of γ^LW, γ^+ and γ^− of the solid [√(mN/m)], finite; they broadcast.
    liquid : AcidBaseLiquid
        Of the set that the roots were determined with.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg]; 0 where the liquid spreads, 180 where the work of adhesion would be negative. NaN in an array
        stays NaN, a single NaN is refused.

    Raises
    ------
    ValueError
        For a root that is infinite or a single NaN.

    Source: `van_oss_1988`.

    >>> from analysis.wetting.surface_energy.probe_liquids import acid_base_liquids
    >>> round(acid_base_angle(6, 0, 0, acid_base_liquids("set_van_oss", "diiodomethane")[0]), 3)
    46.871
    """
    row = _system_rows((liquid,))[0]
    given = {"apolar root": apolar_root, "acid root": acid_root, "base root": base_root}
    roots = np.broadcast_arrays(*(number(name, root) for name, root in given.items()))
    work = np.tensordot(row, np.stack(roots), 1)
    return plain(np.degrees(np.arccos(np.clip(2 * work / liquid.total - 1, -1, 1))))


def _system_rows(liquids: Sequence[AcidBaseLiquid]) -> np.ndarray:
    return np.sqrt([[one.apolar, one.base, one.acid] for one in liquids])


def _system(liquids: Sequence[AcidBaseLiquid]) -> np.ndarray:
    rows = _system_rows(liquids)
    if np.linalg.matrix_rank(rows, tol=1e-6 * np.abs(rows).max()) < 3:
        raise ValueError("liquids do not determine three numbers: take at least one apolar and two unlike polar ones")
    return rows


def _work(angles: np.ndarray, liquids: Sequence[AcidBaseLiquid]) -> np.ndarray:
    return np.array([one.total for one in liquids]) * (1 + np.cos(np.radians(angles))) / 2


def _uncertainties(roots, angles, liquids, u_angles) -> tuple[PartUncertainty, ...]:
    system, spreads = _system(liquids), []
    solve = np.linalg.pinv(system)
    if u_angles is not None:
        u_work = np.array([one.total for one in liquids]) * np.sin(np.radians(angles)) * u_angles / 2
        spreads.append((FROM_ANGLES, solve * u_work**2 @ solve.T))
    if (free := len(liquids) - 3) > 0:
        residual = np.sum((_work(angles, liquids) - system @ roots) ** 2) / free
        spreads.append((FROM_RESIDUALS, residual * solve @ solve.T))
    return tuple(_part(basis, spread, roots) for basis, spread in spreads)


def _part(basis: str, spread: np.ndarray, roots: np.ndarray) -> PartUncertainty:
    apolar, acid, base = roots
    slopes = np.array([[2 * apolar, 0, 0], [0, 2 * base, 2 * acid]])
    parts = slopes @ spread @ slopes.T
    u_apolar, u_polar, u_total = (float(max(value, 0)) ** 0.5 for value in (parts[0, 0], parts[1, 1], parts.sum()))
    correlation = float(parts[0, 1]) / (u_apolar * u_polar) if u_apolar * u_polar > 0 else None
    return PartUncertainty(
        basis, u_total, u_apolar, u_polar, correlation, float(spread[1, 1]) ** 0.5, float(spread[2, 2]) ** 0.5
    )


def _notes(roots: np.ndarray, condition: float, liquids: Sequence[AcidBaseLiquid]) -> tuple[str, ...]:
    notes = recalled_note(liquids) + [
        f"root of the {name} is negative ({root:.3g}): its sign is kept, its square is no energy"
        for name, root in zip(("apolar part", "acid number", "base number"), roots, strict=True)
        if root < 0
    ]
    if roots[0] <= 0:
        notes.append("no apolar part above 0: the model does not describe the angles")
    if condition > LARGE_CONDITION:
        notes.append(f"ill-conditioned choice of liquids (condition number {condition:.3g})")
    if len(liquids) == 3:
        notes.append("three liquids: the equations are met exactly, so the fit shows no deviation")
    return tuple(notes)
