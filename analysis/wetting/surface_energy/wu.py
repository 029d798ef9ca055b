"""Wu: harmonic means of the parts. Of several solutions the physical one is taken, and the others are told."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.wetting.surface_energy.owens_wendt import owens_wendt_line
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

MODEL = "Wu"
_ZERO = 1e-6  # mN/m: a polar part that the fit pressed against its bound


@formula(
    "γL(1 + cos θ) = 4[γSᵈ·γLᵈ/(γSᵈ + γLᵈ) + γSᵖ·γLᵖ/(γSᵖ + γLᵖ)]",
    source="wu_1971",
    holds_when="smooth, rigid, inert solid of low energy; liquids of one component set",
    library="numpy.roots, scipy.optimize.least_squares",
)
def wu(
    angles_deg: ArrayLike,
    liquids: Sequence[ProbeLiquid],
    *,
    angle_sd_deg: ArrayLike | None = None,
    replicates: ArrayLike = 1,
    surface: str = "not_stated",
) -> SurfaceEnergy:
    """Surface free energy of one sample by the harmonic mean of the dispersive and polar parts.

    Parameters
    ----------
    angles_deg : array_like
        Mean contact angle of each liquid, shape (liquids,) [deg], above 0 up to 180.
    liquids : sequence of ProbeLiquid
        At least 2, of one set, with different shares of polar part.
    angle_sd_deg, replicates : array_like
        Standard deviation of the replicates of each angle [deg] and their number [-]; the mean has sd/√n.
    surface : str
        "smooth", "rough", "textured", "infused" or "not_stated": sets the caution.

    Returns
    -------
    SurfaceEnergy
        Parts [mN/m]. Two liquids: an exact solution; of several with both parts above 0 the one nearest to
        Owens–Wendt is taken, the others stand in `other_roots`. More liquids: least squares, begun at
        Owens–Wendt and at the solution of each pair. A polar part that can only be 0 or less is "not
        resolved": polar is None.

    Raises
    ------
    ValueError
        For angles out of range or NaN, too few or unlike liquids.

    Source: `wu_1971`, `gum`.

    >>> from analysis.wetting.surface_energy.probe_liquids import probe_liquids
    >>> found = wu([80, 41], probe_liquids("set_wu", "water", "diiodomethane"))
    >>> round(found.dispersive, 3), round(found.polar, 3)
    (31.147, 10.115)
    """
    key = set_of(liquids)
    angles = probe_angles(np.atleast_1d(angles_deg), len(liquids), 2)
    if angles.ndim != 1:
        raise ValueError(f"one sample has one row of angles, not an array of shape {angles.shape}")
    start = _owens_wendt_start(angles, liquids)
    measured = np.array([one.total for one in liquids]) * (1 + np.cos(np.radians(angles))) / 4
    roots, is_fitted = _solutions(measured, liquids, start)
    notes = recalled_note(liquids)
    if len(liquids) == 2 and np.allclose(_expected(*roots[0], liquids), measured, rtol=1e-6):
        notes.append("two liquids: the equations are met exactly, so the fit shows no deviation")
    if not is_fitted:
        notes.append("the fit did not converge: parts are where it stopped")
    if len(roots) > 1:
        notes.append(f"{len(roots)} physical solutions; the one nearest to Owens–Wendt is taken")
    dispersive, polar = roots[0]
    u_angles = mean_uncertainty(angle_sd_deg, replicates, angles.shape)
    uncertainties = _uncertainties(roots[0], measured, liquids, angles, u_angles)
    if polar <= _ZERO:
        notes.append(f"{NOT_RESOLVED}: the angles ask for a polar part of 0 or less")
        polar = None
    if dispersive <= _ZERO:
        notes = [*notes, "no dispersive part above 0: the model does not describe the angles"]
        return energy(MODEL, key, liquids, angles, surface, notes=tuple(notes), is_fitted=False)
    return energy(
        MODEL, key, liquids, angles, surface, dispersive=dispersive, polar=polar, total=dispersive + (polar or 0.0),
        uncertainties=uncertainties, notes=tuple(notes), other_roots=tuple(roots[1:]), is_fitted=is_fitted,
    )  # fmt: skip


def _owens_wendt_start(angles: np.ndarray, liquids: Sequence[ProbeLiquid]) -> np.ndarray:
    line = owens_wendt_line(angles, liquids)
    return np.array([max(line.intercept, 0.1) ** 2, max(line.slope, 0.1) ** 2])


def _solutions(measured: np.ndarray, liquids: Sequence[ProbeLiquid], start: np.ndarray) -> tuple[list, bool]:
    """Physical solutions, best first, and whether they converged."""
    pairs = [
        root
        for i, j in combinations(range(len(liquids)), 2)
        for root in _pair_roots(measured[[i, j]], (liquids[i], liquids[j]))
    ]
    if len(liquids) == 2 and pairs:
        return sorted(pairs, key=lambda root: float(np.hypot(*(np.array(root) - start)))), True
    fits = [_least_squares(measured, liquids, begin) for begin in (start, *pairs)]
    best = min(fits, key=lambda fit: fit.cost)
    return [(float(best.x[0]), float(best.x[1]))], bool(best.success)


def _least_squares(measured: np.ndarray, liquids: Sequence[ProbeLiquid], start: Sequence[float]):
    from scipy.optimize import least_squares

    begin = np.maximum(np.asarray(start, dtype=float), 1e-3)
    tight = {"xtol": 1e-14, "ftol": 1e-14, "gtol": 1e-14, "max_nfev": 2000}
    return least_squares(
        lambda parts: _expected(*parts, liquids) - measured,
        begin,
        jac=lambda parts: _sensitivity(*parts, liquids),
        bounds=(0, np.inf),
        x_scale=begin,
        **tight,
    )


def _expected(dispersive: float, polar: float, liquids: Sequence[ProbeLiquid]) -> np.ndarray:
    """A quarter of the work of adhesion with each liquid."""
    return np.array(
        [
            dispersive * one.dispersive / (dispersive + one.dispersive)
            + (polar * one.polar / (polar + one.polar) if one.polar else 0.0)
            for one in liquids
        ]
    )


def _sensitivity(dispersive: float, polar: float, liquids: Sequence[ProbeLiquid]) -> np.ndarray:
    a, b = (np.array([getattr(one, part) for one in liquids]) for part in ("dispersive", "polar"))
    by_polar = np.divide(b, polar + b, out=np.zeros_like(b), where=b > 0) ** 2
    return np.column_stack([(a / (dispersive + a)) ** 2, by_polar])


def _pair_roots(measured: np.ndarray, pair: tuple[ProbeLiquid, ProbeLiquid]) -> list[tuple[float, float]]:
    """Every exact solution of two liquids with no negative part.

    The more polar liquid gives the solid's polar part as a ratio of two straight lines in its dispersive part;
    put into the equation of the other liquid, a quadratic remains.
    """
    (y1, one), (y2, two) = sorted(zip(measured, pair, strict=True), key=lambda entry: -entry[1].polar)
    a1, b1, a2, b2 = one.dispersive, one.polar, two.dispersive, two.polar
    d = np.polynomial.Polynomial([0, 1])
    rest = (y1 - a1) * d + y1 * a1  # of the first liquid's work, times (d + a1)
    below = b1 * (d + a1) - rest
    other = b1 * rest + b2 * below
    quadratic = d * a2 * other + b1 * b2 * rest * (d + a2) - y2 * (d + a2) * other
    found = []
    for root in np.roots(quadratic.coef[::-1]):
        dispersive = float(root.real)
        # a double root splits by the root of the round-off
        if abs(root.imag) > 1e-6 * (1 + abs(root)) or dispersive <= 0 or below(dispersive) == 0:
            continue
        polar = float(b1 * rest(dispersive) / below(dispersive))
        if polar >= 0 and np.allclose(_expected(dispersive, polar, (one, two)), (y1, y2), rtol=1e-7):
            found.append((dispersive, polar))
    return found


def _uncertainties(root, measured, liquids, angles, u_angles) -> tuple[PartUncertainty, ...]:
    is_resolved = root[1] > _ZERO
    sensitivity = _sensitivity(*root, liquids)[:, : 2 if is_resolved else 1]
    solve = np.linalg.pinv(sensitivity)
    spreads = []
    if u_angles is not None:
        u_points = np.array([one.total for one in liquids]) * np.sin(np.radians(angles)) * u_angles / 4
        spreads.append((FROM_ANGLES, solve * u_points**2 @ solve.T))
    free = len(liquids) - sensitivity.shape[1]
    if free > 0:
        residual = np.sum((measured - _expected(*root, liquids)) ** 2) / free
        spreads.append((FROM_RESIDUALS, residual * solve @ solve.T))
    return tuple(
        part_uncertainty(basis, spread) if is_resolved else only_dispersive(basis, float(spread[0, 0]) ** 0.5)
        for basis, spread in spreads
    )
