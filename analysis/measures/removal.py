"""Removal and reduction of what sits on a coupon: percent, decimal logarithm, and what a count of zero can say."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.measures.log_ratio import log_ratio
from analysis.ranges import plain, within

AGAINST_CONTROL = "against control"
BEFORE_AFTER = "before and after"
COMPARISONS = (AGAINST_CONTROL, BEFORE_AFTER)
_Interval = tuple[float | None, float | None, float | None]  # standard uncertainty, low, high


@dataclass(frozen=True, slots=True)
class CensoredReduction:
    """Log reductions of single coupons; where nothing was found the value is only a lower limit ("at least")."""

    log10: float | np.ndarray
    is_at_least: bool | np.ndarray


@dataclass(frozen=True, slots=True)
class LogReduction:
    """Mean log reduction of coupons; an interval where no count lies below the detection limit and coupons differ."""

    log10: float
    is_at_least: bool  # right-censored: the true reduction is this or more
    percent: float  # the same as a percentage of what was there
    u_log10: float | None
    low: float | None
    high: float | None
    confidence: float
    comparison: str
    n_reference: int
    n_test: int
    n_below_limit: int
    sentence: str


@formula(
    "removal = 100·(N before − N after)/N before",
    source="reduction_definitions",
    holds_when="the same coupon and the same area before and after",
)
def removal_percent(before: ArrayLike, after: ArrayLike) -> float | np.ndarray:
    """Share of what sat on a coupon that a treatment took off.

    Parameters
    ----------
    before : array_like
        Count, mass or cover before, above 0.
    after : array_like
        The same after, at least 0. A count of 0 gives 100, which says only "below the detection limit": use
        `log10_reduction`.

    Returns
    -------
    float or numpy.ndarray
        Removal [%], negative where there is more than before; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `reduction_definitions`.

    >>> removal_percent(4.0e5, 1.0e4)
    97.5
    """
    first = within("amount before", before, above=0)
    return plain(100 * (1 - within("amount after", after, at_least=0) / first))


@formula(
    "reduction = 100·(1 − N test/N control)",
    source="reduction_definitions",
    holds_when="test and control exposed together, in the same way and for the same time",
)
def reduction_percent(control: ArrayLike, test: ArrayLike) -> float | np.ndarray:
    """How much less sits on the test coupon than on the control.

    Parameters
    ----------
    control : array_like
        Count, mass or cover of the control, above 0.
    test : array_like
        The same of the test coupon, at least 0.

    Returns
    -------
    float or numpy.ndarray
        Reduction [%], negative where there is more than on the control; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `reduction_definitions`.

    >>> reduction_percent(200, 50)
    75.0
    """
    reference = within("amount on the control", control, above=0)
    return plain(100 * (1 - within("amount on the test coupon", test, at_least=0) / reference))


@formula(
    "LR = log10(N reference/N test); N test below the limit L: LR ≥ log10(N reference/L)",
    source="reduction_definitions",
    holds_when="reference above its detection limit",
)
def log10_reduction(
    reference: ArrayLike, test: ArrayLike, detection_limit: ArrayLike | None = None
) -> CensoredReduction:
    """Log reduction of each of many coupons, with the mark "at least" where nothing was found.

    Parameters
    ----------
    reference : array_like
        Count of the control, or before, above 0 and not below the detection limit.
    test : array_like
        Count of the test coupon, or after, at least 0.
    detection_limit : array_like, optional
        Smallest count that can be told from none, above 0; needed when a test count is 0.

    Returns
    -------
    CensoredReduction
        log10 of the ratio [-] (99 % is 2), and whether it is only a lower limit; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range, a count of 0 without a limit, or a reference below the limit.

    Source: `reduction_definitions`.

    >>> found = log10_reduction(4.0e5, [1.0e4, 0], detection_limit=10)
    >>> found.log10.round(3).tolist(), found.is_at_least.tolist()
    ([1.602, 4.602], [False, True])
    """
    top, bottom, is_below = _counts(reference, test, detection_limit)
    found = np.log10(top / bottom)
    return CensoredReduction(plain(found), plain(is_below | np.zeros(found.shape, dtype=bool)))


@formula(
    "LR = mean log10 N reference − mean log10 N test, of coupons; before and after: mean of their own differences",
    source="reduction_definitions welch_satterthwaite",
    holds_when="coupons independent; with a count below the limit the mean is only a lower limit and has no interval",
    library="scipy.stats.t",
)
def log_reduction(
    reference: ArrayLike,
    test: ArrayLike,
    *,
    detection_limit: float | None = None,
    comparison: str = AGAINST_CONTROL,
    confidence: float = 0.95,
) -> LogReduction:
    """Mean log reduction of coupons, against a control or before and after.

    Parameters
    ----------
    reference, test : array_like
        One count a coupon: control and test, or the same coupons before and after in the same order.
    detection_limit : float, optional
        As in `log10_reduction`.
    comparison : str
        "against control" or "before and after": stated with the result.
    confidence : float
        Two-sided confidence of the interval [-].

    Returns
    -------
    LogReduction
        With `is_at_least` when any test count lies below the limit. Negative where there is more than before. No
        interval for a lower limit, one coupon, or coupons without spread.

    Raises
    ------
    ValueError
        As in `log10_reduction`; also for no coupon, NaN, unequal numbers of coupons before and after.

    Source: `reduction_definitions`, `welch_satterthwaite`.

    >>> log_reduction(4.0e5, 1.0e4).sentence
    'log10 reduction against control: 1.60 (97.5 %)'
    """
    if comparison not in COMPARISONS:
        raise ValueError(f"comparison is {' or '.join(COMPARISONS)}, not {comparison!r}")
    if np.ndim(detection_limit) > 0:
        raise ValueError(f"one detection limit is needed, not an array of shape {np.shape(detection_limit)}")
    top, bottom = (np.atleast_1d(np.asarray(counts, dtype=float)).ravel() for counts in (reference, test))
    if not (top.size and bottom.size) or np.isnan(top).any() or np.isnan(bottom).any():
        raise ValueError("each side needs one count a coupon, none of them NaN")
    if comparison == BEFORE_AFTER and top.size != bottom.size:
        raise ValueError(f"{top.size} coupons before and {bottom.size} after: the same coupons are needed")
    _, raised, is_below = _counts(top, bottom, detection_limit)
    if comparison == BEFORE_AFTER:
        value, u, low, high = _paired(np.log10(top / raised), confidence)
    else:
        value, u, low, high = _two_groups(top, raised, confidence)
    is_at_least = bool(is_below.any())
    if is_at_least:
        u = low = high = None
    return LogReduction(
        value, is_at_least, 100 * (1 - 10**-value), u, low, high, confidence, comparison,
        top.size, bottom.size, int(is_below.sum()), _sentence(value, is_at_least, comparison),
    )  # fmt: skip


def _sentence(value: float, is_at_least: bool, comparison: str) -> str:
    """Result in words: as many nines as the logarithm has, and a lower limit never rounded up."""
    decimals = min(13, max(1, math.ceil(value - 2 - 1e-9) + 1))
    numbers, at_least = [(value, 2), (100 * (1 - 10**-value), decimals)], ""
    if is_at_least:
        at_least = "at least "
        numbers = [(math.floor(number * 10**digits + 1e-6) / 10**digits, digits) for number, digits in numbers]
    (log10, _), (percent, _) = numbers
    share = f"{percent:.{decimals}f}".rstrip("0").rstrip(".")
    return f"log10 reduction {comparison}: {at_least}{log10:.2f} ({at_least}{share} %)"


def _two_groups(top: np.ndarray, bottom: np.ndarray, confidence: float) -> tuple[float, *_Interval]:
    from scipy.stats import t

    ratio = log_ratio(top, bottom, confidence)
    u = None if ratio.u_ln is None else float(ratio.u_ln / np.log(10))
    if ratio.degrees_of_freedom is None:
        return ratio.log10, u, None, None
    reach = float(t.ppf((1 + confidence) / 2, ratio.degrees_of_freedom)) * u
    return ratio.log10, u, ratio.log10 - reach, ratio.log10 + reach


def _counts(
    reference: ArrayLike, test: ArrayLike, limit: ArrayLike | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Reference and test counts, the latter raised to the detection limit, and where that was needed."""
    top = within("count of the reference", reference, above=0)
    bottom = within("count of the test", test, at_least=0)
    if limit is None:
        if (bottom == 0).any():
            raise ValueError("a count of 0 needs a detection limit: it says only that less was there than can be found")
        return top, bottom, np.zeros(bottom.shape, dtype=bool)
    smallest = within("detection limit", limit, above=0, has_nan=False)
    if (top < smallest).any():
        raise ValueError(f"the reference lies below the detection limit {limit}: no reduction can be stated")
    return top, np.where(bottom < smallest, smallest, bottom), np.asarray(bottom < smallest)


def _paired(differences: np.ndarray, confidence: float) -> tuple[float, *_Interval]:
    from scipy.stats import t

    within("confidence", confidence, above=0, below=1, has_nan=False)
    value, size = float(differences.mean()), differences.size
    if size < 2:
        return value, None, None, None
    u = float(differences.std(ddof=1)) / size**0.5
    if u < 1e-14 * max(1.0, abs(value)):  # nothing but round-off
        return value, 0.0, None, None
    reach = float(t.ppf((1 + confidence) / 2, size - 1)) * u
    return value, u, value - reach, value + reach
