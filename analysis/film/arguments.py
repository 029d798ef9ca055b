"""What the film functions accept: numbers or arrays of them, each within its limits, or a refusal that names both."""

from __future__ import annotations

import numpy as np

from analysis.ranges import within

Numbers = float | np.ndarray
ROUNDING = 1e-9  # mN/m: a sum of tensions nearer to 0 is 0, and has no sign

_ANGLE = {"unit": "°", "at_least": 0, "at_most": 180}
_ROUGHNESS = {"at_least": 1}
_TENSION = {"unit": "mN/m", "at_least": 0}
# Inputs of the film criteria that are checked in the same way everywhere: parameter -> name in words, limits.
FILM_INPUTS = {
    "roughness": ("roughness (true over projected area)", _ROUGHNESS),
    "liquid_tension": ("liquid tension", _TENSION),
    "lubricant_tension": ("lubricant tension", _TENSION),
    "interfacial_tension": ("interfacial tension", _TENSION),
    "liquid_angle_deg": ("contact angle of the liquid", _ANGLE),
    "lubricant_angle_deg": ("contact angle of the lubricant", _ANGLE),
    "angle_under_deg": ("contact angle of the lubricant under the liquid", _ANGLE),
    "solid_fraction": ("solid fraction", {"at_least": 0, "below": 1}),
}


def number(name: str, value: Numbers, **limits: float | str) -> np.ndarray:
    """A number or an array of numbers as an array; a single NaN is refused, NaN in an array is a missing value.

    Parameters
    ----------
    name : str
        What it is, in words, for the refusal.
    value : float or array
        One number or many.
    **limits
        Unit and limits, as `analysis.ranges.within` takes them.

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
    return within(name, value, **limits, has_nan=np.ndim(value) > 0)


def film_number(parameter: str, value: Numbers) -> np.ndarray:
    """One of the named film inputs as an array, within its limits.

    >>> film_number("roughness", 2)
    array(2.)
    """
    words, limits = FILM_INPUTS[parameter]
    return number(words, value, **limits)


def split(name: str, given: Numbers | tuple[Numbers, Numbers]) -> tuple[Numbers, Numbers]:
    """Value and standard uncertainty: of an exact number 0, of a tuple its two parts.

    >>> split("mass", 12.5), split("mass", (12.5, 0.1))
    ((12.5, 0.0), (12.5, 0.1))
    """
    if not isinstance(given, tuple):
        return given, 0.0
    if len(given) != 2:
        raise ValueError(f"{name} must be a number or a pair (value, standard uncertainty), not {given}")
    return given


def said_where(is_outside: np.ndarray, words: str) -> tuple[str, ...]:
    """The note of a limit that is not kept; of several cases it says in how many.

    >>> said_where(np.array([True, False]), "too fast")
    ('too fast (in 1 of 2 cases)',)
    """
    count = int(np.count_nonzero(is_outside))
    if not count:
        return ()
    return (words if not np.ndim(is_outside) else f"{words} (in {count} of {np.size(is_outside)} cases)",)
