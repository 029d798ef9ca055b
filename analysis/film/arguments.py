"""What the film functions accept: numbers or arrays of them, each within its limits, or a refusal that names both."""

from __future__ import annotations

import numpy as np

Numbers = float | np.ndarray

_ANGLE = {"unit": "°", "low": 0, "high": 180}
_ROUGHNESS = {"low": 1}
_TENSION = {"unit": "mN/m", "low": 0}
# Inputs of the film criteria that are checked in the same way everywhere: parameter -> name in words, limits.
FILM_INPUTS = {
    "roughness": ("roughness (true over projected area)", _ROUGHNESS),
    "liquid_tension": ("liquid tension", _TENSION),
    "lubricant_tension": ("lubricant tension", _TENSION),
    "interfacial_tension": ("interfacial tension", _TENSION),
    "liquid_angle_deg": ("contact angle of the liquid", _ANGLE),
    "lubricant_angle_deg": ("contact angle of the lubricant", _ANGLE),
    "angle_under_deg": ("contact angle of the lubricant under the liquid", _ANGLE),
    "solid_fraction": ("solid fraction", {"low": 0, "below": 1}),
}


def number(
    name: str,
    value: Numbers,
    *,
    unit: str = "",
    above: float | None = None,
    low: float | None = None,
    below: float | None = None,
    high: float | None = None,
) -> np.ndarray:
    """A number or an array of numbers as an array, refused where it cannot be.

    Parameters
    ----------
    name : str
        What it is, in words, for the refusal.
    value : float or array
        A single number must be finite; NaN inside an array is a missing value and passes.
    unit : str
        For the refusal.
    above, low, below, high : float
        Limits: greater than, at least, less than, at most.

    Returns
    -------
    array
        The same numbers as floats.

    Raises
    ------
    ValueError
        For a single NaN, infinity anywhere, or a value beyond a limit: with name, value and limit.

    Source: `common_practice`.

    >>> number("height", 3, unit="um", above=0)
    array(3.)
    """
    found = np.asarray(value, dtype=float)
    if not found.ndim and not np.isfinite(found):
        raise ValueError(f"{name} must be a finite number, not {found}")
    outside = np.isinf(found)
    said = []
    for limit, words, is_beyond in (
        (above, "above", np.less_equal),
        (low, "at least", np.less),
        (below, "below", np.greater_equal),
        (high, "at most", np.greater),
    ):
        if limit is not None:
            outside |= is_beyond(found, limit)
            said.append(f"{words} {limit:g}")
    if np.any(outside):
        worst = float(found[outside].flat[0]) if found.ndim else float(found)
        raise ValueError(f"{name} must be {' and '.join(said) or 'finite'}{' ' * bool(unit)}{unit}, not {worst:g}")
    return found


def film_number(parameter: str, value: Numbers) -> np.ndarray:
    """One of the named film inputs as an array, within its limits.

    >>> film_number("roughness", 2)
    array(2.)
    """
    words, limits = FILM_INPUTS[parameter]
    return number(words, value, **limits)


def plain(found: np.ndarray) -> Numbers:
    """A single number as a float, an array as it is.

    >>> plain(np.array(2.5))
    2.5
    """
    return found if np.ndim(found) else float(found)


def said_where(is_outside: np.ndarray, words: str) -> tuple[str, ...]:
    """The note of a limit that is not kept; of several cases it says in how many.

    >>> said_where(np.array([True, False]), "too fast")
    ('too fast (in 1 of 2 cases)',)
    """
    count = int(np.count_nonzero(is_outside))
    if not count:
        return ()
    return (words if not np.ndim(is_outside) else f"{words} (in {count} of {np.size(is_outside)} cases)",)
