"""Censored normal likelihoods of many runs, iterated together.

Of the measured readings a run needs count, mean and spread only, so that an iteration looks at the censored ones
alone, equal limits counted once. Newton's method in (μ/σ, 1/σ), where each likelihood is concave.
"""

from __future__ import annotations

import math

import numpy as np

from analysis.statistics.location_scale import LOG_ROOT_2PI, inverse_mills
from analysis.statistics.segments import Segments

FITTED, NO_READINGS, UNREADABLE, NONE_MEASURED, TOO_FEW_MEASURED, NO_SPREAD, NOT_CONVERGED = range(7)
FEWEST_MEASURED = 3  # for a fit of two parameters; common practice, no source
MOST_STEPS = 60


class Sample:
    """What the likelihood needs of each run: count, mean and spread of the measured readings, and the limits."""

    def __init__(self, readings: np.ndarray, flags: list[np.ndarray], segments: Segments):
        is_finite = np.isfinite(readings)
        is_readable = np.ones(segments.sizes.size, dtype=bool)
        if not is_finite.all():
            is_readable = segments.total((~is_finite).astype(float)) == 0
            readings = np.where(is_finite, readings, 0.0)
        censored = flags[0] if len(flags) == 1 else flags[0] | flags[1]
        weights = (~censored).astype(float)
        count = segments.total(weights)
        self.n_measured = count.astype(np.int64)
        divisor = np.maximum(count, 1)
        self.mean = segments.product_total(readings, weights) / divisor
        deviations = segments.less(readings, self.mean)
        deviations *= weights
        self.sd = np.sqrt(segments.product_total(deviations, deviations) / divisor)
        self.code = np.zeros(segments.sizes.size, dtype=np.int8)
        for code, holds in (
            (NO_SPREAD, self._is_equal(readings, censored, segments)),
            (TOO_FEW_MEASURED, self.n_measured < FEWEST_MEASURED),
            (NONE_MEASURED, self.n_measured == 0),
            (UNREADABLE, ~is_readable),
            (NO_READINGS, segments.sizes == 0),
        ):
            self.code[holds] = code
        groups = [_groups(readings, flag, segments, sign) for flag, sign in zip(flags, (1.0, -1.0), strict=False)]
        self.counts, self.limits, self.signs = (np.concatenate(parts) for parts in zip(*groups, strict=True))

    def _is_equal(self, readings, censored, segments) -> np.ndarray:
        """Whether all measured readings are the same number; a spread of rounding errors is looked at closely."""
        equal = (self.sd <= 1e-10 * np.abs(self.mean)) & (self.n_measured >= FEWEST_MEASURED)
        if equal.any():
            least = segments.least(np.where(censored, math.inf, readings))
            greatest = -segments.least(np.where(censored, math.inf, -readings))
            equal &= greatest <= least
        return equal


def _groups(readings, flag, segments: Segments, sign: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Equal limits that follow one another in a run, counted: arrays of groups × runs, padded with count 0."""
    places = np.flatnonzero(flag)
    runs, limits = segments.of(places), readings[places]
    is_new = np.ones(places.size, dtype=bool)
    is_new[1:] = (runs[1:] != runs[:-1]) | (limits[1:] != limits[:-1])
    first = np.flatnonzero(is_new)
    runs, limits = runs[first], limits[first]
    sizes = np.diff(np.concatenate((first, [places.size])))
    begins = np.searchsorted(runs, runs, side="left")
    ranks = np.arange(runs.size) - begins
    depth = int(ranks.max()) + 1 if ranks.size else 0
    counts, all_limits = np.zeros((depth, segments.sizes.size)), np.zeros((depth, segments.sizes.size))
    counts[ranks, runs], all_limits[ranks, runs] = sizes, limits
    return counts, all_limits, np.full((depth, 1), sign)


class Likelihoods:
    """Log likelihoods of many runs in units of the measured mean and standard deviation."""

    def __init__(self, n: np.ndarray, counts: np.ndarray, limits: np.ndarray, signs: np.ndarray):
        self.n, self.counts, self.limits, self.signs = n, counts, limits, signs

    def part(self, rows: np.ndarray) -> Likelihoods:
        return Likelihoods(self.n[rows], self.counts[:, rows], self.limits[:, rows], self.signs)

    def value(self, mu: np.ndarray, tau: np.ndarray) -> np.ndarray:
        from scipy.special import log_ndtr

        total = self.n * (np.log(tau) - 0.5 * tau * tau * (1 + mu * mu))
        for k, c, s in zip(self.counts, self.limits, self.signs, strict=True):
            total += k * log_ndtr(s * tau * (mu - c))
        return total

    def start(self) -> tuple[np.ndarray, np.ndarray]:
        """δ and τ from mean and spread of all readings with each limit in the place of its reading."""
        total = self.n + self.counts.sum(axis=0)
        mean = (self.counts * self.limits).sum(axis=0) / total
        square = (self.n + (self.counts * self.limits**2).sum(axis=0)) / total
        tau = 1 / np.sqrt(square - mean * mean)
        return mean * tau, tau

    def newton_step(self, delta: np.ndarray, tau: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Step in (δ, τ) = (μ/σ, 1/σ), and twice the gain that it promises."""
        n = self.n
        by_delta, by_tau = -n * delta, n / tau - n * tau
        dd, dt, tt = n.copy(), np.zeros(n.size), n / tau**2 + n
        for k, c, s in zip(self.counts, self.limits, self.signs, strict=True):
            u = s * (delta - c * tau)
            ratio = inverse_mills(u)
            bend, slope = k * ratio * (ratio + u), s * k * ratio
            by_delta += slope
            by_tau -= slope * c
            dd += bend
            bend *= c
            dt -= bend
            tt += bend * c
        determinant = dd * tt - dt * dt
        step_delta = (tt * by_delta - dt * by_tau) / determinant
        step_tau = (dd * by_tau - dt * by_delta) / determinant
        return step_delta, step_tau, step_delta * by_delta + step_tau * by_tau

    def ridge(self, mu: np.ndarray, tau: np.ndarray) -> tuple[np.ndarray, ...]:
        """Derivatives in (μ, τ): by μ, by τ, and the second ones μμ, μτ, ττ."""
        n, square = self.n, 1 + mu * mu
        by_mu, by_tau = -n * tau * tau * mu, n / tau - n * tau * square
        mm, mt, tt = -n * tau * tau, -2 * n * tau * mu, -n / tau**2 - n * square
        for k, c, s in zip(self.counts, self.limits, self.signs, strict=True):
            beyond = mu - c
            u = s * tau * beyond
            ratio = inverse_mills(u)
            bend, slope = k * ratio * (ratio + u), s * k * ratio
            by_mu += tau * slope
            by_tau += beyond * slope
            mm -= tau * tau * bend
            bend *= beyond
            mt += slope - tau * bend
            tt -= bend * beyond
        return by_mu, by_tau, mm, mt, tt


def fits_of(sample: Sample, rows: np.ndarray, confidence: float, is_profile: bool):
    """mu, sigma, low, high and log likelihood of the runs `rows`, and whether they were found."""
    from scipy.special import ndtri

    mean, sd = sample.mean[rows], sample.sd[rows]
    limits = (sample.limits[:, rows] - mean) / sd
    likelihoods = Likelihoods(sample.n_measured[rows].astype(float), sample.counts[:, rows], limits, sample.signs[:, 0])
    mu, tau, is_found = _best(likelihoods)
    best = likelihoods.value(mu, tau)
    _, _, mm, mt, tt = likelihoods.ridge(mu, tau)
    with np.errstate(invalid="ignore"):  # a run that was not found has no information either: NaN
        error = np.sqrt(-tt / (mm * tt - mt * mt))
    wanted = float(ndtri((1 + confidence) / 2))
    ends = [mu - wanted * error, mu + wanted * error]
    if is_profile:
        for side, sign in enumerate((-1.0, 1.0)):
            ends[side], is_end = _profile_end(likelihoods, (mu, tau, best, error, -mt / tt), sign * wanted)
            is_found &= is_end
    low, high = (mean + sd * end for end in ends)
    log_likelihood = best - likelihoods.n * (np.log(sd) + LOG_ROOT_2PI)
    return (mean + sd * mu, sd / tau, low, high, log_likelihood), is_found


def _best(likelihoods: Likelihoods) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """mu and tau where each likelihood is largest; runs leave the iteration as they arrive."""
    size = likelihoods.n.size
    delta, tau, is_found = np.zeros(size), np.ones(size), np.zeros(size, dtype=bool)
    rows, left = np.arange(size), likelihoods
    d, t = likelihoods.start()
    for _ in range(MOST_STEPS):
        if not rows.size:
            break
        step_d, step_t, gain = left.newton_step(d, t)
        # Far from the top a Newton step is shortened as for a self-concordant function, and τ stays above 0.
        size = np.where(gain > 0.5, 1 / (1 + np.sqrt(np.maximum(gain, 0))), 1.0)
        size = np.where(step_t * size < -0.8 * t, -0.8 * t / np.minimum(step_t, -1e-300), size)
        d, t = d + size * step_d, t + size * step_t
        is_done = gain < 1e-13
        if is_done.any():
            delta[rows[is_done]], tau[rows[is_done]], is_found[rows[is_done]] = d[is_done], t[is_done], True
            keep = np.flatnonzero(~is_done)
            rows, d, t, left = rows[keep], d[keep], t[keep], left.part(keep)
    return delta / tau, tau, is_found


def _profile_end(likelihoods: Likelihoods, top: tuple, wanted: float) -> tuple[np.ndarray, np.ndarray]:
    """Where the signed root of the likelihood ratio is `wanted`: mu and the ridge over it found together."""
    mu_top, tau_top, best, error, slope_top = top
    size, sign = best.size, math.copysign(1.0, wanted)
    ends, is_found = np.full(size, math.nan), np.zeros(size, dtype=bool)
    rows, left = np.arange(size), likelihoods
    reach = abs(wanted) * error  # distance from the top
    log_tau = np.log(tau_top) + np.clip(slope_top * sign * reach / tau_top, -1, 1)
    state = [mu_top, best, reach, log_tau]
    for _ in range(MOST_STEPS):
        if not rows.size:
            break
        top_mu, top_value, reach, log_tau = state
        mu, tau = top_mu + sign * reach, np.exp(log_tau)
        by_mu, by_tau, _, mt, tt = left.ridge(mu, tau)
        # Value and slope of the profile, corrected to first order for a τ that is not yet on the ridge.
        profile = left.value(mu, tau) - 0.5 * by_tau * by_tau / tt
        slope = by_mu - mt * by_tau / tt
        root = np.sqrt(np.maximum(2 * (top_value - profile), 1e-12))
        steepness = np.maximum(-sign * slope / root, 1e-300)
        move = np.clip((abs(wanted) - root) / steepness, -0.5 * reach, reach)
        turn = np.clip(-(by_tau + mt * sign * move) / (tt * tau), -1, 1)
        reach, log_tau = reach + move, log_tau + turn
        state = [top_mu, top_value, reach, log_tau]
        is_done = (np.abs(move) < 1e-7 * reach) & (np.abs(turn) < 1e-6)
        if is_done.any():
            ends[rows[is_done]] = (top_mu + sign * reach)[is_done]
            is_found[rows[is_done]] = True
            keep = np.flatnonzero(~is_done)
            rows, left, state = rows[keep], left.part(keep), [part[keep] for part in state]
    return ends, is_found
