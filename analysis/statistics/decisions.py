"""Decision rules: whether a measured value conforms, when the measurement itself is uncertain.

A rule is chosen before measuring: simple acceptance shares the risk, a guard band moves it to the producer, and
the four-way rule says where a value lies. The statement of conformity names the rule.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.records import CANNOT_TELL, FAIL, PASS

CONDITIONAL_PASS, CONDITIONAL_FAIL = "conditional pass", "conditional fail"
_ROUNDING = 1e-12  # of the largest number involved: a value computed to lie on a limit lies on it


@dataclass(frozen=True, slots=True, eq=False)
class AcceptanceLimits:
    """Limits that a measured value is held against; infinite on a side without a limit."""

    lower: float | np.ndarray
    upper: float | np.ndarray
    guard: float | np.ndarray  # w, distance from the tolerance limits
    is_empty: bool | np.ndarray  # whether the guard bands leave nothing to accept


@formula(
    "A_U = T_U − w, A_L = T_L + w, w = r·U",
    source="ilac_g8 jcgm_106",
    holds_when="U at about 95 % coverage; r = 0 simple acceptance, r = 1 the usual guard band",
)
def acceptance_limits(
    expanded: ArrayLike, lower: ArrayLike | None = None, upper: ArrayLike | None = None, guard_ratio: ArrayLike = 1.0
) -> AcceptanceLimits:
    """Limits for measured values, drawn in from the tolerance by a guard band.

    Parameters
    ----------
    expanded : float or array
        Expanded uncertainty U, unit of the values, 0 or more.
    lower, upper : float or array, optional
        Tolerance limits, unit of the values; at least one.
    guard_ratio : float or array
        r, guard band over U [-]; 0 for simple acceptance, negative to reject only what surely fails.

    Returns
    -------
    AcceptanceLimits
        Unit of the values; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For U below 0, no limit, or lower not below upper.

    Source: `ilac_g8`, 4.2; `jcgm_106`, clause 8.

    >>> acceptance_limits(0.5, upper=10.0).upper
    9.5
    """
    low, high = require_limits(lower, upper)
    guard = within("guard ratio", guard_ratio) * within("expanded uncertainty", expanded, at_least=0)
    bottom, top = low + guard, high - guard
    return AcceptanceLimits(plain(bottom), plain(top), plain(guard), plain(bottom > top))


@formula(
    "pass: within A; four-way: pass within T − w, conditional pass to T, conditional fail to T + w, fail beyond",
    source="ilac_g8 jcgm_106",
    holds_when="the rule was agreed before measuring",
)
def decide(
    value: ArrayLike,
    expanded: ArrayLike,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
    guard_ratio: ArrayLike = 1.0,
    is_binary: bool = True,
):
    """Judge measured values by a decision rule.

    Parameters
    ----------
    value : float or array
        Measured values, any unit.
    expanded : float or array
        Expanded uncertainty U, unit of the values, 0 or more.
    lower, upper : float or array, optional
        Tolerance limits, unit of the values; at least one.
    guard_ratio : float or array
        r, guard band over U [-], 0 or more; 0 is simple acceptance.
    is_binary : bool
        Pass or fail; else the four-way rule.

    Returns
    -------
    str or array of str
        "pass", "fail", with the four-way rule also "conditional pass" and "conditional fail"; "cannot tell" where
        something is NaN. A value on a limit counts as inside it.

    Raises
    ------
    ValueError
        For U or a ratio below 0, no limit, or lower not below upper.

    Source: `ilac_g8`, 4.2; `jcgm_106`, clause 8.

    >>> decide([9.0, 9.7, 10.2, 10.9], 0.5, upper=10.0, is_binary=False).tolist()
    ['pass', 'conditional pass', 'conditional fail', 'fail']
    """
    measured, (low, high) = within("value", value), require_limits(lower, upper)
    spread = within("expanded uncertainty", expanded, at_least=0)
    guard = within("guard ratio", guard_ratio, at_least=0) * spread
    outcome = np.where(is_inside(measured, low, high, guard), PASS, FAIL)
    if not is_binary:
        beyond = np.where(is_inside(measured, low, high, -guard), CONDITIONAL_FAIL, FAIL)
        between = np.where(is_inside(measured, low, high, 0 * guard), CONDITIONAL_PASS, beyond)
        outcome = np.where(is_inside(measured, low, high, guard), PASS, between)
    return plain(np.where(np.isnan(measured + guard) | np.isnan(low) | np.isnan(high), CANNOT_TELL, outcome))


@formula(
    "risk = Φ(−r·k)",
    source="ilac_g8",
    holds_when="normal, one limit, U = k·u",
    library="scipy.special.ndtr",
)
def risk_at_acceptance_limit(guard_ratio: ArrayLike, factor: ArrayLike = 2.0):
    """Largest chance of a false acceptance that a guard band lets through: at a value on the acceptance limit.

    Parameters
    ----------
    guard_ratio : float or array
        r, guard band over the expanded uncertainty [-]; 0 is simple acceptance.
    factor : float or array
        k, expanded over standard uncertainty [-], above 0.

    Returns
    -------
    float or array
        0 to 1 [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For a factor of 0 or below.

    Source: `ilac_g8`, table of guard bands.

    >>> round(risk_at_acceptance_limit(1.0), 4)
    0.0228
    """
    from scipy.special import ndtr

    return plain(ndtr(-within("guard ratio", guard_ratio) * within("coverage factor", factor, above=0)))


@formula(
    "r = z(1 − risk)/k",
    source="ilac_g8",
    holds_when="normal, one limit, U = k·u",
    library="scipy.special.ndtri",
)
def guard_ratio_for_risk(risk: ArrayLike, factor: ArrayLike = 2.0):
    """Guard band, over the expanded uncertainty, that keeps the chance of a false acceptance at or below a risk.

    Parameters
    ----------
    risk : float or array
        Largest risk allowed [-], between 0 and 1; above 0.5 the ratio is negative.
    factor : float or array
        k, expanded over standard uncertainty [-], above 0.

    Returns
    -------
    float or array
        r [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For a risk outside 0 to 1 or a factor of 0 or below.

    Source: `ilac_g8`, table of guard bands.

    >>> round(guard_ratio_for_risk(0.05), 3)
    0.822
    """
    from scipy.special import ndtri

    return plain(-ndtri(within("risk", risk, above=0, below=1)) / within("coverage factor", factor, above=0))


def require_limits(lower: ArrayLike | None, upper: ArrayLike | None) -> tuple[np.ndarray, np.ndarray]:
    """Tolerance limits as arrays, infinite on a side without one.

    Parameters
    ----------
    lower, upper : float or array or None
        Limits, any unit; at least one.

    Returns
    -------
    tuple of numpy.ndarray
        Lower and upper.

    Raises
    ------
    ValueError
        For no limit, an infinite one, or lower not below upper.

    Source: `common_practice`.

    >>> [float(limit) for limit in require_limits(None, 10.0)]
    [-inf, 10.0]
    """
    if lower is None and upper is None:
        raise ValueError("a decision needs a limit")
    low = np.asarray(-np.inf) if lower is None else within("lower limit", lower)
    high = np.asarray(np.inf) if upper is None else within("upper limit", upper)
    if np.any(low >= high):
        raise ValueError("the lower limit must be below the upper limit")
    return low, high


def is_inside(value: np.ndarray, low: np.ndarray, high: np.ndarray, guard: np.ndarray) -> np.ndarray:
    """Whether values lie within the limits drawn in by a guard band; on a limit, but for rounding, is inside.

    Source: `common_practice`.

    >>> bool(is_inside(np.array(0.3), np.array(-np.inf), np.array(0.4), np.array(0.1)))
    True
    """
    room = np.minimum(high - value, value - low)
    finite_limits = (np.where(np.isinf(limit), 0.0, np.abs(limit)) for limit in (low, high))
    scale = np.maximum(np.abs(value), np.maximum(*finite_limits)) + np.abs(guard)
    return room >= guard - _ROUNDING * scale
