"""Reduction of many runs at once: the numbers of the one-run functions, for whole databases of readings.

Readings come as an array of runs × readings, or flat with the offset of each run. Runs that cannot be reduced
carry a code, and `REASONS` says it in words.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import within
from analysis.statistics.replication import require_share
from analysis.statistics.run_likelihoods import FITTED, NOT_CONVERGED, Sample, fits_of
from analysis.statistics.segments import Segments, in_chunks

REASONS = (
    "",
    "no readings",
    "NaN or an infinite reading",
    "no reading measured: all lie beyond their limits",
    "fewer than three readings measured",
    "all measured readings are equal: no spread to fit",
    "the fit did not converge",
)
PROFILE, WALD = "profile", "wald"


@dataclass(frozen=True, slots=True)
class HysteresisStatistics:
    """Mean, spread and interval of the hysteresis of each run [deg]; NaN where there is none."""

    n: np.ndarray
    mean: np.ndarray
    sd: np.ndarray
    low: np.ndarray
    high: np.ndarray
    least: np.ndarray | None
    greatest: np.ndarray | None
    confidence: float


@dataclass(frozen=True, slots=True)
class CensoredFits:
    """A censored normal fit of each run; NaN where there is none, and `code` says why."""

    mu: np.ndarray
    sigma: np.ndarray
    low: np.ndarray  # interval of mu
    high: np.ndarray
    log_likelihood: np.ndarray  # of the values in their own unit
    n: np.ndarray
    n_measured: np.ndarray
    code: np.ndarray  # index of REASONS, 0 for a fit
    confidence: float
    interval: str  # "profile" or "wald"

    @property
    def is_fitted(self) -> np.ndarray:
        return self.code == FITTED

    def reason(self, run: int) -> str:
        """Why a run has no fit, in words; empty for a fit."""
        return REASONS[self.code[run]]


@formula(
    "Δθ̄ = Σ(θa − θr)/n, s² = Σ(Δθ − Δθ̄)²/(n − 1), Δθ̄ ± t((1 + C)/2; n − 1)·s/√n, not below 0",
    source="nist_handbook_1_3_5_2",
    holds_when="drops of one run, roughly normal differences; an interval of that coupon, never of the batch",
    library="scipy.special.stdtrit",
)
def hysteresis_statistics(
    advancing_deg: ArrayLike,
    receding_deg: ArrayLike,
    offsets: ArrayLike | None = None,
    confidence: float = 0.95,
    has_extremes: bool = False,
) -> HysteresisStatistics:
    """Mean, standard deviation and Student interval of the hysteresis of each of many runs.

    Parameters
    ----------
    advancing_deg, receding_deg : array_like
        Angles of the same drops [deg], 0 to 180; runs × drops, or flat with `offsets`.
    offsets : array_like of int, optional
        For flat arrays: where each run begins, and at the end the number of readings.
    confidence : float
        Two-sided confidence [-].
    has_extremes : bool
        Whether the smallest and the largest hysteresis are wanted too.

    Returns
    -------
    HysteresisStatistics
        One entry a run [deg]. A lower limit below 0 is given as 0 where the mean is not negative itself: no
        hysteresis lies below. sd and limits are NaN for one drop, everything for a run without drops or with
        NaN in it.

    Raises
    ------
    ValueError
        For an angle outside 0 to 180, arrays of different shape, or impossible offsets.

    Source: `nist_handbook_1_3_5_2`.

    >>> found = hysteresis_statistics([[110.0, 112.0, 114.0]], [[100.0, 101.0, 102.0]])
    >>> found.mean.tolist(), found.sd.tolist()
    ([11.0], [1.0])
    """
    require_share("confidence", confidence)
    arrays = np.asarray(advancing_deg, dtype=float), np.asarray(receding_deg, dtype=float)
    runs, chunks = in_chunks(arrays, offsets)
    n = np.zeros(runs, dtype=np.int64)
    mean, sd, least, greatest = (np.full(runs, math.nan) for _ in range(4))
    for place, segments, (advancing, receding) in chunks:
        _require_angles("advancing angle", advancing)
        _require_angles("receding angle", receding)
        difference = advancing - receding
        n[place] = segments.sizes
        mean[place], sd[place] = _moments(difference, segments)
        if has_extremes:
            filled = segments.sizes > 0
            least[place] = np.where(filled, segments.least(difference), math.nan)
            greatest[place] = np.where(filled, -segments.least(-difference), math.nan)
    half = _student(n, confidence) * sd
    low = np.where((mean >= 0) & (mean < half), 0.0, mean - half)
    extremes = (least, greatest) if has_extremes else (None, None)
    return HysteresisStatistics(n, mean, sd, low, mean + half, *extremes, confidence)


@formula(
    "ℓ(μ, σ) = Σ ln[φ((xᵢ − μ)/σ)/σ] + Σ ln Φ((μ − cᵢ)/σ), Newton's method in (μ/σ, 1/σ) for all runs together; "
    "interval {μ: 2[ℓ̂ − ℓₚ(μ)] ≤ χ²(C; 1)}",
    source="schmee_hahn_1979 olsen_1978",
    holds_when="normal readings, limits set beforehand; the interval is approximate, short for few readings",
    library="scipy.special.log_ndtr, scipy.special.erfcx",
)
def censored_normal_fits(
    values: ArrayLike,
    not_moved: ArrayLike,
    moved_on_placing: ArrayLike | None = None,
    offsets: ArrayLike | None = None,
    confidence: float = 0.95,
    interval: str = PROFILE,
) -> CensoredFits:
    """Censored normal fit of each of many runs (sliding angles with drops that did not move), all iterated together.

    Parameters
    ----------
    values : array_like
        Readings, any unit; a censored one carries its limit. Runs × readings, or flat with `offsets`.
    not_moved, moved_on_placing : array_like of bool
        True where the drop did not move up to its limit, or had moved before it.
    offsets : array_like of int, optional
        For flat arrays: where each run begins, and at the end the number of readings.
    confidence : float
        Two-sided confidence of the interval of mu [-].
    interval : str
        "profile" (likelihood ratio, as `censored_normal_fit`) or "wald" (mu ± z·se, quicker).

    Returns
    -------
    CensoredFits
        The numbers of `censored_normal_fit` for every run, in the unit of the values. A run with NaN, with fewer
        than three measured readings, with equal ones, or whose iteration did not end has NaN and a code.

    Raises
    ------
    ValueError
        For arrays of different shape, impossible offsets, a reading with both marks, or another interval.

    Source: `schmee_hahn_1979`, `olsen_1978`.

    >>> seen = [[12, 18, 25, 31, 44, 57, 73, 90, 90, 90]]
    >>> fits = censored_normal_fits(seen, [[value == 90 for value in seen[0]]])
    >>> fits.mu.round(3).tolist(), fits.sigma.round(3).tolist()
    ([60.016], [40.31])
    """
    require_share("confidence", confidence)
    if interval not in (PROFILE, WALD):
        raise ValueError(f"interval is {PROFILE} or {WALD}, not {interval!r}")
    numbers, above = np.asarray(values, dtype=float), np.asarray(not_moved, dtype=bool)
    marks = (above,) if moved_on_placing is None else (above, np.asarray(moved_on_placing, dtype=bool))
    runs, chunks = in_chunks((numbers, *marks), offsets)
    results = [np.full(runs, math.nan) for _ in range(5)]
    n, n_measured = (np.zeros(runs, dtype=np.int64) for _ in range(2))
    code = np.zeros(runs, dtype=np.int8)
    for place, segments, (readings, *flags) in chunks:
        if len(flags) == 2 and np.any(flags[0] & flags[1]):
            raise ValueError("a drop cannot both stay and move on placing")
        n[place] = segments.sizes
        sample = Sample(readings, flags, segments)
        n_measured[place], code[place] = sample.n_measured, sample.code
        usable = np.flatnonzero(sample.code == FITTED)
        numbers_of_chunk, is_found = fits_of(sample, usable, confidence, interval == PROFILE)
        rows = place.start + usable
        for result, found in zip(results, numbers_of_chunk, strict=True):
            result[rows] = np.where(is_found, found, math.nan)
        code[rows[~is_found]] = NOT_CONVERGED
    return CensoredFits(*results, n, n_measured, code, confidence, interval)


def _require_angles(name: str, angles: np.ndarray) -> None:
    """Extremes first, since they are quick; the careful look only where they lie outside or are NaN."""
    if angles.size and not (angles.min() >= 0 and angles.max() <= 180):
        within(name, angles, "deg", at_least=0, at_most=180)


def _moments(values: np.ndarray, segments: Segments) -> tuple[np.ndarray, np.ndarray]:
    with np.errstate(invalid="ignore", divide="ignore"):  # no reading: 0/0 is NaN, as promised; one: sd NaN
        mean = segments.total(values) / segments.sizes
        deviations = segments.less(values, mean)
        squares = segments.product_total(deviations, deviations)
        return mean, np.sqrt(squares / np.maximum(segments.sizes - 1, 0))


def _student(n: np.ndarray, confidence: float) -> np.ndarray:
    """t/√n of each run: one quantile for each size that occurs."""
    from scipy.special import stdtrit

    sizes, places = np.unique(n, return_inverse=True)
    factors = np.full(sizes.shape, math.nan)
    several = sizes > 1
    factors[several] = stdtrit(sizes[several] - 1, (1 + confidence) / 2) / np.sqrt(sizes[several])
    return factors[places]
