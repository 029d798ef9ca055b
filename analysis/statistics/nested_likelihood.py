"""Likelihood of censored readings that are nested in coupons: y = μ + coupon effect + drop effect, both normal.

Many batches are handled at once. The variance between coupons may come out negative (down to where a coupon's
mean would have no variance left), exactly as a moment estimate may: then drops of one coupon differ more than
drops of two. Without that an interval would silently pool the drops whenever the estimate is at 0.

The mean over all drops of a coupon has the same variance V on every coupon, also where numbers of drops differ: so
each coupon counts once, and with every drop measured the interval is Student's over coupon means. Weights by number of
drops, which the model would have for unequal numbers, rest on estimated variances and cost up to 4 % of coverage.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.statistics.location_scale import LOG_ROOT_2PI, inverse_mills

NODES = 11  # of the Gauss–Hermite rule around the mode of a coupon's effect
SHARES = 24  # nodes over the share of the largest drop effect, for coupons without a measured drop
WIDE = 4.0  # between over within variance from which the largest drop effect is the better variable of integration
LEAST_SHARE = 0.01  # of the variance of a coupon's mean that a negative variance between coupons leaves
STEP = 1e-3  # of the central differences, in units of the readings' spread or of a logarithm
MODE_STEPS = 8


@dataclass(frozen=True, slots=True)
class Coupons:
    """Sufficient statistics of batches × coupons, in units of each batch's measured readings.

    `counts`, `limits` have the shape groups × batches × coupons: equal limits of one side counted once; `signs` is
    +1 where readings lie above their limit. A coupon that a batch does not have holds no reading.
    """

    measured: np.ndarray  # number of measured drops
    mean: np.ndarray
    squares: np.ndarray  # Σ(y − mean)²
    counts: np.ndarray
    limits: np.ndarray
    signs: np.ndarray  # one a group
    drops: np.ndarray  # all drops, measured or not; the harmonic mean of the others where there is no coupon

    def part(self, rows: np.ndarray) -> Coupons:
        """Some of the batches."""
        plain = (self.measured[rows], self.mean[rows], self.squares[rows])
        return Coupons(*plain, self.counts[:, rows], self.limits[:, rows], self.signs, self.drops[rows])


def variances(coupons: Coupons, point: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Between and within variance at (μ, ln(V/σw²), ln σw), where V = σb² + σw²/n is that of a coupon's mean."""
    within = np.exp(2 * point[2])
    return within * (np.exp(point[1]) - share_within(coupons)), within


def share_within(coupons: Coupons) -> np.ndarray:
    """Part of σw² in the variance of a coupon's mean, averaged over coupons."""
    return (1 / coupons.drops).mean(axis=1)


def lowest(coupons: Coupons) -> np.ndarray:
    """Smallest ln(V/σw²) that is looked at."""
    return np.log(LEAST_SHARE * share_within(coupons))


def log_likelihood(coupons: Coupons, point: np.ndarray) -> np.ndarray:
    """Log likelihood of each batch at (μ, ln(V/σw²), ln σw); `point` is 3 × … × batches."""
    within = np.exp(2 * point[2])[..., None]
    between = within * (np.exp(point[1])[..., None] - 1 / coupons.drops)
    mu, n = point[0][..., None], coupons.measured
    spread = within + n * between  # n times the variance of the mean of the measured drops
    parts = -0.5 * (np.log(spread) + n * (coupons.mean - mu) ** 2 / spread)
    parts -= 0.5 * ((n - 1) * np.log(within) + coupons.squares / within) + n * LOG_ROOT_2PI
    total = np.where(n > 0, parts, 0.0)
    batch, coupon = np.nonzero(coupons.counts.sum(axis=0))
    if batch.size:
        total[..., batch, coupon] += _log_beyond(coupons, batch, coupon, mu, between, within)
    return total.sum(axis=-1)


def _log_beyond(coupons: Coupons, batch, coupon, mu, between, within) -> np.ndarray:
    """Log probability that the censored drops lie beyond their limits, given the measured ones of the coupon."""
    n = coupons.measured[batch, coupon]
    mu, between, within = (part[..., batch, coupon] for part in np.broadcast_arrays(mu, between, within))
    pull = between / (within + n * between)
    centre = mu + n * pull * (coupons.mean[batch, coupon] - mu)
    variance = pull * within
    sigma = np.sqrt(within)
    counts, limits = coupons.counts[:, batch, coupon], coupons.limits[:, batch, coupon]
    result = _around_mode(counts, limits, coupons.signs, centre, variance, sigma)
    # No measured drop and coupons that differ more than drops: the coupon effect is the smooth part, not the drops'.
    used = counts > 0
    side = np.where((coupons.signs[:, None] > 0) & used, 1, np.where(used, -1, 0)).sum(axis=0)
    is_one_sided = np.abs(side) == used.sum(axis=0)
    side = np.sign(side)  # drops that lie below their limits are those above, mirrored
    wide = (n == 0) & (between > WIDE * within) & is_one_sided
    if wide.any():
        columns = np.nonzero(wide.any(axis=tuple(range(wide.ndim - 1))))[0]
        mirrored = limits[:, columns] * side[columns], mu[..., columns] * side[columns]
        other = _over_largest(counts[:, columns], *mirrored, between[..., columns], sigma[..., columns])
        result[..., columns] = np.where(wide[..., columns], other, result[..., columns])
    return result


def _around_mode(counts, limits, signs, centre, variance, sigma) -> np.ndarray:
    """ln E[ΠΦ((a − c)/σ)], a ~ N(centre, variance): Gauss–Hermite around the mode, Laplace for a variance below 0."""
    from scipy.special import log_ndtr

    mode = centre.copy()
    for _ in range(MODE_STEPS):
        slope, bend = _slopes(counts, limits, signs, mode, sigma)
        mode = mode - (mode - centre - variance * slope) / (1 + variance * bend)
    slope, bend = _slopes(counts, limits, signs, mode, sigma)
    width = np.sqrt(np.maximum(variance, 0) / (1 + variance * bend))

    def log_product(effect):
        total = 0.0
        for k, c, s in zip(counts, limits, signs, strict=True):
            total = total + k * log_ndtr(s * (effect - c) / sigma)
        return total

    top = log_product(mode) - 0.5 * variance * slope**2 - 0.5 * np.log1p(variance * bend)
    # Relative to the Gaussian that touches at the mode; all zero, and so 1 node, where the variance is below 0.
    nodes, weights = np.polynomial.hermite_e.hermegauss(NODES)
    at_mode, total = log_product(mode), 0.0
    for x, weight in zip(nodes, weights / weights.sum(), strict=True):
        shift = x * width
        gain = log_product(mode + shift) - at_mode - slope * shift + 0.5 * bend * shift**2
        total = total + weight * np.exp(gain)
    return top + np.log(total)


def _slopes(counts, limits, signs, effect, sigma) -> tuple[np.ndarray, np.ndarray]:
    """First derivative and minus the second of ln ΠΦ((a − c)/σ) by a."""
    slope, bend = 0.0, 0.0
    for k, c, s in zip(counts, limits, signs, strict=True):
        u = s * (effect - c) / sigma
        ratio = inverse_mills(u)
        slope = slope + k * s * ratio / sigma
        bend = bend + k * ratio * (ratio + u) / sigma**2
    return slope, bend


def _over_largest(counts, limits, mu, between, sigma) -> np.ndarray:
    """The same for a coupon whose drops all lie above their limits: E over the largest (limit − drop effect)."""
    from scipy.special import log_ndtr, ndtri_exp

    nodes, weights = np.polynomial.legendre.leggauss(SHARES)
    used = counts > 0
    least = np.where(used, limits, math.inf).min(axis=0)
    is_single = bool((np.where(used, limits, -math.inf).max(axis=0) <= least).all())
    spread, total = np.sqrt(between), 0.0
    for share, weight in zip((nodes + 1) / 2, weights / 2, strict=True):
        largest = least + sigma * ndtri_exp(math.log(share) / counts.sum(axis=0))
        for _ in range(0 if is_single else MODE_STEPS):  # from the left, where Newton's method never overshoots
            value, slope = -math.log(share), 0.0
            for k, c in zip(counts, limits, strict=True):
                u = (largest - c) / sigma
                value, slope = value + k * log_ndtr(u), slope + k * inverse_mills(u) / sigma
            largest = largest - value / slope
        total = total + weight * np.exp(log_ndtr((mu - largest) / spread))
    return np.log(np.maximum(total, 1e-300))


def derivatives(coupons: Coupons, point: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Value, gradient (… × 3) and second derivatives (… × 3 × 3) of each batch, by central differences."""
    shifts = [np.zeros(3)]
    shifts += [sign * STEP * unit for unit in np.eye(3) for sign in (1, -1)]
    pairs = [(0, 1), (0, 2), (1, 2)]
    shifts += [sign * STEP * (np.eye(3)[i] + np.eye(3)[j]) for i, j in pairs for sign in (1, -1)]
    values = log_likelihood(coupons, point[:, None, :] + np.array(shifts).T[:, :, None])
    value, up, down = values[0], values[1:7:2], values[2:7:2]
    gradient = (up - down).T / (2 * STEP)
    bends = np.empty((point.shape[1], 3, 3))
    for i in range(3):
        bends[:, i, i] = (up[i] + down[i] - 2 * value) / STEP**2
    for place, (i, j) in enumerate(pairs):
        both = values[7 + 2 * place] + values[8 + 2 * place] + 2 * value - up[i] - down[i] - up[j] - down[j]
        bends[:, i, j] = bends[:, j, i] = both / (2 * STEP**2)
    return value, gradient, bends
