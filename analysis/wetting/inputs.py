"""What the wetting formulas ask of their arguments: a range, and no NaN that stands alone.

NaN in an array is a gap in a table and stays in its place; NaN as a single number is a mistake and is refused.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analysis.ranges import within


def number(name: str, value: ArrayLike, unit: str = "", **limits: float) -> np.ndarray:
    """The value as a checked array: limits as in `analysis.ranges.within`."""
    return within(name, value, unit, has_nan=np.ndim(value) > 0, **limits)


def positive(name: str, value: ArrayLike, unit: str = "") -> np.ndarray:
    """The value as an array of numbers above 0."""
    return number(name, value, unit, above=0)


def contact_angle(value: ArrayLike, name: str = "contact angle", **limits: float) -> np.ndarray:
    """The angle in radians, if it lies from 0 to 180 degrees or within narrower limits [deg]."""
    usual = {} if {"above", "at_least"} & set(limits) else {"at_least": 0}
    usual |= {} if {"below", "at_most"} & set(limits) else {"at_most": 180}
    return np.radians(number(name, value, "deg", **usual, **limits))


def advancing_receding(advancing_deg: ArrayLike, receding_deg: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    """Both angles in radians, the receding one nowhere above the advancing one."""
    advancing = contact_angle(advancing_deg, "advancing angle")
    receding = contact_angle(receding_deg, "receding angle")
    behind, ahead = np.broadcast_arrays(receding, advancing)
    wrong = behind > ahead
    if wrong.any():
        pair = np.degrees(behind[wrong][0]), np.degrees(ahead[wrong][0])
        raise ValueError("the receding angle {:g} deg lies above the advancing one {:g} deg".format(*pair))
    return advancing, receding


def angle_deg(one_plus_cosine: ArrayLike) -> np.ndarray:
    """The angle whose cosine exceeds −1 by this much, 0° or 180° where there is none: keeps its digits near 180°."""
    share = np.clip(np.asarray(one_plus_cosine, dtype=float) / 2, 0.0, 1.0)
    return np.degrees(2 * np.arctan2(np.sqrt(1 - share), np.sqrt(share)))


def one_plus_cosine(angle_rad: ArrayLike) -> np.ndarray:
    """1 + cos θ without loss of digits near 180°."""
    return 2 * np.cos(np.asarray(angle_rad) / 2) ** 2
