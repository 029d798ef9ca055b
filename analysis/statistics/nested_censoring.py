"""Mean of a batch from coupons with several drops of which some never moved: likelihood with coupons as the unit."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.statistics.nested_likelihood import (
    Coupons,
    derivatives,
    log_likelihood,
    lowest,
    share_within,
    variances,
)
from analysis.statistics.replication import require_share

FITTED, UNREADABLE, TOO_FEW_COUPONS, NONE_MEASURED, ONE_MEASURED, NO_SPREAD, NOT_CONVERGED = range(7)
REASONS = (
    "",
    "an infinite reading",
    "one coupon: no interval for the batch",
    "no reading measured: all lie beyond their limits",
    "readings were measured on one coupon only: the spread between coupons is unknown",
    "no coupon has two measured readings that differ: the spread between drops is unknown",
    "the fit did not converge",
)
MOST_STEPS = 80
LONGEST = 1.5  # step, in units of the readings' spread or of a logarithm


@dataclass(frozen=True, slots=True)
class NestedMeans:
    """Mean of each of many batches with its interval, coupons as the unit; NaN where `code` says why."""

    mean: np.ndarray
    low: np.ndarray  # minus infinity where the readings set no lower limit
    high: np.ndarray  # infinity where they set no upper one
    between_variance: np.ndarray  # between coupons, as estimated: it may be negative; NaN where it cannot be told
    within_variance: np.ndarray
    log_likelihood: np.ndarray
    n_coupons: np.ndarray
    n_readings: np.ndarray
    n_measured: np.ndarray
    code: np.ndarray  # index of REASONS
    confidence: float

    @property
    def is_fitted(self) -> np.ndarray:
        return self.code == FITTED

    def reason(self, batch: int) -> str:
        """Why a batch has no fit, in words; empty for a fit."""
        return REASONS[self.code[batch]]


@dataclass(frozen=True, slots=True)
class NestedMean:
    """Mean of one batch with its interval; None where `note` says why."""

    mean: float | None
    low: float | None  # minus infinity where the readings set no lower limit
    high: float | None  # infinity where they set no upper one
    confidence: float
    between_sd: float | None  # never negative: 0 where the variance is estimated so; None where it cannot be told
    within_sd: float | None
    between_variance: float | None  # as estimated
    n_coupons: int
    n_readings: int
    n_measured: int
    note: str = ""

    @property
    def is_fitted(self) -> bool:
        return self.mean is not None


@formula(
    "yᵢⱼ = μ + bᵢ + eᵢⱼ;  ℓ = Σᵢ ln ∫ Πⱼ[φ or Φ]((yᵢⱼ − μ − b)/σw) φ(b/σb)db;  "
    "interval {μ: 2[ℓ̂ − ℓₚ(μ)] ≤ k·ln(1 + t²/(k − 1))}, t = t((1 + C)/2; k − 1)",
    source="searle_1992 schmee_hahn_1979 common_practice",
    holds_when="3 to 10 coupons with 5 to 10 drops, up to 40 % beyond the limit, measured drops on 2 coupons or more",
)
def nested_censored_mean(
    coupons: Mapping[str, tuple[Sequence[float], Sequence[bool]]], confidence: float = 0.95
) -> NestedMean:
    """Mean of a batch whose coupons carry several drops each, some of which did not move, with its interval.

    Parameters
    ----------
    coupons : mapping of str to (values, not_moved)
        Readings of each coupon, any unit, and which of them are limits that the drop did not move up to; empty
        coupons are passed over.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    NestedMean
        Maximum likelihood mean and components of variance. The coupon is the unit: with all drops measured mean
        and interval are those of the coupon means (Student), and censored drops widen it. Each coupon counts once,
        whatever its number of drops. An end that the readings do not set is infinite. No mean but a note where it
        cannot be fitted.

    Raises
    ------
    ValueError
        For no readings, NaN, marks of another length, or a confidence outside 0 to 1.

    Source: `searle_1992` for the model, `schmee_hahn_1979` for the censored likelihood; the threshold is the exact
    one of a complete balanced sample (`common_practice`).

    >>> stays = [False, False, False]
    >>> batch = {"A": ([9.0, 10.0, 11.0], stays), "B": ([14.0, 15.0, 16.0], stays), "C": ([11.0, 12.0, 13.0], stays)}
    >>> found = nested_censored_mean(batch)
    >>> round(found.mean, 2), round(found.low, 2), round(found.high, 2)
    (12.33, 6.08, 18.58)
    """
    kept = [(np.asarray(v, dtype=float), np.asarray(m, dtype=bool)) for v, m in coupons.values() if len(v)]
    if not kept:
        raise ValueError("no readings")
    for values, marks in kept:
        if values.shape != marks.shape:
            raise ValueError(f"{marks.size} marks for {values.size} readings")
        if np.isnan(values).any():
            raise ValueError("NaN cannot enter this statistic")
    shape = len(kept), max(values.size for values, _ in kept)
    numbers, stayed = np.full(shape, math.nan), np.zeros(shape, dtype=bool)
    for row, (values, marks) in enumerate(kept):
        numbers[row, : values.size], stayed[row, : values.size] = values, marks
    found = nested_censored_means(numbers[None], stayed[None], confidence=confidence)
    counts = int(found.n_coupons[0]), int(found.n_readings[0]), int(found.n_measured[0])
    if not found.is_fitted[0]:
        return NestedMean(None, None, None, confidence, None, None, None, *counts, found.reason(0))
    between, within = float(found.between_variance[0]), float(found.within_variance[0])
    spreads, note = (None, None, None), REASONS[NO_SPREAD]
    if not math.isnan(between):
        spreads = math.sqrt(max(between, 0)), math.sqrt(within), between
        note = "the drops scatter more than the coupons: their variance comes out negative" if between < 0 else ""
    ends = float(found.mean[0]), float(found.low[0]), float(found.high[0])
    return NestedMean(*ends, confidence, *spreads, *counts, note)


@formula(
    "as nested_censored_mean, Newton's method for all batches together",
    source="searle_1992 schmee_hahn_1979 common_practice",
    holds_when="3 to 10 coupons with 5 to 10 drops, up to 40 % beyond the limit, measured drops on 2 coupons or more",
)
def nested_censored_means(
    values: ArrayLike, not_moved: ArrayLike, moved_on_placing: ArrayLike | None = None, confidence: float = 0.95
) -> NestedMeans:
    """The same as `nested_censored_mean` for many batches at once.

    Parameters
    ----------
    values : array_like
        Batches × coupons × drops, any unit; a censored reading carries its limit, NaN stands for no reading.
    not_moved, moved_on_placing : array_like of bool
        True where the drop did not move up to its limit, or had moved before it.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    NestedMeans
        One entry a batch, in the unit of the values.

    Raises
    ------
    ValueError
        For arrays of another shape, a reading with both marks, or a confidence outside 0 to 1.

    Source: `searle_1992`, `schmee_hahn_1979`.

    >>> readings = [[[9.0, 10.0, 11.0], [14.0, 15.0, 16.0], [11.0, 12.0, 13.0]]]
    >>> found = nested_censored_means(readings, np.zeros((1, 3, 3), dtype=bool))
    >>> found.mean.round(2).tolist(), found.low.round(2).tolist()
    ([12.33], [6.08])
    """
    require_share("confidence", confidence)
    numbers, above = np.asarray(values, dtype=float), np.asarray(not_moved, dtype=bool)
    below = np.zeros(above.shape, dtype=bool) if moved_on_placing is None else np.asarray(moved_on_placing, dtype=bool)
    if numbers.ndim != 3 or above.shape != numbers.shape or below.shape != numbers.shape:
        raise ValueError(f"batches × coupons × drops are needed, not {numbers.shape} with marks {above.shape}")
    if np.any(above & below):
        raise ValueError("a drop cannot both stay and move on placing")
    is_there = ~np.isnan(numbers)
    above, below = above & is_there, below & is_there
    measured = is_there & ~above & ~below
    readable = np.where(np.isinf(numbers), math.nan, numbers)
    code = _codes(readable, is_there, measured, np.isinf(numbers).any(axis=(1, 2)))
    results = [np.full(code.size, math.nan) for _ in range(6)]
    rows = np.flatnonzero(code == FITTED)
    if rows.size:
        batch = readable[rows], measured[rows], above[rows], below[rows]
        found, is_found = _fits(*batch, confidence)
        code[rows[~is_found]] = NOT_CONVERGED
        for result, part in zip(results, found, strict=True):
            result[rows] = np.where(is_found, part, math.nan)
    is_complete = ~(above | below).any(axis=(1, 2)) & ((code == FITTED) | (code == NO_SPREAD) | (code == NOT_CONVERGED))
    for result, part in zip(results[:3], _student(readable[is_complete], confidence), strict=True):
        result[is_complete] = part
    code[is_complete] = FITTED
    counts = is_there.any(axis=2).sum(axis=1), is_there.sum(axis=(1, 2)), measured.sum(axis=(1, 2))
    return NestedMeans(*results, *counts, code, confidence)


def _codes(numbers, is_there, measured, has_infinite) -> np.ndarray:
    code = np.zeros(numbers.shape[0], dtype=np.int8)
    coupons, with_measured = is_there.any(axis=2).sum(axis=1), measured.any(axis=2).sum(axis=1)
    centre = np.where(measured, numbers, 0).sum(axis=2) / np.maximum(measured.sum(axis=2), 1)
    within = np.where(measured, numbers - centre[..., None], 0)
    reach = np.abs(np.where(measured, numbers, 0)).max(axis=(1, 2), initial=0)
    for reason, holds in (
        (NO_SPREAD, np.abs(within).max(axis=(1, 2), initial=0) <= 1e-12 * reach),
        (ONE_MEASURED, with_measured == 1),
        (NONE_MEASURED, with_measured == 0),
        (TOO_FEW_COUPONS, coupons < 2),
        (UNREADABLE, has_infinite),
    ):
        code[holds] = reason
    return code


def _fits(numbers, measured, above, below, confidence: float):
    """Mean, low, high, variances and log likelihood of batches that can be fitted, and whether they were."""
    n = measured.sum(axis=(1, 2))
    centre = np.where(measured, numbers, 0).sum(axis=(1, 2)) / n
    deviations = np.where(measured, numbers - centre[:, None, None], 0)
    unit = np.sqrt((deviations**2).sum(axis=(1, 2)) / n)
    scaled = (numbers - centre[:, None, None]) / unit[:, None, None]
    coupons = _coupons(scaled, measured, above, below)
    point, value, is_found = _best(coupons, _start(scaled, coupons))
    between, within = variances(coupons, point)
    k = (~np.isnan(numbers)).any(axis=2).sum(axis=1)
    wanted = _threshold(k, confidence)
    error = np.sqrt((between + within * share_within(coupons)) / k)
    ends = []
    for sign in (-1.0, 1.0):
        end, is_end = _end(coupons, point, value, sign, wanted, error)
        is_found &= is_end
        ends.append(centre + unit * end)
    log_value = value - n * np.log(unit)
    return (centre + unit * point[0], *ends, unit**2 * between, unit**2 * within, log_value), is_found


def _student(numbers: np.ndarray, confidence: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean and Student interval of the coupon means: where every drop was measured, exact for equal numbers of them."""
    from scipy.special import stdtrit

    sizes = (~np.isnan(numbers)).sum(axis=2)
    means = np.nansum(numbers, axis=2) / np.maximum(sizes, 1)
    k = (sizes > 0).sum(axis=1)
    mean = np.where(sizes > 0, means, 0).sum(axis=1) / k
    squares = (np.where(sizes > 0, means - mean[:, None], 0) ** 2).sum(axis=1)
    half = stdtrit(k - 1, (1 + confidence) / 2) * np.sqrt(squares / (k * (k - 1)))
    return mean, mean - half, mean + half


def _threshold(k: np.ndarray, confidence: float) -> np.ndarray:
    """Root of the likelihood ratio that Student's t on k − 1 degrees of freedom corresponds to."""
    from scipy.special import stdtrit

    t = stdtrit(k - 1, (1 + confidence) / 2)
    return np.sqrt(k * np.log1p(t * t / (k - 1)))


def _coupons(scaled, measured, above, below) -> Coupons:
    n = measured.sum(axis=2)
    mean = np.where(measured, scaled, 0).sum(axis=2) / np.maximum(n, 1)
    squares = np.where(measured, scaled - mean[..., None], 0) ** 2
    groups = [_groups(scaled, mask, sign) for mask, sign in ((above, 1.0), (below, -1.0))]
    counts, limits, signs = (np.concatenate(parts) for parts in zip(*groups, strict=True))
    drops = (~np.isnan(scaled)).sum(axis=2)
    harmonic = (drops > 0).sum(axis=1) / np.where(drops > 0, 1 / np.maximum(drops, 1), 0).sum(axis=1)
    drops = np.where(drops > 0, drops, harmonic[:, None])
    return Coupons(n.astype(float), mean, squares.sum(axis=2), counts, limits, signs, drops)


def _groups(scaled, mask, sign: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Distinct limits of each coupon with their counts: groups × batches × coupons, padded with count 0."""
    limits = np.sort(np.where(mask, scaled, math.inf), axis=2)
    is_new = np.isfinite(limits)
    is_new[..., 1:] &= limits[..., 1:] != limits[..., :-1]
    rank = np.cumsum(is_new, axis=2) - 1
    depth = int(rank.max(initial=-1)) + 1
    counts, found = np.zeros((depth, *mask.shape[:2])), np.zeros((depth, *mask.shape[:2]))
    for group in range(depth):
        here = (rank == group) & np.isfinite(limits)
        counts[group] = here.sum(axis=2)
        found[group] = np.where(here, limits, -math.inf).max(axis=2, initial=-math.inf)
    return counts, np.where(counts > 0, found, 0.0), np.full(depth, sign)


def _start(scaled, coupons: Coupons) -> np.ndarray:
    """Moments, with each limit in the place of its reading."""
    is_there = ~np.isnan(scaled)
    sizes = is_there.sum(axis=2)
    means = np.where(is_there, scaled, 0).sum(axis=2) / np.maximum(sizes, 1)
    k = (sizes > 0).sum(axis=1)
    centre = np.where(sizes > 0, means, 0).sum(axis=1) / k
    spread = np.where(sizes > 0, means - centre[:, None], 0)
    freedom = np.maximum((coupons.measured - 1).clip(0).sum(axis=1), 1)
    within = np.maximum(coupons.squares.sum(axis=1) / freedom, 1e-8)
    total = np.maximum((spread**2).sum(axis=1) / k, 0.1 * within * share_within(coupons))
    return np.array([centre, np.log(total / within), 0.5 * np.log(within)])


def _best(coupons: Coupons, point: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Largest likelihood of each batch by Newton's method with step halving."""
    is_found = np.zeros(point.shape[1], dtype=bool)
    value_at = np.full(point.shape[1], math.nan)
    point, rows, left = point.copy(), np.arange(point.shape[1]), coupons
    for _ in range(MOST_STEPS):
        if not rows.size:
            break
        here = point[:, rows]
        value, gradient, bends = derivatives(left, here)
        step, gain = _ascent(*_held(gradient, bends, 1, here[1] <= lowest(left)))
        size = np.ones(rows.size)
        for _ in range(12):
            moved = _bounded(here + (size[:, None] * step).T, left)
            is_worse = ~(log_likelihood(left, moved) >= value - 1e-9)
            if not is_worse.any():
                break
            size[is_worse] /= 4
        point[:, rows], value_at[rows] = moved, value
        is_done = (gain < 1e-8) | (np.abs(moved - here).max(axis=0) < 1e-9)
        is_found[rows[is_done]] = True
        keep = np.flatnonzero(~is_done)
        rows, left = rows[keep], left.part(keep)
    return point, np.where(is_found, log_likelihood(coupons, point), math.nan), is_found


def _bounded(point: np.ndarray, coupons: Coupons) -> np.ndarray:
    return np.array([point[0], np.clip(point[1], lowest(coupons), 30.0), np.clip(point[2], -30.0, 30.0)])


def _held(gradient: np.ndarray, bends: np.ndarray, axis: int, is_lowest: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Gradient and curvature without the direction that would leave the range."""
    held = is_lowest & (gradient[:, axis] < 0)
    gradient, bends = gradient.copy(), bends.copy()
    gradient[held, axis], bends[held, axis, :], bends[held, :, axis] = 0.0, 0.0, 0.0
    bends[held, axis, axis] = -1.0
    return gradient, bends


def _ascent(gradient: np.ndarray, bends: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Newton step that climbs along every axis of the curvature, each by LONGEST at most, and twice its gain."""
    curvatures, axes = np.linalg.eigh(-bends)
    along = np.einsum("bji,bj->bi", axes, gradient)
    part = np.clip(along / np.maximum(np.abs(curvatures), 1e-6), -LONGEST, LONGEST)
    return np.einsum("bij,bj->bi", axes, part), np.einsum("bi,bi->b", along, part)


def _end(coupons: Coupons, top: np.ndarray, best: np.ndarray, sign: float, wanted: np.ndarray, error: np.ndarray):
    """μ where the signed root of the profile likelihood ratio is `wanted`; infinite where it never gets there."""
    size = best.size
    ends, is_found = np.full(size, math.nan), np.zeros(size, dtype=bool)
    rows, left = np.flatnonzero(np.isfinite(best)), coupons.part(np.isfinite(best))
    reach, nuisance = (0.5 * wanted * error)[rows], top[1:, rows]
    for _ in range(MOST_STEPS):
        if not rows.size:
            break
        mu = top[0, rows] + sign * reach
        value, gradient, bends = derivatives(left, np.array([mu, *nuisance]))
        is_lowest = nuisance[0] <= lowest(left)
        inner_gradient, inner_bends = _held(gradient[:, 1:], bends[:, 1:, 1:], 0, is_lowest)
        inner, inner_gain = _ascent(inner_gradient, inner_bends)
        profile = value + 0.5 * inner_gain  # corrected for nuisances that are not yet at their best
        slope = gradient[:, 0] + np.einsum("bi,bi->b", bends[:, 0, 1:], inner)
        root = np.sqrt(np.maximum(2 * (best[rows] - profile), 1e-12))
        steepness = np.maximum(-sign * slope / root, 1e-12)
        move = np.clip((wanted[rows] - root) / steepness, -0.5 * reach, 0.5 * reach)
        move = np.where(inner_gain > 0.2, 0.0, move)  # first back to the ridge, then along it
        ahead = gradient[:, 1:] + sign * move[:, None] * bends[:, 0, 1:]
        follow, _ = _ascent(*_held(ahead, bends[:, 1:, 1:], 0, is_lowest))
        after = _bounded(np.array([mu, *(nuisance + follow.T)]), left)[1:]
        reach, follow, nuisance = reach + move, after - nuisance, after
        is_done = (inner_gain <= 0.2) & (np.abs(move) < 1e-5 * reach) & (np.abs(follow).max(axis=0) < 1e-3)
        is_endless = reach > 1e6
        ends[rows[is_done]] = (top[0, rows] + sign * reach)[is_done]
        ends[rows[is_endless]] = sign * math.inf
        is_found[rows[is_done | is_endless]] = True
        keep = np.flatnonzero(~(is_done | is_endless))
        rows, left, reach, nuisance = rows[keep], left.part(keep), reach[keep], nuisance[:, keep]
    return ends, is_found
