"""Standard uncertainty of a computed number from the standard uncertainties of what went into it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import reduce

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain


@formula(
    "u_c² = Σ{[f(xᵢ + uᵢ) − f(xᵢ − uᵢ)]/2}²",
    source="gum",
    holds_when="inputs not correlated, function nearly straight over ± one standard uncertainty",
)
def first_order(
    function: Callable[..., ArrayLike], inputs: Mapping[str, tuple[ArrayLike, ArrayLike]]
) -> tuple[float, float]:
    """Value of a function and its combined standard uncertainty, inputs uncorrelated.

    Parameters
    ----------
    function : callable
        Takes the inputs by name and returns a number, or an array when inputs are arrays.
    inputs : dict
        Name -> (value, standard uncertainty), numbers or arrays that broadcast; an uncertainty of 0 marks a
        constant.

    Returns
    -------
    tuple of float (or of array)
        Value and standard uncertainty, both in the unit of the function. Each input is moved up and down by
        its own standard uncertainty and half the difference is taken. NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For an uncertainty below 0, infinite or NaN.

    Source: `gum`, 5.1.2 and note 2 of 5.1.3.

    >>> value, uncertainty = first_order(lambda a, b: a - b, {"a": (5.0, 0.3), "b": (2.0, 0.4)})
    >>> value, round(uncertainty, 12)
    (3.0, 0.5)
    """
    middle = {name: _number(value) for name, (value, _) in inputs.items()}
    parts = []
    for name, (value, uncertainty) in inputs.items():
        value, uncertainty = _number(value), _number(uncertainty)
        wrong = ~((np.asarray(uncertainty) >= 0) & np.isfinite(uncertainty))
        if wrong.any():
            first = np.asarray(uncertainty)[wrong].flat[0]
            raise ValueError(f"the standard uncertainty of {name} must be 0 or more and finite, not {first}")
        if not np.any(uncertainty):
            continue
        up = function(**{**middle, name: value + uncertainty})
        down = function(**{**middle, name: value - uncertainty})
        parts.append((up - down) / 2)
    value = function(**middle)
    return value, plain(reduce(np.hypot, parts, 0 * np.asarray(value, dtype=float)))


def _number(value: ArrayLike) -> ArrayLike:
    """Lists as arrays; a plain number stays one, for functions that take nothing else."""
    return value if np.ndim(value) == 0 else np.asarray(value, dtype=float)
