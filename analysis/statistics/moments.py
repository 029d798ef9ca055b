"""Mean, spread, serial correlation and one-way analysis of variance that lose no digits to a large common part.

Readings near 150 that scatter by 0.1 share their leading digits. Everything here subtracts a first value before it
squares; the one-pass formula Σx² − n·x̄² is used nowhere, since it can even turn a variance negative.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within


@dataclass(frozen=True, slots=True)
class AnalysisOfVariance:
    """One-way analysis of variance: what groups add to the scatter of the readings inside them."""

    between_square_sum: float
    within_square_sum: float
    between_df: int
    within_df: int
    between_mean_square: float
    within_mean_square: float | None  # None where every group has one reading
    f_ratio: float | None  # infinite where the readings inside each group are equal; None where nothing differs
    p_value: float | None
    r_squared: float | None
    residual_sd: float | None
    note: str = ""


@formula("x̄ = x₁ + Σ(xᵢ − x₁)/n", source="nist_strd_univariate", holds_when="finite values")
def stable_mean(values, axis: int = -1):
    """Arithmetic mean from the differences to the first value.

    Parameters
    ----------
    values : array
        One sample, or a stack of samples along the other axes, any unit. `decimal.Decimal` values are taken as
        they are, so that readings stored as decimals keep all their digits.
    axis : int
        Axis that runs along a sample.

    Returns
    -------
    float or array
        One mean a sample, in the unit of `values`.

    Raises
    ------
    ValueError
        For no values; for NaN or an infinite value in a single sample. In a stack, a sample that has one
        gives NaN in its place.

    Source: `nist_strd_univariate`.

    >>> stable_mean([10000001, 10000003, 10000002])
    10000002.0
    """
    first, differences = _differences(values, axis)
    return plain(first + differences.mean(axis=-1))


@formula(
    "s = √(Σ(xᵢ − x̄)²/(n − 1))", source="nist_strd_univariate", holds_when="independent values, at least two of them"
)
def sample_sd(values, axis: int = -1):
    """Standard deviation of a sample with n − 1, in two passes.

    Parameters
    ----------
    values : array
        As in `stable_mean`, at least 2 values a sample.
    axis : int
        Axis that runs along a sample.

    Returns
    -------
    float or array
        One standard deviation a sample, in the unit of `values`; exactly 0 where all values are equal.

    Raises
    ------
    ValueError
        For fewer than 2 values; NaN and infinite values as in `stable_mean`.

    Source: `nist_strd_univariate`.

    >>> sample_sd([10000001, 10000003, 10000002])
    1.0
    """
    deviations, scale = _deviations(values, axis, "a standard deviation")
    return plain(scale * np.sqrt(_square_sum(deviations) / (deviations.shape[-1] - 1)))


@formula(
    "r₁ = Σ(xᵢ − x̄)(xᵢ₊₁ − x̄)/Σ(xᵢ − x̄)²",
    source="nist_strd_univariate",
    holds_when="values in the order in which they were read, evenly spaced",
)
def lag_one_autocorrelation(values, axis: int = -1):
    """How much each reading resembles the one before it: 0 for independent readings.

    Parameters
    ----------
    values : array
        As in `stable_mean`, in the order of reading, at least 2 values a sample.
    axis : int
        Axis that runs along a sample.

    Returns
    -------
    float or array
        r₁ [-], between −1 and 1; NaN where all values of a sample are equal.

    Raises
    ------
    ValueError
        For fewer than 2 values; NaN and infinite values as in `stable_mean`.

    Source: `nist_strd_univariate`.

    >>> lag_one_autocorrelation([10000001, 10000003, 10000002])
    -0.5
    """
    deviations, _ = _deviations(values, axis, "a serial correlation")
    square_sum = _square_sum(deviations)
    products = np.sum(deviations[..., :-1] * deviations[..., 1:], axis=-1)
    # Equal values give 0/0; it is NaN by promise and no accident worth a warning.
    return plain(np.divide(products, square_sum, out=np.full_like(square_sum, np.nan), where=square_sum > 0))


@formula(
    "F = [Σ nᵢ(x̄ᵢ − x̄)²/(k − 1)] / [ΣΣ(xᵢⱼ − x̄ᵢ)²/(N − k)]",
    source="nist_strd_anova",
    holds_when="independent normal readings of equal spread in every group",
    library="scipy.special.fdtrc",
)
def one_way_anova(groups: Mapping[str, Sequence[float]] | Sequence[Sequence[float]]) -> AnalysisOfVariance:
    """Do the groups differ by more than their readings scatter?

    Parameters
    ----------
    groups : mapping of str to sequence of float, or sequence of sequences
        Readings of each group, any unit; unequal numbers are allowed, empty groups are passed over. Decimals
        keep their digits as in `stable_mean`.

    Returns
    -------
    AnalysisOfVariance
        F is computed from the unrounded mean squares. Where every group has one reading there is no F.

    Raises
    ------
    ValueError
        For fewer than two groups with readings, NaN, or an infinite value.

    Source: `nist_strd_anova`.

    >>> table = one_way_anova({"A": [1, 2, 3], "B": [4, 5, 6]})
    >>> table.between_square_sum, table.within_square_sum, table.f_ratio
    (13.5, 4.0, 13.5)
    """
    readings, labels = _group_differences(groups)
    count, total = int(labels[-1]) + 1, readings.size
    if count < 2:
        raise ValueError("an analysis of variance needs readings in at least 2 groups, not 1")
    sizes = np.bincount(labels)
    means = np.bincount(labels, weights=readings) / sizes
    means += np.bincount(labels, weights=readings - means[labels]) / sizes  # second pass: rounding of the first
    between = float(np.sum(sizes * (means - np.sum(sizes * means) / total) ** 2))
    within = float(np.sum((readings - means[labels]) ** 2))
    return _anova(between, within, count - 1, total - count)


def _anova(between: float, within: float, between_df: int, within_df: int) -> AnalysisOfVariance:
    mean_square = between / between_df
    share = between / (between + within) if between + within > 0 else None
    if within_df == 0:
        note = "one reading a group: the scatter inside the groups is not known"
        return AnalysisOfVariance(between, within, between_df, 0, mean_square, None, None, None, share, None, note)
    residual = within / within_df
    f_ratio = p_value = None
    note = "all readings are equal" if share is None else ""
    if share is not None:
        from scipy.special import fdtrc

        f_ratio = mean_square / residual if residual > 0 else math.inf
        p_value = float(fdtrc(between_df, within_df, f_ratio)) if residual > 0 else 0.0
        note = "" if residual > 0 else "the readings inside each group are equal"
    sd = math.sqrt(residual)
    return AnalysisOfVariance(
        between, within, between_df, within_df, mean_square, residual, f_ratio, p_value, share, sd, note
    )


def _group_differences(groups) -> tuple[np.ndarray, np.ndarray]:
    """Readings of all groups less their very first one, and the number of the group that each belongs to."""
    parts = list(groups.values()) if isinstance(groups, Mapping) else list(groups)
    parts = [np.ravel(_numbers(part)) for part in parts if len(part)]
    if not parts:
        raise ValueError("no values")
    readings = _differences(np.concatenate(parts), -1)[1]
    return readings, np.repeat(np.arange(len(parts)), [part.size for part in parts])


def finite(values: Sequence[float]) -> np.ndarray:
    """The values as an array; NaN, an infinite value and an empty sequence are refused."""
    numbers = np.asarray(values, dtype=float)
    if numbers.size == 0:
        raise ValueError("no values")
    if not np.all(np.isfinite(numbers)):
        raise ValueError("NaN or an infinite value cannot enter this statistic")
    return numbers


def finite_row(values: Sequence[float]) -> np.ndarray:
    """As `finite`, of one row only: a table or a single number is refused."""
    numbers = finite(values)
    if numbers.ndim != 1:
        raise ValueError(f"one row of values is needed, not an array of shape {numbers.shape}")
    return numbers


def scaled_deviations(numbers: np.ndarray) -> tuple[np.ndarray, float]:
    """Deviations of one row from its mean in units of a power of two, and that unit; squares then stay in range."""
    deviations, unit = _deviations(numbers, -1, "a deviation")
    return deviations, float(unit)


def require_share(name: str, share: float) -> None:
    """Refuse a confidence or coverage that does not lie between 0 and 1; of an array, all of it must."""
    if not np.all((np.asarray(share) > 0) & (np.asarray(share) < 1)):
        raise ValueError(f"{name} must lie between 0 and 1, not {share}")


def counts(name: str, count, at_least: int) -> np.ndarray:
    """Whole numbers of at least so many."""
    numbers = within(name, count, at_least=at_least, has_nan=False)
    if np.any(numbers != np.floor(numbers)):
        raise ValueError(f"{name} must be whole, not {count}")
    return numbers


def _numbers(values) -> np.ndarray:
    """The values as floats, or as they are when they are decimals or fractions."""
    numbers = np.asarray(values)
    return numbers if numbers.dtype == object and None not in numbers else numbers.astype(float)


def _differences(values, axis: int) -> tuple[np.ndarray, np.ndarray]:
    """First value of each sample, and all values less that one, with the sample along the last axis."""
    numbers = np.atleast_1d(_numbers(values))
    if numbers.ndim == 1 and numbers.dtype != object:
        numbers = finite(numbers)
        return numbers[0], numbers - numbers[0]
    numbers = np.moveaxis(numbers, axis, -1)
    if numbers.shape[-1] == 0:
        raise ValueError("no values")
    floats = numbers.astype(float)
    is_whole = np.all(np.isfinite(floats), axis=-1)
    if floats.ndim == 1:
        finite(floats)
    if numbers.dtype == object and np.all(is_whole):
        return floats[..., 0], (numbers - numbers[..., :1]).astype(float)
    first = np.where(is_whole, floats[..., 0], 0.0)
    return first, np.where(is_whole[..., None], floats, np.nan) - first[..., None]


def _deviations(values, axis: int, what: str) -> tuple[np.ndarray, np.ndarray]:
    """Deviations from the mean in units of a power of two, so that no square leaves the range of a double."""
    differences = _differences(values, axis)[1]
    if differences.shape[-1] < 2:
        raise ValueError(f"{what} needs at least 2 values, not {differences.shape[-1]}")
    largest = np.max(np.abs(differences), axis=-1)
    scale = np.ldexp(1.0, np.frexp(np.where(np.isnan(largest), 1.0, largest))[1] - 1)
    scaled = differences / scale[..., None]
    return scaled - scaled.mean(axis=-1, keepdims=True), scale


def _square_sum(deviations: np.ndarray) -> np.ndarray:
    """Σd², less what the rounding of the mean has put in."""
    return np.sum(deviations**2, axis=-1) - np.sum(deviations, axis=-1) ** 2 / deviations.shape[-1]
