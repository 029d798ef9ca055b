"""Tolerance limits and acceptance by variables for many batches at once, and how often they keep their confidence."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import ndtr, ndtri

from analysis.statistics.drop_tolerance import drop_tolerance_limit
from analysis.statistics.order_statistics import distribution_free_size
from analysis.statistics.tolerance import tolerance_factor_one_sided, tolerance_factor_two_sided
from tests.analysis.promises.rules import Batches, coupon_means, plain_means
from tests.analysis.promises.simulation import SEED, Case, Share, how_often

COVERAGE, CONFIDENCE = 0.90, 0.95


def coupon_spread(case: Case) -> float:
    """Standard deviation of the mean of a coupon that carries every drop."""
    return math.sqrt(case.spread**2 + 1 / case.drops)


def moments(coupons: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return coupons.mean(axis=1), coupons.std(axis=1, ddof=1)


def one_sided(coupons: np.ndarray, confidence: float = CONFIDENCE) -> np.ndarray:
    """`tolerance.tolerance_limit` from above, of each row."""
    mean, sd = moments(coupons)
    return mean + tolerance_factor_one_sided(coupons.shape[1], COVERAGE, confidence) * sd


def two_sided(coupons: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """`tolerance.tolerance_interval` of each row."""
    mean, sd = moments(coupons)
    half = tolerance_factor_two_sided(coupons.shape[1], COVERAGE, CONFIDENCE) * sd
    return mean - half, mean + half


def holds_one_sided(case: Case, replicates: int) -> Share:
    """How often the upper limit really holds the coverage of future coupon means."""
    spread = coupon_spread(case)
    return how_often(case, replicates, lambda b: ndtr(one_sided(plain_means(b)) / spread) >= COVERAGE)


def holds_two_sided(case: Case, replicates: int) -> Share:
    spread = coupon_spread(case)

    def holds(found: Batches) -> np.ndarray:
        low, high = two_sided(plain_means(found))
        return ndtr(high / spread) - ndtr(low / spread) >= COVERAGE

    return how_often(case, replicates, holds)


def tolerance_verdict(found: Batches, limit: float) -> np.ndarray:
    """`criteria.tolerance_within` for "at most": 1 pass, −1 fail, 0 inconclusive."""
    coupons = coupon_means(found)
    beyond = np.isinf(coupons)
    is_known = ~np.isnan(coupons).any(axis=1)
    has_beyond = beyond.any(axis=1) & is_known
    finite = is_known & ~has_beyond
    verdict = np.zeros(len(coupons), dtype=int)
    known = coupons[finite]
    is_failed = one_sided(known, 1 - CONFIDENCE) > limit
    verdict[finite] = np.where(one_sided(known) <= limit, 1, np.where(is_failed, -1, 0))
    is_beyond = np.where(beyond, found.stage_limit >= limit, coupons > limit)
    verdict[has_beyond & (2 * is_beyond.sum(axis=1) >= coupons.shape[1])] = -1
    return verdict


def passes_at_the_quantile(case: Case, replicates: int) -> Share:
    """How often the tolerance rule passes a batch of which just the coverage of the coupons lies inside the limit."""
    limit = float(ndtri(COVERAGE)) * coupon_spread(case)
    return how_often(case, replicates, lambda found: tolerance_verdict(found, limit) > 0)


def drops_held(case: Case, replicates: int) -> Share:
    """How often the upper limit for single drops really holds the coverage of all drops on all coupons."""
    spread = math.hypot(case.spread, 1)

    def holds(found: Batches) -> np.ndarray:
        rows = ([drops[~np.isnan(drops)] for drops in batch] for batch in found.values)
        limits = [drop_tolerance_limit(dict(enumerate(row)), COVERAGE, CONFIDENCE).limit for row in rows]
        return ndtr(np.array(limits) / spread) >= COVERAGE

    return how_often(case, replicates, holds)


def holds_without_distribution(depth: int, replicates: int, seed: int = SEED) -> tuple[int, Share]:
    """Coupons needed, and how often their largest value (depth 2: both extremes) holds the coverage; skewed values."""
    n = distribution_free_size(COVERAGE, CONFIDENCE, depth)
    values = np.random.default_rng([seed, n]).exponential(size=(replicates, n))
    held = -np.expm1(-values.max(axis=1))
    if depth == 2:
        held += np.expm1(-values.min(axis=1))
    return n, Share(int((held >= COVERAGE).sum()), replicates)


def accepted_by_variables(case: Case, k: float, nonconforming: float, replicates: int) -> Share:
    """How often (limit − mean)/sd reaches k when that share of coupon means lies beyond the limit."""
    limit = -float(ndtri(nonconforming)) * coupon_spread(case)

    def accepts(found: Batches) -> np.ndarray:
        mean, sd = moments(plain_means(found))
        return (limit - mean) / sd >= k

    return how_often(case, replicates, accepts)


def bound_holds(case: Case, replicates: int) -> Share:
    """How often the exact bound of the share of drops that stay (all drops as independent) lies above the true one."""
    from analysis.statistics.proportions import proportion_upper_bound

    total = int(case.sizes.sum())
    bounds = proportion_upper_bound(np.arange(total + 1), total, CONFIDENCE)
    return how_often(case, replicates, lambda found: bounds[found.stays.sum(axis=(1, 2))] >= case.censored)
