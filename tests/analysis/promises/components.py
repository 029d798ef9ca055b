"""Spread between and within coupons for many batches at once, and what their estimates and intervals are worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri, fdtri

from analysis.statistics.replication import variance_components
from tests.analysis.promises.rules import CONFIDENCE, Batches, plain_means
from tests.analysis.promises.simulation import Case, Share, batches, how_often


@dataclass(frozen=True, slots=True)
class Components:
    """What the analysis of variance says of many batches of one shape."""

    between: np.ndarray  # variances, by moments: may be negative
    within: np.ndarray
    between_square: np.ndarray  # mean squares
    effective_size: float
    between_df: int
    within_df: int

    @property
    def total(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """`nested.nested_components`: standard deviation of a single reading and its Satterthwaite interval."""
        parts = self.between_square / self.effective_size, (1 - 1 / self.effective_size) * self.within
        total = parts[0] + parts[1]
        df = total**2 / (parts[0] ** 2 / self.between_df + parts[1] ** 2 / self.within_df)
        low, high = (np.sqrt(df * total / chdtri(df, (1 + c) / 2)) for c in (-CONFIDENCE, CONFIDENCE))
        return np.sqrt(total), low, high

    @property
    def correlation(self) -> tuple[np.ndarray, np.ndarray]:
        """`intraclass.intraclass_correlation`: limits with equal numbers of drops."""
        ratios = self.between_square / self.within
        quantiles = (fdtri(self.between_df, self.within_df, (1 + c) / 2) for c in (CONFIDENCE, -CONFIDENCE))
        low, high = ((ratios / quantile - 1) / self.effective_size for quantile in quantiles)
        return low / (1 + low), high / (1 + high)


def components(found: Batches) -> Components:
    """`replication.variance_components` by moments."""
    sizes = found.sizes[0]
    total, count = int(sizes.sum()), sizes.size
    means = plain_means(found)
    centre = (means * sizes).sum(axis=1) / total
    between_square = (sizes * (means - centre[:, None]) ** 2).sum(axis=1) / (count - 1)
    within = np.nansum((found.values - means[..., None]) ** 2, axis=(1, 2)) / (total - count)
    effective = (total - float((sizes**2).sum()) / total) / (count - 1)
    between = (between_square - within) / effective
    return Components(between, within, between_square, effective, count - 1, total - count)


@dataclass(frozen=True, slots=True)
class Average:
    """Mean over simulated batches with two Monte Carlo standard errors."""

    value: float
    error: float


def average(values: np.ndarray) -> Average:
    return Average(float(values.mean()), 2 * float(values.std(ddof=1)) / np.sqrt(values.size))


def average_moments(case: Case, replicates: int) -> tuple[Average, Average]:
    """Mean of the moment estimates of the variances between and within coupons."""
    found = [components(batch) for batch in batches(case, replicates)]
    parts = (np.concatenate([getattr(item, name) for item in found]) for name in ("between", "within"))
    return tuple(average(part) for part in parts)


def by_restricted_likelihood(case: Case, replicates: int) -> np.ndarray:
    """Variances between and within coupons of each batch by REML, from the product's own function."""
    rows = []
    for batch in batches(case, replicates):
        for values in batch.values:
            groups = {str(coupon): drops[~np.isnan(drops)] for coupon, drops in enumerate(values)}
            parts = variance_components(groups, reml=True)
            rows.append((parts.between_variance, parts.within_variance))
    return np.array(rows)


def total_held(case: Case, replicates: int) -> Share:
    """How often the Satterthwaite interval holds the standard deviation of a single reading."""
    true = np.hypot(case.spread, 1)

    def holds(found: Batches) -> np.ndarray:
        _, low, high = components(found).total
        return (low <= true) & (true <= high)

    return how_often(case, replicates, holds)


def correlation_held(case: Case, replicates: int) -> Share:
    """How often the interval of the intraclass correlation holds the true one."""
    true = case.spread**2 / (case.spread**2 + 1)

    def holds(found: Batches) -> np.ndarray:
        low, high = components(found).correlation
        return (low <= true) & (true <= high)

    return how_often(case, replicates, holds)
