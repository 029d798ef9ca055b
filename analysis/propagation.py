"""Standard uncertainty of a computed number from the standard uncertainties of what went into it."""

from __future__ import annotations

import math
from collections.abc import Callable


def first_order(function: Callable[..., float], inputs: dict[str, tuple[float, float]]) -> tuple[float, float]:
    """Value of a function and its combined standard uncertainty, inputs uncorrelated.

    Parameters
    ----------
    function : callable
        Takes the inputs by name and returns a number.
    inputs : dict
        Name -> (value, standard uncertainty); an uncertainty of 0 marks a constant.

    Returns
    -------
    tuple of float
        Value and standard uncertainty, both in the unit of the function. Each input is moved up and down by
        its own standard uncertainty and half the difference is taken.

    Raises
    ------
    ValueError
        For an uncertainty below 0 or NaN.

    Source: `gum`, 5.1.2 and note 2 of 5.1.3.

    >>> value, uncertainty = first_order(lambda a, b: a - b, {"a": (5.0, 0.3), "b": (2.0, 0.4)})
    >>> value, round(uncertainty, 12)
    (3.0, 0.5)
    """
    middle = {name: value for name, (value, _) in inputs.items()}
    parts = []
    for name, (value, uncertainty) in inputs.items():
        if not uncertainty >= 0:
            raise ValueError(f"the standard uncertainty of {name} must be 0 or more, not {uncertainty}")
        up = function(**{**middle, name: value + uncertainty})
        down = function(**{**middle, name: value - uncertainty})
        parts.append((up - down) / 2)
    return function(**middle), math.hypot(*parts)
