"""True directions, which begin again after a full turn: where a drop rolled off, which way it drifted.

Contact and sliding angles are no directions: they are bounded, and belong to `bounded`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.replication import finite


@dataclass(frozen=True, slots=True)
class Directions:
    """Mean direction, concentration and the test against no preferred direction."""

    mean_deg: float | None  # 0 to 360; None where the directions cancel
    resultant_length: float  # 0 (no direction preferred) to 1 (all the same)
    angular_deviation_deg: float
    circular_sd_deg: float
    rayleigh_z: float
    p_value: float  # of directions spread evenly over the circle
    n: int


@formula(
    "r·e^{iθ̄} = Σe^{iθⱼ}/n;  z = n·r², p = exp{√[1 + 4n + 4n²(1 − r²)] − (1 + 2n)};  s = √[2(1 − r)], s₀ = √(−2·ln r)",
    source="zar_1999",
    holds_when="independent directions; the p value is an approximation, for 5 or more",
    library="scipy.stats.directional_stats",
)
def direction_statistics(angles_deg: Sequence[float]) -> Directions:
    """Mean direction of directions on the full circle, with the Rayleigh test of whether there is any.

    Parameters
    ----------
    angles_deg : sequence of float
        Directions [deg], any turn: 358 and −2 are the same.

    Returns
    -------
    Directions
        The mean lies in 0 to 360. Without any preferred direction (r = 0) there is no mean.

    Raises
    ------
    ValueError
        For no directions, NaN or an infinite one.

    Source: `zar_1999`.

    >>> found = direction_statistics([355, 5, 350, 12, 2, 358])
    >>> round(found.mean_deg, 4)
    0.3297
    """
    angles = np.radians(finite(angles_deg))
    from scipy.stats import directional_stats

    n = angles.size
    points = np.column_stack((np.cos(angles), np.sin(angles)))
    length = float(np.hypot(*points.mean(axis=0)))
    mean, length = (None, 0.0) if length < 1e-12 else (directional_stats(points).mean_direction, min(length, 1.0))
    mean_deg = None if mean is None else math.degrees(math.atan2(mean[1], mean[0])) % 360
    p = math.exp(math.sqrt(1 + 4 * n + 4 * n * n * (1 - length**2)) - (1 + 2 * n))
    circular = math.inf if length == 0 else math.degrees(math.sqrt(2 * abs(math.log(length))))
    deviation = math.degrees(math.sqrt(2 * (1 - length)))
    return Directions(mean_deg, length, deviation, circular, n * length**2, min(p, 1.0), n)
