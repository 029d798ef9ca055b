"""Values that live in a range: contact angles in 0 to 180°, sliding angles in 0 to 90°, hysteresis from 0.

Near an end of the range a normal interval promises the impossible. There the values are looked at on a scale
without ends (logit between two, logarithm above one), and what is then reported is a median, which is said.
Angles of this kind are bounded, not periodic; for true directions see `directions`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.replication import finite, require_share
from analysis.statistics.tolerance import tolerance_factor_one_sided, tolerance_factor_two_sided

IDENTITY, LOG, LOGIT = "as measured", "logarithm", "logit"
ARITHMETIC = "arithmetic mean"
MEDIAN = "median: the mean on the transformed scale, transformed back"
INTERVAL, PREDICTION, TOLERANCE = "interval", "prediction", "tolerance"
JUDGED = {INTERVAL: 2, PREDICTION: 4, TOLERANCE: 8}  # how many of the limits, in their order
RULE_INSIDE = "the normal limits up to the {} stay inside the range"
RULE_LEAVES = "the normal {} would leave the range"
RULE_ON_END = "a value lies on the end of the range, which the transformed scale does not have: limits cut at the range"
RULE_CALLER = "chosen by the caller"
RULE_ONE = "one value: no spread to judge by"


@dataclass(frozen=True, slots=True)
class BoundedInterval:
    """Centre of independent values in a range, with limits that never leave it; None with one value."""

    centre: float
    low: float | None  # confidence interval of the centre
    high: float | None
    mean_kind: str  # which mean the centre is
    scale: str  # "as measured", "logarithm" or "logit"
    rule: str  # why that scale
    prediction_low: float | None  # where one more value is expected
    prediction_high: float | None
    tolerance_low: float | None  # two-sided: hold the share `coverage` of all values
    tolerance_high: float | None
    lower_limit: float | None  # one-sided tolerance limits
    upper_limit: float | None
    arithmetic_mean: float
    sd: float | None  # on the scale used
    n: int
    confidence: float
    coverage: float


@dataclass(frozen=True, slots=True)
class AngleMeans:
    """Two means of contact angles that are not the same."""

    mean_deg: float
    mean_cosine: float
    angle_of_mean_cosine_deg: float
    n: int


@formula(
    "y = ln[(x − a)/(b − x)] or ln(x − a);  x = (a + b·eʸ)/(1 + eʸ) or a + eʸ;  ȳ ± t·s/√n, ȳ ± t·s√(1 + 1/n), ȳ ± k·s",
    source="common_practice iso_16269_6",
    holds_when="independent values (coupons, not drops), normal on the scale that is used",
)
def bounded_interval(
    values: Sequence[float],
    low: float = 0.0,
    high: float = math.inf,
    confidence: float = 0.95,
    coverage: float = 0.95,
    scale: str | None = None,
    judged_by: str = TOLERANCE,
) -> BoundedInterval:
    """Centre, interval, prediction and tolerance limits of values in a range, on the scale that keeps them inside.

    Parameters
    ----------
    values : sequence of float
        One value a coupon, any unit, between `low` and `high`.
    low, high : float
        Ends of the range: 0 and 180 for contact angles, 0 and 90 for sliding angles, 0 and infinity for hysteresis
        [the unit of the values].
    confidence : float
        Two-sided confidence of interval and prediction, and the confidence of the tolerance limits [-].
    coverage : float
        Share that the tolerance limits are to hold [-].
    scale : str, optional
        "as measured", "logarithm" or "logit" to fix the scale. Left out: as measured, if the normal limits that it
        is judged by stay inside the range, else the transformed one.
    judged_by : str
        "interval" (of the mean alone), "prediction" (and where one more value is expected) or "tolerance" (and the
        tolerance limits): what is going to be used. Other limits are cut at the range.

    Returns
    -------
    BoundedInterval
        `mean_kind` says which mean the centre is: on a transformed scale it is the median, not the arithmetic mean,
        which stands beside it. With a value on an end of the range there is no transformed scale: limits are cut at
        the range and `rule` says so. With one value there are no limits.

    Raises
    ------
    ValueError
        For no values, NaN, a value outside the range, an empty range, a scale that does not fit the range (or a
        value on its end), or a confidence or coverage outside 0 to 1.

    Source: `common_practice` for the rule, `iso_16269_6` for the tolerance factors.

    >>> found = bounded_interval([0.4, 0.6, 0.9, 1.1, 1.5, 2.2, 3.9, 6.3])
    >>> found.scale, round(found.centre, 3), round(found.low, 3), round(found.high, 3)
    ('logarithm', 1.447, 0.665, 3.149)
    """
    numbers = finite(values)
    require_share("confidence", confidence)
    require_share("coverage", coverage)
    if not (math.isfinite(low) and low < high):
        raise ValueError(f"a range needs a finite lower end below the upper one, not {low} to {high}")
    within("value", numbers, at_least=low, at_most=None if math.isinf(high) else high)
    transformed = LOG if math.isinf(high) else LOGIT
    is_on_end = bool(np.any((numbers == low) | (numbers == high)))
    if scale not in (None, IDENTITY, transformed):
        raise ValueError(f"scale of a range from {low:g} to {high:g} is {IDENTITY} or {transformed}, not {scale!r}")
    if scale == transformed and is_on_end:
        raise ValueError(f"a value on the end of the range has no {transformed}")
    if judged_by not in JUDGED:
        raise ValueError(f"a scale is judged by {', '.join(JUDGED)}, not {judged_by!r}")
    if scale is None:
        leaving = _leaving(numbers, (low, high), (confidence, coverage), judged_by)
        scale = transformed if leaving and not is_on_end else IDENTITY
        rule = RULE_ONE if numbers.size == 1 else RULE_INSIDE.format(judged_by)
        if leaving:
            rule = RULE_ON_END if is_on_end else RULE_LEAVES.format(leaving)
    else:
        rule = RULE_CALLER
    centre, limits, sd = _limits(_forward(numbers, low, high, scale), confidence, coverage)
    back = [None if end is None else _back(end, low, high, scale) for end in (centre, *limits)]
    kind = ARITHMETIC if scale == IDENTITY else MEDIAN
    mean = float(numbers.mean())
    return BoundedInterval(
        mean if scale == IDENTITY else back[0], *back[1:3], kind, scale, rule, *back[3:], mean, sd, numbers.size,
        confidence, coverage,
    )  # fmt: skip


@formula(
    "θ̄ = Σθᵢ/n;  c̄ = Σcos θᵢ/n, arccos c̄",
    source="common_practice",
    holds_when="angles of one surface; the two differ by about s²/(2·tan θ̄), and most near 0° and 180°",
)
def angle_means(angles_deg: Sequence[float]) -> AngleMeans:
    """Mean angle and the angle of the mean cosine, which are not the same: a report says which one it gives.

    Parameters
    ----------
    angles_deg : sequence of float
        Contact angles [deg], 0 to 180.

    Returns
    -------
    AngleMeans
        The mean cosine is what wetting equations average; its angle lies nearer 90° than the mean angle.

    Raises
    ------
    ValueError
        For no angles, NaN, or an angle outside 0 to 180.

    Source: `common_practice`.

    >>> means = angle_means([171.2, 172.8, 174.5, 175.1, 176.9, 177.8, 178.4, 179.1])
    >>> round(means.mean_deg, 3), round(means.angle_of_mean_cosine_deg, 3)
    (175.725, 174.985)
    """
    angles = within("contact angle", finite(angles_deg), "deg", at_least=0, at_most=180)
    cosine = float(np.cos(np.radians(angles)).mean())
    angle = math.degrees(math.acos(min(max(cosine, -1.0), 1.0)))
    return AngleMeans(float(angles.mean()), cosine, angle, angles.size)


@formula(
    "u(cos θ) = |sin θ|·u(θ)",
    source="gum",
    holds_when="u(θ) small against the distance from 0° and 180°, where this first-order value vanishes",
)
def cosine_uncertainty(angle_deg: ArrayLike, uncertainty_deg: ArrayLike) -> float | np.ndarray:
    """Standard uncertainty of the cosine of a contact angle, which vanishes at 0° and 180°.

    Parameters
    ----------
    angle_deg : float or array_like
        Contact angle [deg], 0 to 180; NaN stays NaN.
    uncertainty_deg : float or array_like
        Its standard uncertainty [deg], at least 0.

    Returns
    -------
    float or numpy.ndarray
        Standard uncertainty [-] to first order.

    Raises
    ------
    ValueError
        For an angle outside 0 to 180 or a negative uncertainty.

    Source: `gum`.

    >>> round(cosine_uncertainty(90.0, 1.0), 6)
    0.017453
    """
    angle = within("contact angle", angle_deg, "deg", at_least=0, at_most=180)
    uncertainty = within("uncertainty", uncertainty_deg, "deg", at_least=0)
    slope = np.where(angle == 180, 0.0, np.sin(np.radians(angle)))  # sin π is not exactly 0 in binary numbers
    return plain(slope * np.radians(uncertainty))


def _leaving(numbers: np.ndarray, ends: tuple, shares: tuple, judged_by: str) -> str:
    """Name of the first normal limit that lies outside the range, or an empty string."""
    if numbers.size == 1:
        return ""
    _, limits, _ = _limits(numbers, *shares)
    names = (INTERVAL,) * 2 + (PREDICTION,) * 2 + (f"{TOLERANCE} limit",) * 4
    judged = list(zip(names, limits, strict=True))[: JUDGED[judged_by]]
    return next((name for name, limit in judged if not ends[0] <= limit <= ends[1]), "")


def _limits(y: np.ndarray, confidence: float, coverage: float) -> tuple[float, list[float | None], float | None]:
    """Mean; ends of interval, prediction and tolerance interval, lower and upper tolerance limit; sd."""
    mean, n = float(y.mean()), y.size
    if n == 1:
        return mean, [None] * 8, None
    from scipy.special import stdtrit

    sd = float(np.std(y - y[0], ddof=1))
    t = float(stdtrit(n - 1, (1 + confidence) / 2))
    one_sided = tolerance_factor_one_sided(n, coverage, confidence)
    factors = t / math.sqrt(n), t * math.sqrt(1 + 1 / n), tolerance_factor_two_sided(n, coverage, confidence), one_sided
    return mean, [mean + sign * factor * sd for factor in factors for sign in (-1, 1)], sd


def _forward(numbers: np.ndarray, low: float, high: float, scale: str) -> np.ndarray:
    if scale == IDENTITY:
        return numbers
    return np.log(numbers - low) - (0.0 if scale == LOG else np.log(high - numbers))


def _back(y: float, low: float, high: float, scale: str) -> float:
    """On the scale of the values; as measured: cut at the range."""
    if scale == IDENTITY:
        return min(max(y, low), high)
    if scale == LOG:
        return low + math.exp(min(y, 700.0))
    share = 1 / (1 + math.exp(-y)) if y > 0 else math.exp(y) / (1 + math.exp(y))
    return min(max(low + (high - low) * share, low), high)
