"""How old a resting drop may be before evaporation has changed its volume: the loss followed through time.

A drop shrinks in one of two ways, or in turns: at constant angle while its contact line recedes, or on a pinned
contact line while its angle falls. Numbers or arrays that broadcast; NaN in an array stays NaN in its place, a
single NaN is refused.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.capillary import cap_drop
from analysis.wetting.evaporation import Vapour, contact_angle_factor, evaporation_rate_ul_s, evaporation_speed
from analysis.wetting.inputs import number
from analysis.wetting.measured_drops import cap_angle_of_volume_deg

CONSTANT_ANGLE, CONSTANT_BASE = "constant angle", "constant base"
_NODES = (
    24  # of the Gauss–Legendre rule: the integrand is smooth, this is exact to 1e-6 up to 179.9° and far better below
)


@formula(
    "constant angle: t = (3V/2V̇)[1 − (1 − x)^(2/3)];  constant base: t = ∫ρ dV/[π·a·D·Δc·F(θ)]",
    source="diffusion_evaporation",
    holds_when="still air, spherical cap, drop at room temperature; V̇ the rate of the fresh drop, x the share lost",
    library="numpy.polynomial.legendre",
)
def drop_age_limit_s(
    volume_ul: ArrayLike,
    angle_deg: ArrayLike,
    temperature_c: ArrayLike,
    humidity_pct: ArrayLike = 0.0,
    *,
    loss_percent: ArrayLike = 5.0,
    mode: str = CONSTANT_ANGLE,
    vapour: Vapour | None = None,
) -> float | np.ndarray:
    """Age at which a resting drop has lost a given share of its volume.

    Parameters
    ----------
    volume_ul, angle_deg, temperature_c, humidity_pct, vapour
        Of the fresh drop and the room, as in `evaporation_rate_ul_s` [uL], [deg], [°C], [%].
    loss_percent : array_like
        Share lost [%], 0 to 100; 5 by common practice, 100 for the whole life of the drop.
    mode : str
        "constant angle" (the contact line recedes) or "constant base" (it is pinned).

    Returns
    -------
    float or numpy.ndarray
        Age [s]; infinite in saturated air.

    Raises
    ------
    ValueError
        Out of range, an unknown mode, or a single NaN.

    Source: `diffusion_evaporation`.

    >>> round(drop_age_limit_s(5, 110, 25, 50))
    103
    >>> drop_age_limit_s(5, 110, 25, 100)
    inf
    """
    share = number("loss", loss_percent, "%", at_least=0, at_most=100) / 100
    rate = np.asarray(evaporation_rate_ul_s(volume_ul, angle_deg, temperature_c, humidity_pct, vapour))
    volume = np.asarray(volume_ul, dtype=float)
    if mode == CONSTANT_ANGLE:
        work = 1.5 * volume * (1 - np.cbrt(1 - share) ** 2)
        return _time(work, rate)
    if mode != CONSTANT_BASE:
        raise ValueError(f"the mode must be “{CONSTANT_ANGLE}” or “{CONSTANT_BASE}”, not “{mode}”")
    return _time(_work_on_base(volume, angle_deg, share), evaporation_speed(temperature_c, humidity_pct, vapour))


@formula(
    "share lost x of drop_age_limit_s(x) = t",
    source="diffusion_evaporation",
    holds_when="still air, spherical cap, drop at room temperature",
    library="scipy.optimize.elementwise.find_root",
)
def evaporated_percent(
    volume_ul: ArrayLike,
    angle_deg: ArrayLike,
    seconds: ArrayLike,
    temperature_c: ArrayLike,
    humidity_pct: ArrayLike = 0.0,
    *,
    mode: str = CONSTANT_ANGLE,
    vapour: Vapour | None = None,
) -> float | np.ndarray:
    """Share of its volume that a resting drop has lost at a given age, its shrinking allowed for.

    Parameters
    ----------
    volume_ul, angle_deg, temperature_c, humidity_pct, mode, vapour
        As in `drop_age_limit_s` [uL], [deg], [°C], [%].
    seconds : array_like
        Age of the drop [s], 0 or more.

    Returns
    -------
    float or numpy.ndarray
        Loss [%], 100 once the drop is gone.

    Raises
    ------
    ValueError
        Out of range, an unknown mode, or a single NaN.

    Source: `diffusion_evaporation`.

    >>> round(evaporated_percent(5, 110, drop_age_limit_s(5, 110, 25, 50), 25, 50), 6)
    5.0
    """
    age = number("time on the surface", seconds, "s", at_least=0)
    if mode != CONSTANT_BASE:
        whole = drop_age_limit_s(volume_ul, angle_deg, temperature_c, humidity_pct, loss_percent=100, mode=mode,
                                 vapour=vapour)  # fmt: skip
        return plain(100 * (1 - np.maximum(1 - age / whole, 0.0) ** 1.5))
    speed = evaporation_speed(temperature_c, humidity_pct, vapour)
    drops = np.broadcast_arrays(np.asarray(volume_ul, dtype=float), np.asarray(angle_deg, dtype=float), age * speed)
    number("contact angle", angle_deg, "deg", above=0, below=180)
    return plain(100 * _share_on_base(*drops))


def _time(work: np.ndarray, rate: np.ndarray) -> float | np.ndarray:
    work, rate = np.broadcast_arrays(work, rate)
    ever = np.where(np.isnan(work), np.nan, np.where(work == 0, 0.0, np.inf))  # where nothing evaporates
    return plain(np.divide(work, rate, out=ever, where=~(rate <= 0)))


def _work_on_base(volume: np.ndarray, angle_deg: ArrayLike, share: np.ndarray) -> np.ndarray:
    """∫dV/[a·F(θ)] from the fresh drop to what is left [mm2], over the slope t = h/a = tan(θ/2)."""
    base = np.asarray(cap_drop(volume, angle_deg).base_radius_mm)
    fresh = np.tan(np.radians(np.asarray(angle_deg, dtype=float)) / 2)
    left = np.where(share == 0, fresh, np.minimum(_slope_left(volume, base, share), fresh))
    fresh, left, base = np.broadcast_arrays(fresh, left, base)
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    slopes = left[..., None] + (fresh - left)[..., None] * (nodes + 1) / 2
    # dV = (π/2)a³(1 + t²)dt
    density = (1 + slopes**2) / contact_angle_factor(np.degrees(2 * np.arctan(slopes)))
    return np.pi / 2 * base**2 * (fresh - left) / 2 * (density @ weights)


def _slope_left(volume: np.ndarray, base: np.ndarray, share: np.ndarray) -> np.ndarray:
    """tan(θ/2) of the cap that is left on the same base."""
    left = volume * (1 - share)
    some = np.where(left <= 0, volume, left)
    angle = np.asarray(cap_angle_of_volume_deg(some, base))
    return np.where(left <= 0, 0.0, np.tan(np.radians(angle) / 2))


def _share_on_base(volume: np.ndarray, angle_deg: np.ndarray, work: np.ndarray) -> np.ndarray:
    from scipy.optimize.elementwise import find_root

    whole = _work_on_base(volume, angle_deg, np.asarray(1.0))
    share = np.where(np.isnan(whole + work), np.nan, np.where(work >= whole, 1.0, 0.0))
    between = (work > 0) & (work < whole)
    if between.any():
        drops = tuple(item[between] for item in (volume, angle_deg, work))

        def excess(part, *drop):
            return _work_on_base(drop[0], drop[1], part) - drop[2]

        ends = np.zeros(drops[0].shape), np.ones(drops[0].shape)
        share[between] = find_root(excess, ends, args=drops).x
    return share
