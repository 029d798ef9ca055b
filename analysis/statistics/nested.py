"""Nested scatter: batches, coupons on each, drops on each coupon; how much each level adds to the spread.

The interval of a mean rests on the outermost groups: ten drops on each of three coupons are three coupons, not
thirty values. A variance may be estimated below 0; the estimate is shown, its standard deviation is 0.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from analysis.formula import formula
from analysis.statistics.moments import finite, require_share, sample_sd, stable_mean
from analysis.statistics.restricted_likelihood import nested_likelihood_fit

READING = "reading"
METHODS = ("moments", "REML", "ML")


@dataclass(frozen=True, slots=True)
class NestedLevel:
    """One level: its line in the analysis of variance and what it adds to the spread."""

    name: str
    n_groups: int
    df: int
    square_sum: float
    mean_square: float | None  # None where the level has no degree of freedom
    f_ratio: float | None  # against the next level inside
    p_value: float | None
    raw_variance: float | None  # by moments, as estimated: may be negative, and is kept
    variance: float | None  # never negative; by the method that was asked for
    sd: float | None


@dataclass(frozen=True, slots=True)
class NestedComponents:
    """Spread by level, the mean with its interval, and the spread of a single reading."""

    levels: tuple[NestedLevel, ...]  # outermost first, the readings last
    mean: float
    mean_se: float | None
    mean_low: float | None
    mean_high: float | None
    mean_df: int  # outermost groups less one
    total_variance: float | None  # sum over the levels; by moments with negative estimates as they are
    total_sd: float | None
    total_df: float | None  # Satterthwaite
    total_sd_low: float | None
    total_sd_high: float | None
    confidence: float
    n_readings: int
    is_balanced: bool
    method: str  # "moments", "REML" or "ML"
    is_repooled: bool  # whether a variance at 0 was fitted into those of the other levels
    minus_two_log_likelihood: float | None
    is_fitted: bool
    note: str = ""

    def level(self, name: str) -> NestedLevel:
        return next(level for level in self.levels if level.name == name)


@formula(
    "E[MSᵢ] = Σⱼ cᵢⱼσⱼ²; balanced: σ_b² = (MS_B − MS_E)/n, σ_a² = (MS_A − MS_B)/(bn), SE² = MS_A/(abn) with a − 1 "
    "degrees of freedom; ν = (Σ cᵢMSᵢ)²/Σ[(cᵢMSᵢ)²/νᵢ]",
    source="searle_1992 snedecor_cochran_1967 satterthwaite_1946 hurlbert_1984",
    holds_when="normal scatter on every level; with unequal numbers intervals and F are approximate",
    library="scipy.special.stdtrit, scipy.special.chdtri",
)
def nested_components(
    values: Sequence[float],
    levels: Mapping[str, Sequence],
    method: str = "moments",
    confidence: float = 0.95,
) -> NestedComponents:
    """How much batches, coupons and drops each add to the spread, and what the mean is worth.

    Parameters
    ----------
    values : sequence of float
        Readings, any unit and any order.
    levels : mapping of str to sequence
        For each level its name and the label of each reading, outermost level first: {"batch": […], "coupon": […]}.
        A label counts within its outer group: cask a of batch A is another than cask a of batch B. Any number of
        levels, any numbers of members.
    method : str
        "moments" (analysis of variance), "REML" or "ML" (restricted and plain likelihood, none below 0).
    confidence : float
        Two-sided confidence [-] of both intervals.

    Returns
    -------
    NestedComponents
        Moments: a negative variance is kept in `raw_variance`, counted as 0 in `variance` and `sd`, and nothing
        is pooled again. REML and ML put it at 0 and pool it (`is_repooled`). The mean by moments is the plain
        mean of group means, level by level; by likelihood the weighted one. The note says what is approximate:
        with unequal numbers, all intervals. A level that cannot be told from the one inside it (one coupon in
        every batch, one drop on every coupon, a single batch) has no variance of its own, and the note says so.

    Raises
    ------
    ValueError
        For no values, NaN, an infinite value, no level, labels that do not match the readings, an unknown method,
        or a confidence outside 0 to 1.

    Source: `searle_1992`; Satterthwaite's degrees of freedom `satterthwaite_1946`.

    >>> found = nested_components([1.0, 3.0, 5.0, 7.0], {"coupon": ["A", "A", "B", "B"]})
    >>> [(level.name, level.variance) for level in found.levels], found.mean, found.mean_df
    ([('coupon', 7.0), ('reading', 2.0)], 4.0, 1)
    """
    if method not in METHODS:
        raise ValueError(f"method is one of {', '.join(METHODS)}, not {method!r}")
    require_share("confidence", confidence)
    numbers = finite(values)
    readings, partitions = _sorted(numbers, levels)
    table = _AnovaTable(readings, partitions, [*levels, READING])
    found = table.components(confidence)
    return found if method == "moments" else _by_likelihood(found, table, method)


class _AnovaTable:
    """Square sums, degrees of freedom and expected mean squares of nested groups, outermost first."""

    def __init__(self, readings: np.ndarray, partitions: list[np.ndarray], names: list[str]):
        self.readings, self.names = readings, names
        self.partitions = [np.zeros(readings.size, dtype=int), *partitions, np.arange(readings.size)]
        self.counts = [int(part[-1]) + 1 for part in self.partitions]
        self.df = [b - a for a, b in pairwise(self.counts)]
        shifted = readings - readings[0]
        means = [(np.bincount(p, weights=shifted) / np.bincount(p))[p] for p in self.partitions]
        self.square_sums = [
            float(np.sum((b - a) ** 2)) if df else 0.0 for a, b, df in zip(means, means[1:], self.df, strict=False)
        ]
        self.kept = [i for i, df in enumerate(self.df) if df > 0]
        self.mean_squares = np.array([self.square_sums[i] / self.df[i] for i in self.kept])
        self.dfs = np.array([self.df[i] for i in self.kept])
        self.expected = self._expected()
        self.is_balanced = all(np.ptp(members) == 0 for members in self.members(range(len(names))))

    def _expected(self) -> np.ndarray:
        """Coefficients of each level's variance in each mean square: upper triangular."""
        shares = np.array([[self._coefficient(i, j) for j in self.kept] for i in range(-1, len(self.names))])
        return np.array([(shares[i + 1] - shares[i]) / self.df[i] for i in self.kept])

    def _coefficient(self, i: int, j: int) -> float:
        """Σ n_g²/n_G over the groups g of level j in their groups G of level i; N where j lies outside of i."""
        if i >= j:
            return float(self.readings.size)
        inner, outer = self.partitions[j + 1], self.partitions[i + 1]
        return float(np.sum(np.bincount(inner)[inner] / np.bincount(outer)[outer]))

    def members(self, kept) -> list[np.ndarray]:
        """How many members each group has, for the levels given (outermost first), innermost groups first."""
        parts = [self.partitions[0], *(self.partitions[i + 1] for i in kept)]
        counts = []
        for outer, inner in pairwise(parts):
            firsts = np.unique(inner, return_index=True)[1]
            counts.append(np.bincount(outer[firsts]))
        return counts[::-1]

    def components(self, confidence: float) -> NestedComponents:
        raw = np.linalg.solve(self.expected, self.mean_squares) if self.kept else np.array([])
        weights = np.linalg.solve(self.expected.T, np.ones(len(self.kept))) if self.kept else np.array([])
        by_level = dict(zip(self.kept, (float(variance) for variance in raw), strict=True))
        levels = tuple(self._level(i, by_level.get(i)) for i in range(len(self.names)))
        total = _total(weights * self.mean_squares, self.dfs, confidence)
        negative = {
            i: f"comes out negative ({v:.4g}), taken as 0; nothing was pooled again"
            for i, v in by_level.items()
            if v < 0
        }
        return NestedComponents(
            levels,
            *_mean_interval(self.readings, self.partitions[1:], confidence),
            *total,
            confidence,
            self.readings.size,
            self.is_balanced,
            "moments",
            is_repooled=False,
            minus_two_log_likelihood=None,
            is_fitted=bool(self.kept),
            note=self.notes(negative),
        )

    def _level(self, i: int, raw: float | None) -> NestedLevel:
        inside = next((j for j in self.kept if j > i), None)
        mean_square = self.square_sums[i] / self.df[i] if self.df[i] else None
        f_ratio = p_value = None
        if mean_square is not None and inside is not None and self.square_sums[inside] > 0:
            from scipy.special import fdtrc

            f_ratio = mean_square / (self.square_sums[inside] / self.df[inside])
            p_value = float(fdtrc(self.df[i], self.df[inside], f_ratio))
        variance = None if raw is None else max(raw, 0.0)
        sd = None if variance is None else math.sqrt(variance)
        numbers = self.counts[i + 1], self.df[i], self.square_sums[i], mean_square, f_ratio, p_value
        return NestedLevel(self.names[i], *numbers, raw, variance, sd)

    def notes(self, at_zero: Mapping[int, str]) -> str:
        """What is to be said of the levels at 0, of those that cannot be told, and of unequal numbers."""
        notes = [f"the variance of {self.names[i]} {said}" for i, said in at_zero.items()]
        for i, name in enumerate(self.names):
            if self.df[i] == 0:
                outer = "a single group" if i == 0 else f"one in every {self.names[i - 1]}, which holds its spread too"
                notes.append(f"the spread of {name} cannot be told: {outer}")
        if not self.is_balanced:
            notes.append("unequal numbers: F, the intervals and Satterthwaite's degrees of freedom are approximate")
        return "; ".join(notes)


def _by_likelihood(found: NestedComponents, table: _AnovaTable, method: str) -> NestedComponents:
    """The same with the variances, the mean and the total that the likelihood gives."""
    if not table.kept:
        return replace(found, method=method)
    starts = [max(found.levels[i].raw_variance, 0.0) for i in table.kept]
    members = table.members(table.kept)[:-1]
    fit = nested_likelihood_fit(table.readings, members, starts, is_restricted=method == "REML")
    if not fit.is_fitted:
        levels = tuple(replace(level, variance=None, sd=None) for level in found.levels)
        note = "; ".join(part for part in (table.notes({}), fit.note) if part)
        return replace(found, levels=levels, method=method, is_fitted=False, note=note, **_NO_TOTAL)
    by_level = dict(zip(table.kept, fit.variances, strict=True))
    at_zero = {
        i: f"lies at 0 (by moments {found.levels[i].raw_variance:.4g}) and was pooled into the other levels"
        for i, variance in by_level.items()
        if variance == 0
    }
    levels = tuple(
        replace(level, variance=by_level[i], sd=math.sqrt(by_level[i])) if i in by_level else level
        for i, level in enumerate(found.levels)
    )
    return replace(
        found,
        levels=levels,
        method=method,
        is_repooled=bool(at_zero),
        minus_two_log_likelihood=fit.minus_two_log_likelihood,
        note=table.notes(at_zero),
        **_fitted_mean(found, fit),
        **_fitted_total(found, sum(fit.variances)),
    )


_NO_TOTAL = dict.fromkeys(("total_variance", "total_sd", "total_df", "total_sd_low", "total_sd_high"))


def _fitted_mean(found: NestedComponents, fit) -> dict:
    if found.mean_se is None:
        return {"mean": fit.mean}
    se = math.sqrt(fit.mean_variance)
    half = _t(found.mean_df, found.confidence) * se
    return {"mean": fit.mean, "mean_se": se, "mean_low": fit.mean - half, "mean_high": fit.mean + half}


def _fitted_total(found: NestedComponents, total: float) -> dict:
    """Total with the degrees of freedom that the mean squares have."""
    if found.total_df is None:
        return {**_NO_TOTAL, "total_variance": total, "total_sd": math.sqrt(total)}
    scale = math.sqrt(total / found.total_variance)
    return {
        "total_variance": total,
        "total_sd": math.sqrt(total),
        "total_sd_low": found.total_sd_low * scale,
        "total_sd_high": found.total_sd_high * scale,
    }


def _sorted(numbers: np.ndarray, levels: Mapping[str, Sequence]) -> tuple[np.ndarray, list[np.ndarray]]:
    """Readings sorted by their groups, and the number of the group of each reading, outermost level first."""
    if not levels:
        raise ValueError("name at least one level, such as coupon")
    if READING in levels:
        raise ValueError(f"{READING!r} is the name of the innermost level and not given as a label")
    codes, outer = [], np.zeros(numbers.size, dtype=int)
    for name, labels in levels.items():
        if len(labels) != numbers.size:
            raise ValueError(f"{name} has {len(labels)} labels for {numbers.size} readings")
        places: dict = {}
        inner = np.array([places.setdefault(label, len(places)) for label in labels])
        outer = np.unique(outer * (len(places) + 1) + inner, return_inverse=True)[1]
        codes.append(outer)
    order = np.argsort(codes[-1], kind="stable")
    return numbers[order], [code[order] for code in codes]


def _mean_interval(readings: np.ndarray, partitions: list[np.ndarray], confidence: float):
    """Mean of means, level by level from the inside, with the t interval of the outermost means."""
    means, codes = readings, partitions
    for level in range(len(partitions) - 2, -1, -1):
        firsts = np.unique(codes[level + 1], return_index=True)[1]
        groups = codes[level][firsts]
        origin = means[0]
        means = origin + np.bincount(groups, weights=means - origin) / np.bincount(groups)
    mean, df = stable_mean(means), means.size - 1
    if df == 0:
        return mean, None, None, None, 0
    se = sample_sd(means) / math.sqrt(means.size)
    half = _t(df, confidence) * se
    return mean, se, mean - half, mean + half, df


def _total(parts: np.ndarray, dfs: np.ndarray, confidence: float):
    """Total variance Σ cᵢMSᵢ, its square root, Satterthwaite's degrees of freedom and the interval of the root."""
    total = float(np.sum(parts))
    if not total > 0:
        return (total, 0.0, None, None, None) if total == 0 and parts.size else (None,) * 5
    from scipy.special import chdtri

    df = total**2 / float(np.sum(parts**2 / dfs))
    low, high = (math.sqrt(df * total / float(chdtri(df, (1 + c) / 2))) for c in (-confidence, confidence))
    return total, math.sqrt(total), df, low, high


def _t(df: int, confidence: float) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(df, (1 + confidence) / 2))
