"""Readings of many runs in one array: how they are cut into runs, and their sums, run by run."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike

READINGS_AT_ONCE = 160_000  # some megabytes, which stay in the processor's cache


class Segments:
    """Consecutive segments of a flat array; of equal length they are summed as a rectangle, which is faster."""

    def __init__(self, sizes: np.ndarray):
        self.sizes = sizes
        self.length = int(sizes[0]) if sizes.size and sizes[0] > 0 and np.all(sizes == sizes[0]) else None
        self.starts = np.concatenate(([0], np.cumsum(sizes)))
        self.filled = None if self.length else np.flatnonzero(sizes)

    def total(self, values: np.ndarray) -> np.ndarray:
        """Sum of each segment, 0 for an empty one."""
        if self.length:
            return np.einsum("ij->i", values.reshape(-1, self.length))
        return self._reduced(np.add, values, 0.0)

    def product_total(self, left: np.ndarray, right: np.ndarray) -> np.ndarray:
        """Sum of the products of each segment."""
        if self.length:
            return np.einsum("ij,ij->i", left.reshape(-1, self.length), right.reshape(-1, self.length))
        return self._reduced(np.add, left * right, 0.0)

    def least(self, values: np.ndarray) -> np.ndarray:
        """Smallest value of each segment, infinite for an empty one."""
        if self.length:
            return values.reshape(-1, self.length).min(axis=1)
        return self._reduced(np.minimum, values, np.inf)

    def less(self, values: np.ndarray, shifts: np.ndarray) -> np.ndarray:
        """The values less one number a segment."""
        if self.length:
            return (values.reshape(-1, self.length) - shifts[:, None]).ravel()
        return values - np.repeat(shifts, self.sizes)

    def of(self, places: np.ndarray) -> np.ndarray:
        """Segment of each place in the flat array."""
        if self.length:
            return places // self.length
        return np.searchsorted(self.starts, places, side="right") - 1

    def _reduced(self, operation: np.ufunc, values: np.ndarray, empty: float) -> np.ndarray:
        result = np.full(self.sizes.size, empty)
        if self.filled.size:
            result[self.filled] = operation.reduceat(values, self.starts[:-1][self.filled])
        return result


def in_chunks(
    arrays: tuple[ArrayLike, ...], offsets: ArrayLike | None
) -> tuple[int, Iterator[tuple[slice, Segments, list[np.ndarray]]]]:
    """Number of runs, and an iterator over chunks of runs: their places, their segments and their flat readings.

    Parameters
    ----------
    arrays : tuple of array_like
        Arrays of one shape: runs × readings, or flat with `offsets`.
    offsets : array_like of int, optional
        For flat arrays: where each run begins, and at the end the number of readings; one more than runs.

    Raises
    ------
    ValueError
        For arrays of different shape, or offsets that do not rise from 0 to the number of readings.
    """
    shape = arrays[0].shape
    if any(array.shape != shape for array in arrays):
        raise ValueError(f"arrays of one shape are needed, not {', '.join(str(array.shape) for array in arrays)}")
    if offsets is None:
        if len(shape) != 2:
            raise ValueError(f"an array of runs × readings, or offsets for a flat one; the shape is {shape}")
        starts = np.arange(shape[0] + 1) * shape[1]
    else:
        starts = np.asarray(offsets)
        if len(shape) != 1 or starts.ndim != 1 or starts.size == 0 or not np.issubdtype(starts.dtype, np.integer):
            raise ValueError("offsets are whole numbers, one more than runs, for flat arrays")
        if starts[0] != 0 or starts[-1] != shape[0] or np.any(np.diff(starts) < 0):
            raise ValueError(f"offsets must rise from 0 to the number of readings, {shape[0]}")
    return starts.size - 1, _chunks(tuple(array.reshape(-1) for array in arrays), starts)


def _chunks(arrays: tuple[np.ndarray, ...], starts: np.ndarray) -> Iterator[tuple[slice, Segments, list[np.ndarray]]]:
    first, runs = 0, starts.size - 1
    while first < runs:
        last = int(np.searchsorted(starts, starts[first] + READINGS_AT_ONCE, side="right")) - 1
        last = min(max(last, first + 1), runs)
        readings = slice(int(starts[first]), int(starts[last]))
        segments = Segments(np.diff(starts[first : last + 1]))
        yield slice(first, last), segments, [array[readings] for array in arrays]
        first = last
