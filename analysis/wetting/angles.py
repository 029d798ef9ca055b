"""Contact angles: balance of tensions on a smooth solid, full wetting of a rough one, adhesion, equilibrium angle.

Arguments are numbers or arrays that broadcast. NaN in an array stays NaN in its place; a single NaN is refused.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.inputs import (
    advancing_receding,
    angle_deg,
    contact_angle,
    number,
    one_plus_cosine,
    positive,
)

SPREADING, PARTIAL, DEWETTING = "spreading", "partial wetting", "dewetting"
_ROUNDING = 1e-12  # a cosine that exceeds 1 by no more is 1


@dataclass(frozen=True, slots=True)
class YoungBalance:
    """What three tensions say of a liquid on a smooth solid: its state, and its angle where there is one."""

    state: str | np.ndarray  # spreading, partial wetting or dewetting; "" where an input is NaN
    angle_deg: float | np.ndarray  # NaN outside partial wetting
    spreading_coefficient: float | np.ndarray  # γSV − γSL − γLV [mN/m], 0 or more for a liquid that spreads


@formula(
    "cos θ = (γSV − γSL)/γLV;  S = γSV − γSL − γLV",
    source="young_1805",
    holds_when="smooth, rigid, inert solid at equilibrium",
)
def young_balance(solid_vapour: ArrayLike, solid_liquid: ArrayLike, liquid_vapour: ArrayLike) -> YoungBalance:
    """Whether a liquid forms an angle on a smooth solid, spreads on it or retracts from it, for many at once.

    Parameters
    ----------
    solid_vapour, solid_liquid : array_like
        Tensions of the solid against vapour and liquid [mN/m], 0 or more.
    liquid_vapour : array_like
        Surface tension of the liquid [mN/m], above 0.

    Returns
    -------
    YoungBalance
        State, angle [deg] and spreading coefficient [mN/m] of each combination. At S = 0 the angle is 0.

    Raises
    ------
    ValueError
        For a tension outside its range, or a single NaN. NaN in an array gives state "" and NaN.

    Source: `young_1805`.

    >>> found = young_balance([45, 80], 12, [72.8, 22.0])
    >>> found.state.tolist(), found.angle_deg.round(2).tolist()
    (['partial wetting', 'spreading'], [63.04, nan])
    """
    dry = number("tension of solid and vapour", solid_vapour, "mN/m", at_least=0)
    wet = number("tension of solid and liquid", solid_liquid, "mN/m", at_least=0)
    free = positive("surface tension", liquid_vapour, "mN/m")
    cosine = (dry - wet) / free
    has_angle = np.abs(cosine) <= 1 + _ROUNDING
    state = np.select([has_angle, cosine > 1, cosine < -1], [PARTIAL, SPREADING, DEWETTING], "")
    angle = np.where(has_angle, np.degrees(np.arccos(np.clip(cosine, -1, 1))), np.nan)
    return YoungBalance(plain(state), plain(angle), plain(dry - wet - free))


@formula(
    "cos θ = (γSV − γSL)/γLV", source="young_1805", holds_when="smooth, rigid, inert solid at equilibrium; |cos θ| ≤ 1"
)
def young_angle_deg(solid_vapour: ArrayLike, solid_liquid: ArrayLike, liquid_vapour: ArrayLike) -> float | np.ndarray:
    """Contact angle of a liquid on a smooth solid from the three tensions.

    Parameters
    ----------
    solid_vapour, solid_liquid, liquid_vapour : array_like
        As in `young_balance` [mN/m].

    Returns
    -------
    float or numpy.ndarray
        Angle [deg], 0 to 180.

    Raises
    ------
    ValueError
        Where there is no angle because the liquid spreads (cosine above 1) or retracts from the solid
        (below −1): `young_balance` tells which, element by element. Also for a tension out of its range or a
        single NaN.

    Source: `young_1805`.

    >>> round(young_angle_deg(45, 12, 72.8), 4)
    63.0446
    """
    found = young_balance(solid_vapour, solid_liquid, liquid_vapour)
    for state, does in ((SPREADING, "exceeds 1"), (DEWETTING, "lies below −1")):
        if np.any(np.asarray(found.state) == state):
            raise ValueError(f"no contact angle: {state}, the cosine (γSV − γSL)/γLV {does}")
    return found.angle_deg


@formula(
    "cos θ* = r·cos θY",
    source="wenzel_1936 nat_sustain_2020",
    holds_when="texture fully wetted and small against the drop; saturates at 0° and 180°",
)
def wenzel_angle_deg(young_deg: ArrayLike, roughness: ArrayLike) -> float | np.ndarray:
    """Apparent angle on a rough surface that the liquid wets fully.

    Parameters
    ----------
    young_deg : array_like
        Angle on the smooth solid [deg], 0 to 180.
    roughness : array_like
        True over projected area [-], 1 or more.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg]; 0 or 180 where r·cos θ leaves −1 to 1: the roughness then draws the liquid in fully, or
        keeps it out.

    Raises
    ------
    ValueError
        For an angle or roughness out of range, or a single NaN; NaN in an array stays.

    Source: `wenzel_1936`, `nat_sustain_2020`.

    >>> round(wenzel_angle_deg(105, 1.5), 3)
    112.844
    """
    ratio = number("roughness factor", roughness, at_least=1)
    young = contact_angle(young_deg)
    # 1 + r·cos θ = (1 − r) + r(1 + cos θ): exact at r = 1 up to 180°
    return plain(angle_deg((1 - ratio) + ratio * one_plus_cosine(young)))


@formula("cos θY = cos θ*/r", source="wenzel_1936", holds_when="texture fully wetted, angle not saturated")
def smooth_angle_from_wenzel_deg(apparent_deg: ArrayLike, roughness: ArrayLike) -> float | np.ndarray:
    """Angle on the smooth solid that would explain an apparent angle by roughness alone.

    Parameters
    ----------
    apparent_deg : array_like
        Angle on the rough surface [deg], above 0 and below 180: at either end it is saturated and tells only
        a bound.
    roughness : array_like
        True over projected area [-], 1 or more.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg].

    Raises
    ------
    ValueError
        For an angle or roughness out of range, or a single NaN; NaN in an array stays.

    Source: `wenzel_1936`.

    >>> round(smooth_angle_from_wenzel_deg(154, 2.3), 2)
    113.0
    """
    ratio = number("roughness factor", roughness, at_least=1)
    apparent = contact_angle(apparent_deg, "apparent angle", above=0, below=180)
    return plain(np.degrees(np.arccos(np.cos(apparent) / ratio)))


@formula("W = γ(1 + cos θ)", source="dupre_1869", holds_when="pressure of an adsorbed vapour film neglected")
def work_of_adhesion(tension: ArrayLike, young_deg: ArrayLike) -> float | np.ndarray:
    """Work per area that parts a liquid from a smooth solid.

    Parameters
    ----------
    tension : array_like
        Surface tension of the liquid [mN/m], above 0.
    young_deg : array_like
        Contact angle on the smooth solid [deg], 0 to 180.

    Returns
    -------
    float or numpy.ndarray
        Work [mJ/m2], from 0 at 180° to 2γ at 0°.

    Raises
    ------
    ValueError
        For a tension or angle out of range, or a single NaN; NaN in an array stays.

    Source: `dupre_1869`.

    >>> round(work_of_adhesion(72.8, 110), 3)
    47.901
    """
    return plain(positive("surface tension", tension, "mN/m") * one_plus_cosine(contact_angle(young_deg)))


@formula(
    "Γ(θ) = [sin³θ/(2 − 3cos θ + cos³θ)]^(1/3)", source="tadmor_2004", holds_when="spherical cap, gravity neglected"
)
def tadmor_weight(contact_angle_deg: ArrayLike) -> float | np.ndarray:
    """Weight of an advancing or receding angle in Tadmor's equilibrium angle.

    Parameters
    ----------
    contact_angle_deg : array_like
        Angle [deg], 0 to 180.

    Returns
    -------
    float or numpy.ndarray
        Weight [-]: falls from infinity at 0° to 0 at 180°.

    Raises
    ------
    ValueError
        For an angle out of range or a single NaN; NaN in an array stays.

    Source: `tadmor_2004`.

    >>> round(tadmor_weight(110), 5)
    0.65256
    """
    upper, lower = _weight_parts(contact_angle(contact_angle_deg))
    with np.errstate(divide="ignore"):  # infinite at 0°, the limit
        return plain(np.cbrt(upper / lower))


@formula(
    "cos θ0 = (ΓA·cos θa + ΓR·cos θr)/(ΓA + ΓR),  Γ = [sin³θ/(2 − 3cos θ + cos³θ)]^(1/3)",
    source="tadmor_2004",
    holds_when="drop without gravity, line energy symmetric between advancing and receding",
)
def tadmor_angle_deg(advancing_deg: ArrayLike, receding_deg: ArrayLike) -> float | np.ndarray:
    """Equilibrium angle from advancing and receding angle, weighted by the shape of the drop.

    Parameters
    ----------
    advancing_deg, receding_deg : array_like
        Angles of the same surface [deg], 0 to 180, θr not above θa.

    Returns
    -------
    float or numpy.ndarray
        Angle between the two [deg]. Equal angles come back; a receding angle of 0 gives 0, its weight being
        infinite; an advancing angle of 180 has no weight and gives the receding one.

    Raises
    ------
    ValueError
        For an angle out of range, θr above θa, or a single NaN; NaN in an array stays.

    Source: `tadmor_2004`.

    >>> round(tadmor_angle_deg(110, 90), 3)
    98.877
    """
    advancing, receding = advancing_receding(advancing_deg, receding_deg)
    (ahead_up, ahead_down), (behind_up, behind_down) = _weight_parts(advancing), _weight_parts(receding)
    # Γa and Γr times the same number, which keeps both finite
    ahead, behind = np.cbrt(ahead_up * behind_down), np.cbrt(behind_up * ahead_down)
    total = ahead + behind
    share = np.divide(ahead, total, out=np.where(np.isnan(total), np.nan, 0.5), where=total > 0)
    return plain(_mean_in_cosine(advancing, receding, share))


@formula(
    "cos θ0 = (cos θa + cos θr)/2", source="common_practice", holds_when="small hysteresis; simpler than Tadmor's angle"
)
def mean_angle_deg(advancing_deg: ArrayLike, receding_deg: ArrayLike) -> float | np.ndarray:
    """Angle half-way between advancing and receding in their cosines: the resting drop's shape is taken there.

    Parameters
    ----------
    advancing_deg, receding_deg : array_like
        Angles of the same surface [deg], 0 to 180, in either order.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg]; equal angles come back.

    Raises
    ------
    ValueError
        For an angle out of range or a single NaN; NaN in an array stays.

    Source: `common_practice`.

    >>> round(mean_angle_deg(110, 90), 3)
    99.847
    """
    advancing = contact_angle(advancing_deg, "advancing angle")
    return plain(_mean_in_cosine(advancing, contact_angle(receding_deg, "receding angle"), 0.5))


def _weight_parts(angle: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Numerator and denominator of Γ³ = cot(θ/2)(1 + cos θ)/(2 + cos θ), which is the published form factored."""
    return np.cos(angle / 2) * (1 + np.cos(angle)), np.sin(angle / 2) * (2 + np.cos(angle))


def _mean_in_cosine(advancing: np.ndarray, receding: np.ndarray, share: ArrayLike) -> np.ndarray:
    """Mean of two cosines as an angle, by half angles: cosines alone lose digits near 0° and 180°."""
    sine2 = share * np.sin(advancing / 2) ** 2 + (1 - share) * np.sin(receding / 2) ** 2
    cosine2 = share * np.cos(advancing / 2) ** 2 + (1 - share) * np.cos(receding / 2) ** 2
    return np.degrees(2 * np.arctan2(np.sqrt(sine2), np.sqrt(cosine2)))
