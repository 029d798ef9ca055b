"""The largest drop that still holds on a slope: what stays on a coated plate as residue.

Numbers or arrays that broadcast; NaN in an array stays NaN in its place, a single NaN is refused.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting import outline
from analysis.wetting.angles import mean_angle_deg
from analysis.wetting.capillary import GRAVITY, capillary_length_mm
from analysis.wetting.inputs import advancing_receding, contact_angle, number
from analysis.wetting.retention import PARALLEL_SIDED, RetentionForm, retention_per_width


@formula(
    "ρ·V·g·sin α = k·L·γ(cos θr − cos θa);  for a cap V = [k·ω·γ(cos θr − cos θa)/(ρ·g·sin α)]^(3/2),  w = ω·V^(1/3)",
    source="furmidge_1962 cap_geometry young_laplace",
    holds_when="width of the level drop at the mean angle, cos θ = (cos θa + cos θr)/2",
)
def largest_held_volume_ul(
    tilt_deg: ArrayLike,
    advancing_deg: ArrayLike,
    receding_deg: ArrayLike,
    tension: ArrayLike,
    density: ArrayLike,
    *,
    form: RetentionForm = PARALLEL_SIDED,
    has_gravity: bool = True,
) -> float | np.ndarray:
    """Largest volume that the contact line still holds on a given slope.

    Parameters
    ----------
    tilt_deg : array_like
        Slope [deg], 0 to 90.
    advancing_deg, receding_deg : array_like
        Angles [deg], θr not above θa.
    tension, density : array_like
        Of the liquid [mN/m], [kg/m3], above 0.
    form : RetentionForm
        Factor with its length.
    has_gravity : bool
        Whether the width is that of the drop flattened by gravity (wider, so that more is held) or of a
        spherical cap, which has a closed form.

    Returns
    -------
    float or numpy.ndarray
        Volume [uL]: infinite on the level, 0 without hysteresis. With θr = 0 the drop leaves a film behind.

    Raises
    ------
    ValueError
        Out of range, θr above θa, both 0, or a single NaN.

    Source: `furmidge_1962`, `cap_geometry`, `young_laplace`.

    >>> round(largest_held_volume_ul(90, 110, 105, 72.736, 998.207, has_gravity=False), 3)
    0.738
    """
    advancing_receding(advancing_deg, receding_deg)
    slope = np.sin(np.radians(number("tilt", tilt_deg, "deg", at_least=0, at_most=90)))
    held = np.asarray(form.k_with_width * retention_per_width(tension, advancing_deg, receding_deg))
    length = np.asarray(capillary_length_mm(tension, density))
    angle = contact_angle(mean_angle_deg(advancing_deg, receding_deg), "mean angle", above=0)
    slope, held, length, angle, heavy = np.broadcast_arrays(
        slope, held, length, angle, np.asarray(density, dtype=float) * GRAVITY * 1e-3
    )
    is_gap = np.isnan(slope + held + length)
    volume = np.where(is_gap, np.nan, np.where((held > 0) | (slope == 0), np.inf, 0.0))
    moves = (slope > 0) & (held > 0) & ~is_gap
    if moves.any():
        ratio = 2 * held[moves] / (heavy[moves] * slope[moves])  # V over base radius at the limit [mm²]
        volume[moves] = (_flattened if has_gravity else _cap)(ratio, angle[moves], length[moves])
    return plain(volume)


def _cap(ratio: np.ndarray, angle: np.ndarray, length: np.ndarray) -> np.ndarray:
    base_per_root = np.cbrt(1 / outline.cap_volume_per_base_cubed(angle))  # a = this · V^(1/3)
    return (ratio * base_per_root) ** 1.5


def _flattened(ratio: np.ndarray, angle: np.ndarray, length: np.ndarray) -> np.ndarray:
    volume = outline.lake_of_volume_per_base(ratio, angle, length)
    is_drop = outline.puddle_width(volume, angle, length) <= outline.WIDEST
    if is_drop.any():
        drops = angle[is_drop], length[is_drop]
        top_radius = outline.top_radius_of_volume_per_base(ratio[is_drop], *drops)
        volume[is_drop] = outline.ends(top_radius, *drops)[2]
    return volume
