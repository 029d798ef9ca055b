"""Ice adhesion: shear stress at detachment, reduction against a reference, and scaling on smooth coatings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.measures.log_ratio import LogRatio, log_ratio
from analysis.ranges import plain, within

ONE_METHOD = "compared within one method, ice type, temperature and rate only: there is no standard test"


@dataclass(frozen=True, slots=True)
class AdhesionReduction:
    """How many times less ice adhesion a coating has than its reference."""

    factor: LogRatio
    method: str
    notes: tuple[str, ...]


@formula(
    "τ = F/A",
    source="ice_adhesion_practice",
    holds_when="stress taken as uniform over the ice; compare within one method only",
)
def ice_adhesion_strength(force_n: ArrayLike, area_mm2: ArrayLike) -> float | np.ndarray:
    """Ice adhesion strength from the peak force and the area of the ice.

    Parameters
    ----------
    force_n : array_like
        Largest force [N], at least 0.
    area_mm2 : array_like
        Area that the ice covered [mm2], above 0; broadcasts against the force.

    Returns
    -------
    float or numpy.ndarray
        Stress [kPa]; NaN stays NaN. A mean stress: the edge of the ice carries more.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `ice_adhesion_practice`.

    >>> ice_adhesion_strength(120, 25 * 25)
    192.0
    """
    force = within("force", force_n, "N", at_least=0)
    return plain(1000 * force / within("area of the ice", area_mm2, "mm2", above=0))


@formula(
    "ARF = τ(reference)/τ(test)",
    source="ice_adhesion_practice welch_satterthwaite",
    holds_when="both groups read with one method, ice type, temperature and rate",
    library="scipy.stats.t",
)
def ice_adhesion_reduction(
    reference_kpa: ArrayLike,
    test_kpa: ArrayLike,
    *,
    method: str,
    reference_method: str,
    confidence: float = 0.95,
) -> AdhesionReduction:
    """How many times a coating lowers ice adhesion against its reference, from single coupons.

    Parameters
    ----------
    reference_kpa, test_kpa : array_like
        Strength of each coupon [kPa], above 0.
    method, reference_method : str
        How test and reference were read; they must be the same.
    confidence : float
        Two-sided confidence of the interval [-].

    Returns
    -------
    AdhesionReduction
        Factor of geometric means with its interval; above 1 where the coating holds ice less.

    Raises
    ------
    ValueError
        For different or unnamed methods, a value not above 0, or NaN.

    Source: `ice_adhesion_practice`, `welch_satterthwaite`.

    >>> found = ice_adhesion_reduction([200, 400], [50, 50], method="push", reference_method="push")
    >>> round(found.factor.ratio, 4)
    5.6569
    """
    _require_one_method(method, reference_method)
    factor = log_ratio(reference_kpa, test_kpa, confidence)
    notes = [ONE_METHOD]
    if factor.low is None:
        notes.append("no interval: at least two coupons that differ are needed on each side")
    elif factor.low <= 1 <= factor.high:
        notes.append("the interval holds 1: no difference is shown")
    return AdhesionReduction(factor, method, tuple(notes))


@formula(
    "ARF = τ₀/τ, u(ARF) = ARF·√[(u(τ₀)/τ₀)² + (u(τ)/τ)²]",
    source="gum",
    holds_when="relative uncertainties small, say below 0.3; both means from one method",
)
def adhesion_reduction_factor(
    reference_kpa: ArrayLike, u_reference: ArrayLike, test_kpa: ArrayLike, u_test: ArrayLike
) -> tuple[float | np.ndarray, float | np.ndarray]:
    """Reduction factor from two means that are only known with their standard uncertainties.

    Parameters
    ----------
    reference_kpa, test_kpa : array_like
        Means [kPa], above 0.
    u_reference, u_test : array_like
        Their standard uncertainties [kPa], at least 0.

    Returns
    -------
    tuple
        Factor and its standard uncertainty [-], to first order; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `gum`, 5.1.6.

    >>> factor, u = adhesion_reduction_factor(300, 30, 100, 10)
    >>> factor, round(u, 4)
    (3.0, 0.4243)
    """
    top = within("ice adhesion of the reference", reference_kpa, "kPa", above=0)
    bottom = within("ice adhesion of the test", test_kpa, "kPa", above=0)
    relative = [
        within("standard uncertainty", u, "kPa", at_least=0) / value
        for u, value in ((u_reference, top), (u_test, bottom))
    ]
    factor = top / bottom
    return plain(factor), plain(factor * np.hypot(*relative))


@formula(
    "τ₂ = τ₁·(1 + cos θr₂)/(1 + cos θr₁)",
    source="meuler_2010",
    holds_when="smooth, solid coatings read with one method; not for textured, infused or very low-adhesion surfaces",
)
def smooth_ice_adhesion(
    reference_kpa: ArrayLike, reference_receding_deg: ArrayLike, receding_deg: ArrayLike
) -> float | np.ndarray:
    """Ice adhesion expected of a smooth coating from another smooth one and the receding angles of water.

    Parameters
    ----------
    reference_kpa : array_like
        Strength on the known coating [kPa], at least 0.
    reference_receding_deg : array_like
        Receding angle of water on it [deg], 0 up to below 180.
    receding_deg : array_like
        Receding angle on the other coating [deg], 0 to 180.

    Returns
    -------
    float or numpy.ndarray
        Strength [kPa]; a correlation of smooth coatings, never evidence for a textured or infused one.

    Raises
    ------
    ValueError
        For values out of range. NaN stays NaN.

    Source: `meuler_2010`.

    >>> round(smooth_ice_adhesion(100, 90, 117.5), 2)
    53.83
    """
    strength = within("ice adhesion of the reference", reference_kpa, "kPa", at_least=0)
    known = within("receding angle of the reference", reference_receding_deg, "deg", at_least=0, below=180)
    return plain(strength * np.asarray(receding_work_factor(receding_deg)) / np.asarray(receding_work_factor(known)))


@formula(
    "1 + cos θr",
    source="meuler_2010",
    holds_when="smooth, solid coatings; share of the practical work of adhesion of water, in units of its tension",
)
def receding_work_factor(receding_deg: ArrayLike) -> float | np.ndarray:
    """What ice adhesion on smooth coatings goes with: practical work of adhesion of water over its tension.

    Parameters
    ----------
    receding_deg : array_like
        Receding angle of water [deg], 0 to 180.

    Returns
    -------
    float or numpy.ndarray
        From 2 to 0 [-]; NaN stays NaN.

    Raises
    ------
    ValueError
        For an angle out of range.

    Source: `meuler_2010`.

    >>> round(receding_work_factor(70), 4)
    1.342
    """
    angle = within("receding angle", receding_deg, "deg", at_least=0, at_most=180)
    return plain(2 * np.cos(np.radians(angle) / 2) ** 2)  # keeps its digits near 180°


def _require_one_method(method: str, reference_method: str) -> None:
    if not method.strip() or method != reference_method:
        raise ValueError(f"test read by {method!r} and reference by {reference_method!r}: {ONE_METHOD}")
