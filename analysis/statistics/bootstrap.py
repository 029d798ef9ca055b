"""Intervals by resampling, for statistics that have no formula of their own. One value a coupon is resampled."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.replication import finite, require_share

FEWEST = 8  # below it resampling repeats a handful of values: no interval; common practice, no source
RESAMPLINGS = {"bca": "BCa", "percentile": "percentile", "basic": "basic"}


@dataclass(frozen=True, slots=True)
class BootstrapInterval:
    """A statistic with its resampling interval; the seed makes it repeatable."""

    estimate: float
    low: float | None
    high: float | None
    standard_error: float | None
    acceleration: float | None  # how the spread of the statistic changes with its value, by jackknife [-]
    confidence: float
    method: str
    resamples: int
    seed: int
    n: int
    note: str = ""


@formula(
    "BCa: quantiles Φ(ẑ + (ẑ + z)/(1 − a(ẑ + z))) of the resampled statistic,  a = Σd³/(6·(Σd²)^1.5)",
    source="efron_tibshirani_1993",
    holds_when="values independent (one a coupon), eight or more, statistic smooth in them",
    library="scipy.stats.bootstrap",
)
def bootstrap_interval(
    values: Sequence[float] | Sequence[Sequence[float]],
    statistic: Callable[..., float],
    *,
    seed: int,
    confidence: float = 0.95,
    method: str = "bca",
    resamples: int = 9999,
    paired: bool = False,
) -> BootstrapInterval:
    """Interval of any statistic by resampling the coupons.

    Parameters
    ----------
    values : sequence of float, or of two or more such sequences when `paired`
        One value a coupon, eight or more, any unit.
    statistic : callable
        Takes an array (or one array for each sequence when paired) and gives a number.
    seed : int
        Of the random numbers: the same seed gives the same interval.
    confidence : float
        Two-sided confidence [-].
    method : str
        "bca" (corrected for bias and skew), "percentile" or "basic".
    resamples : int
        Number of resamples, 1000 or more.
    paired : bool
        The sequences belong together coupon by coupon and are resampled together.

    Returns
    -------
    BootstrapInterval
        No interval but a note where all resamples give the same number, where one of them gives none, or where the
        correction has no value.

    Raises
    ------
    ValueError
        For fewer than eight coupons, NaN, an unknown method, fewer than 1000 resamples, sequences of other lengths, or
        a statistic that gives no number, or several.

    Source: `efron_tibshirani_1993`.

    >>> found = bootstrap_interval([2.1, 2.5, 1.9, 3.3, 2.2, 2.8, 2.4, 4.9], np.median, seed=1)
    >>> found.estimate, found.low < found.estimate < found.high
    (2.45, True)
    """
    require_share("confidence", confidence)
    samples = [finite(sample) for sample in values] if paired else [finite(values)]
    sizes = {sample.size for sample in samples}
    if len(sizes) != 1 or any(sample.ndim != 1 for sample in samples):
        raise ValueError("the sequences must be of one length, one value a coupon")
    n = samples[0].size
    if n < FEWEST:
        raise ValueError(f"{n} values: no resampling interval below {FEWEST}")
    if method not in RESAMPLINGS:
        raise ValueError(f"unknown method {method!r}; there are {', '.join(RESAMPLINGS)}")
    if resamples < 1000:
        raise ValueError(f"resamples must be 1000 or more, not {resamples}")
    estimate = _number(statistic, samples)
    if not np.isfinite(estimate):
        raise ValueError(f"the statistic must give a finite number, not {estimate}")
    acceleration = jackknife_acceleration(samples, statistic)
    fixed = estimate, confidence, method, resamples, seed, n
    if acceleration is None:
        return _no_interval(*fixed, "the statistic does not change when a value is left out: no interval")
    try:
        low, high, error = _resampled(samples, statistic, *fixed[:-1], paired)
    except _NoNumberError:
        return _no_interval(*fixed, "the statistic has no number for some of the resamples: no interval")
    if low is None or high is None:
        return _no_interval(*fixed, "the resampled statistic lies on one side of its value: no interval")
    if low == high:
        return _no_interval(*fixed, "the resampled statistic shows no spread: no interval")
    told = None if np.isnan(acceleration) else acceleration
    return BootstrapInterval(estimate, low, high, error, told, confidence, method, resamples, seed, n)


class _NoNumberError(ArithmeticError):
    """The statistic has no number for a resample."""


def _resampled(samples, statistic, estimate, confidence, method, resamples, seed, paired):
    """Ends of the interval and standard error; no ends where the correction for bias has no value."""
    from scipy.stats import bootstrap

    asked = {"confidence_level": confidence, "paired": paired, "vectorized": False, "rng": np.random.default_rng(seed)}
    arguments = tuple(samples), lambda *drawn: _finite_number(statistic, drawn)
    plain = "basic" if method == "basic" else "percentile"
    found = bootstrap(*arguments, n_resamples=resamples, method=plain, **asked)
    if method == "bca":
        drawn = found.bootstrap_distribution
        if not 0 < np.mean(drawn < estimate) + np.mean(drawn <= estimate) < 2:
            return None, None, None
        found = bootstrap(*arguments, n_resamples=0, bootstrap_result=found, method=RESAMPLINGS[method], **asked)
    return *map(float, found.confidence_interval), float(found.standard_error)


@formula(
    "a = Σ(θ̄ − θ₍ᵢ₎)³/(6·[Σ(θ̄ − θ₍ᵢ₎)²]^1.5),  θ₍ᵢ₎ without value i",
    source="efron_tibshirani_1993",
    holds_when="statistic smooth in the values",
)
def jackknife_acceleration(samples: Sequence[Sequence[float]], statistic: Callable[..., float]) -> float | None:
    """How skewed a statistic is, from leaving out each value once: the acceleration of the BCa interval.

    Parameters
    ----------
    samples : sequence of sequences of float
        One sequence, or several that belong together value by value.
    statistic : callable
        As in `bootstrap_interval`.

    Returns
    -------
    float or None
        Acceleration [-]; None when the statistic is the same whichever value is left out, NaN when it then has no
        number.

    Raises
    ------
    ValueError
        For NaN, no values, fewer than two, sequences of other lengths, or a statistic that gives several numbers.

    Source: `efron_tibshirani_1993`, chapter 14.

    >>> round(jackknife_acceleration([[1.0, 2.0, 3.0, 4.0, 10.0]], np.mean), 4)
    0.0849
    """
    arrays = [finite(sample) for sample in samples]
    if len({array.shape for array in arrays}) != 1 or arrays[0].ndim != 1:
        raise ValueError("samples must be sequences of one length, one value a coupon")
    if arrays[0].size < 2:
        raise ValueError("a single value cannot be left out")
    without = np.array([_number(statistic, [np.delete(array, i) for array in arrays]) for i in range(arrays[0].size)])
    if not np.isfinite(without).all():
        return float("nan")
    gaps = without.mean() - without
    squares = float(np.sum(gaps**2))
    if squares <= (1e-13 * float(np.max(np.abs(without)))) ** 2:
        return None
    return float(np.sum(gaps**3) / (6 * squares**1.5))


def _number(statistic: Callable[..., float], samples: Sequence[np.ndarray]) -> float:
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # a resample may have no spread: told above
        found = np.asarray(statistic(*samples), dtype=float)
    if found.size != 1:
        raise ValueError(f"the statistic must give one number, not an array of shape {found.shape}")
    return found.item()


def _finite_number(statistic: Callable[..., float], samples: Sequence[np.ndarray]) -> float:
    found = _number(statistic, samples)
    if not np.isfinite(found):
        raise _NoNumberError
    return found


def _no_interval(estimate, confidence, method, resamples, seed, n, note) -> BootstrapInterval:
    return BootstrapInterval(estimate, None, None, None, None, confidence, method, resamples, seed, n, note)
