"""Surface energy from one liquid: Fowkes for an apolar liquid, Neumann's equation of state."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.inputs import number
from analysis.wetting.surface_energy.probe_liquids import HIGHEST_APOLAR, ProbeLiquid, recalled_note
from analysis.wetting.surface_energy.result import (
    FROM_ANGLES,
    PartUncertainty,
    SurfaceEnergy,
    energy,
    mean_uncertainty,
    probe_angles,
)

NEUMANN_B = 1.247e-4  # (m²/mJ)²


@formula(
    "γSᵈ = γL(1 + cos θ)²/4",
    source="fowkes_1964",
    holds_when="apolar liquid (γL = γLᵈ) on a smooth, rigid, inert solid",
)
def fowkes_energy(angle_deg: ArrayLike, tension: ArrayLike) -> float | np.ndarray:
    """Dispersive part of the surface energy from one apolar liquid.

    Parameters
    ----------
    angle_deg : array_like
        Contact angle [deg], 0 to 180; at 0 the result is a lower limit.
    tension : array_like
        Tension of the apolar liquid [mN/m], above 0 and at most 55: no apolar probe liquid has more. Handbook
        correlations give 67 for diiodomethane; surface energy work uses 50.8.

    Returns
    -------
    float or numpy.ndarray
        Dispersive part [mN/m]; NaN in an array stays NaN, a single NaN is refused.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `fowkes_1964`, `probe_liquids_a`.

    >>> round(fowkes_energy(41, 50.8), 3)
    39.103
    """
    angle = number("contact angle", angle_deg, "deg", at_least=0, at_most=180)
    apolar = number(
        "tension of an apolar liquid (diiodomethane: 50.8)", tension, "mN/m", above=0, at_most=HIGHEST_APOLAR
    )
    return plain(apolar * (1 + np.cos(np.radians(angle))) ** 2 / 4)


@formula(
    "cos θ = −1 + 2√(γS/γL)·exp[−b(γL − γS)²]",
    source="kwok_neumann_1999",
    holds_when="smooth, rigid, inert solid; γS between 0 and γL; versions of the equation differ noticeably",
    library="scipy.optimize.elementwise.find_root",
)
def neumann_energy(angle_deg: ArrayLike, tension: ArrayLike, b: float = NEUMANN_B) -> float | np.ndarray:
    """Surface energy from one liquid by Neumann's equation of state.

    Parameters
    ----------
    angle_deg : array_like
        Contact angle [deg], 0 to 180; at 0 the result is a lower limit.
    tension : array_like
        Tension of the liquid [mN/m], above 0 and at most 500; broadcasts against the angle.
    b : float
        Constant of the equation [(m2/mJ)^2], at least 0; 1.247e-4 unless told.

    Returns
    -------
    float or numpy.ndarray
        Surface energy [mN/m], from 0 to the tension, where there is exactly one solution.
        NaN in an array stays NaN, a single NaN is refused.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `kwok_neumann_1999`; b `from_memory`.

    >>> round(neumann_energy(90, 72.8), 3)
    29.224
    """
    from scipy.optimize.elementwise import find_root

    angle = number("contact angle", angle_deg, "deg", at_least=0, at_most=180)
    gamma = number("tension of the liquid", tension, "mN/m", above=0, at_most=500)
    constant = number("constant b", b, at_least=0)
    angle, gamma, constant = np.broadcast_arrays(angle, gamma, constant)
    half = (1 + np.cos(np.radians(angle))) / 2
    is_known = np.isfinite(half) & np.isfinite(gamma)
    # With s = √(γS/γL) the equation is s·exp(−b·γL²(1 − s²)²) = (1 + cos θ)/2, rising from s = 0 to 1.
    root = find_root(
        lambda s, target, strength: s * np.exp(-strength * (1 - s * s) ** 2) - target,
        (np.zeros_like(half), np.ones_like(half)),
        args=(np.where(is_known, half, 0.5), np.where(is_known, constant * gamma**2, 1.0)),
        tolerances={"xatol": 1e-15, "xrtol": 1e-14},
    )
    return plain(np.where(is_known, gamma * root.x**2, np.nan))


@formula(
    "γSᵈ = γL(1 + cos θ)²/4, u(γSᵈ) = γL(1 + cos θ)·sin θ·u(θ)/2",
    source="fowkes_1964 gum",
    holds_when="apolar liquid (γL = γLᵈ) on a smooth, rigid, inert solid",
)
def fowkes(
    angle_deg: float,
    liquid: ProbeLiquid,
    *,
    angle_sd_deg: float | None = None,
    replicates: int = 1,
    surface: str = "not_stated",
) -> SurfaceEnergy:
    """Dispersive part of one sample from an apolar probe liquid, with its uncertainty and caution.

    Parameters
    ----------
    angle_deg : float
        Mean contact angle [deg], above 0 up to 180.
    liquid : ProbeLiquid
        One without a polar part.
    angle_sd_deg, replicates : float
        Standard deviation of the replicates [deg] and their number [-]; the mean has sd/√n.
    surface : str
        "smooth", "rough", "textured", "infused" or "not_stated".

    Returns
    -------
    SurfaceEnergy
        Only `dispersive` is known; total and polar part are None.

    Raises
    ------
    ValueError
        For a liquid with a polar part, or an angle out of range or NaN.

    Source: `fowkes_1964`.

    >>> round(fowkes(41, ProbeLiquid("diiodomethane", 50.8, 50.8, 0, "set_a")).dispersive, 3)
    39.103
    """
    if not liquid.is_apolar:
        raise ValueError(f"{liquid.name} has a polar part of {liquid.polar} mN/m; Fowkes needs an apolar liquid")
    angles = probe_angles(np.atleast_1d(angle_deg), 1, 1)
    u_angle = mean_uncertainty(angle_sd_deg, replicates, ())
    found = fowkes_energy(angles[0], liquid.total)
    uncertainties = ()
    if u_angle is not None:
        theta = np.radians(angles[0])
        u = float(liquid.total * (1 + np.cos(theta)) * np.sin(theta) / 2 * u_angle)
        uncertainties = (PartUncertainty(FROM_ANGLES, None, u, None, None),)
    note = "one apolar liquid: nothing is known of the polar part"
    return energy(
        "Fowkes",
        liquid.set_key,
        (liquid,),
        angles,
        surface,
        dispersive=found,
        uncertainties=uncertainties,
        notes=(note, *recalled_note((liquid,))),
    )


@formula(
    "cos θ = −1 + 2√(γS/γL)·exp[−b(γL − γS)²], u(γS) = |∂γS/∂θ|·u(θ)",
    source="kwok_neumann_1999 gum",
    holds_when="smooth, rigid, inert solid; γS between 0 and γL; versions of the equation differ noticeably",
    library="scipy.optimize.elementwise.find_root",
)
def neumann(
    angle_deg: float,
    liquid: ProbeLiquid,
    *,
    b: float = NEUMANN_B,
    angle_sd_deg: float | None = None,
    replicates: int = 1,
    surface: str = "not_stated",
) -> SurfaceEnergy:
    """Surface energy of one sample by Neumann's equation of state, with its uncertainty and caution.

    Parameters
    ----------
    angle_deg : float
        Mean contact angle [deg], above 0 up to 180.
    liquid : ProbeLiquid
        Only its total tension is used.
    b : float
        Constant of the equation [(m2/mJ)^2]; stored in the notes.
    angle_sd_deg, replicates : float
        Standard deviation of the replicates [deg] and their number [-]; the mean has sd/√n.
    surface : str
        "smooth", "rough", "textured", "infused" or "not_stated".

    Returns
    -------
    SurfaceEnergy
        Only `total` is known; the model has no parts.

    Raises
    ------
    ValueError
        For an angle out of range or NaN.

    Source: `kwok_neumann_1999`, `gum`.

    >>> round(neumann(90, ProbeLiquid("water", 72.8, 21.8, 51.0, "set_a")).total, 3)
    29.224
    """
    angles = probe_angles(np.atleast_1d(angle_deg), 1, 1)
    u_angle = mean_uncertainty(angle_sd_deg, replicates, ())
    found = neumann_energy(angles[0], liquid.total, b)
    uncertainties = ()
    if u_angle is not None:
        u = _neumann_slope(angles[0], found, liquid.total, b) * float(u_angle)
        uncertainties = (PartUncertainty(FROM_ANGLES, u, None, None, None),)
    return energy(
        "Neumann", liquid.set_key, (liquid,), angles, surface, total=found, uncertainties=uncertainties,
        notes=(f"b = {b:g} (m²/mJ)²; versions of the equation of state differ noticeably",),
    )  # fmt: skip


def _neumann_slope(angle_deg: float, found: float, tension: float, b: float) -> float:
    """|dγS/dθ| [mN/m per rad] from the equation's own derivative."""
    theta = np.radians(angle_deg)
    by_energy = (1 + np.cos(theta)) * (1 / (2 * found) + 2 * b * (tension - found)) if found > 0 else np.inf
    return float(np.sin(theta) / by_energy)
