"""Ranges of arguments: an array comes back checked, or the refusal names quantity, value and limit."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def within(
    name: str,
    value: ArrayLike,
    unit: str = "",
    *,
    above: float | None = None,
    at_least: float | None = None,
    at_most: float | None = None,
    below: float | None = None,
    has_nan: bool = True,
) -> np.ndarray:
    """The value as an array of floats, if all of it lies in the range.

    Parameters
    ----------
    name : str
        The quantity, as the refusal names it.
    value : array_like
        Numbers of any shape.
    unit : str
        Shown behind value and limit.
    above, at_least, at_most, below : float, optional
        Limits, exclusive (above, below) or inclusive.
    has_nan : bool
        Whether NaN may stand in the array; infinity may never.

    Returns
    -------
    numpy.ndarray
        Same shape; 0-dimensional for a number.

    Raises
    ------
    ValueError
        For what is no number, infinite, outside the range, or NaN where that is not allowed. The message
        quotes the first such value.

    Source: `common_practice`.

    >>> within("drop volume", 5, "uL", above=0)
    array(5.)
    """
    array = np.asarray(value, dtype=float)
    tests = (
        (np.isinf(array) if has_nan else ~np.isfinite(array), "be a finite number"),
        (above is not None and array <= above, f"be above {above} {unit}"),
        (at_least is not None and array < at_least, f"be at least {at_least} {unit}"),
        (at_most is not None and array > at_most, f"be at most {at_most} {unit}"),
        (below is not None and array >= below, f"be below {below} {unit}"),
    )
    for is_wrong, rule in tests:
        wrong = np.broadcast_to(is_wrong, array.shape)
        if wrong.any():
            raise ValueError(f"{name} must {rule.strip()}, not {array[wrong].flat[0]:g} {unit}".rstrip())
    return array


def plain(result: ArrayLike) -> float | np.ndarray:
    """A float for a single number, the array itself otherwise.

    Parameters
    ----------
    result : array_like
        What a formula gave.

    Returns
    -------
    float or numpy.ndarray
        No 0-dimensional arrays.

    Source: `common_practice`.

    >>> plain(np.array(2.5))
    2.5
    """
    array = np.asarray(result)
    return array.item() if array.ndim == 0 else array
