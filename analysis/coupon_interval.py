"""From one value a coupon to the mean of the batch with its interval, whatever became of the drops.

Three cases, told apart by what was read and never by the outcome: plain values take Student's t; values so near a
physical end that this interval would leave the range take the transformed scale; drops that did not move are kept
as censored, in one likelihood over coupons and drops.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from analysis.quantities import Quantity
from analysis.records import CouponValue
from analysis.statistics.bounded import IDENTITY, INTERVAL, TOLERANCE, bounded_interval
from analysis.statistics.nested_censoring import NestedMean, nested_censored_mean
from analysis.statistics.replication import mean_interval
from analysis.statistics.tolerance import tolerance_limit

STUDENT = "statistics.replication.mean_interval"
TRANSFORMED = "statistics.bounded.bounded_interval"
FACTOR = "statistics.tolerance.tolerance_factor_one_sided"
CENSORED = "statistics.nested_censoring.nested_censored_mean"


@dataclass(frozen=True, slots=True)
class CouponInterval:
    """Mean of a batch with its interval; mean is None where `how` says why it cannot be given."""

    mean: float | None  # infinity, as the ends, where it lies past the upper end of the range
    low: float | None
    high: float | None
    confidence: float
    n: int
    sd: float | None  # over coupons, where the interval rests on it alone
    how: str  # which mean this is, and on which scale; empty for the plain mean of coupon values
    formula: str  # key of analysis.formula


def coupon_interval(values: Sequence[CouponValue], quantity: Quantity, confidence: float = 0.95) -> CouponInterval:
    """Mean over coupons with its interval, the coupon as the unit.

    Parameters
    ----------
    values : sequence of CouponValue
        One a coupon; those without a value are left out (whether that is right is for the caller to say). With
        `drops`, some drops of the batch did not move and the readings themselves are taken.
    quantity : Quantity
        Its bounds are the physical range that no interval leaves.
    confidence : float
        Two-sided [-].

    Returns
    -------
    CouponInterval
        One coupon has a mean and no interval.

    Raises
    ------
    ValueError
        For no coupon with a finite value, when no drop is censored.

    Source: `nist_handbook_1_3_5_2`, `searle_1992`, `schmee_hahn_1979`.

    >>> from analysis.quantities import QUANTITIES
    >>> coupons = [CouponValue(f"C{n}", "treated", value, 5) for n, value in enumerate([2.36, 1.88, 2.32])]
    >>> found = coupon_interval(coupons, QUANTITIES["hysteresis"])
    >>> round(found.mean, 3), round(found.low, 2), round(found.high, 2)
    (2.187, 1.53, 2.85)
    """
    if any(item.drops for item in values):
        return _censored(values, quantity, confidence)
    known = [item.value for item in values if item.value is not None]
    plain = mean_interval(known, confidence)
    least, most = _range(quantity)
    is_inside = plain.low is None or (least <= plain.low and plain.high <= most)
    if is_inside or not all(least <= value <= most for value in known):  # a value out of range is a check's business
        return CouponInterval(plain.mean, plain.low, plain.high, confidence, plain.n, plain.sd, "", STUDENT)
    if math.isinf(least):
        cut = f"interval cut at {most:g} {quantity.unit}, the end of the range".replace(" °", "°")
        return CouponInterval(plain.mean, plain.low, most, confidence, plain.n, plain.sd, cut, STUDENT)
    found = bounded_interval(known, least, most, confidence, judged_by=INTERVAL)
    how = f"{found.mean_kind} ({found.scale} scale): {found.rule}"
    return CouponInterval(found.centre, found.low, found.high, confidence, plain.n, None, how, TRANSFORMED)


def _range(quantity: Quantity) -> tuple[float, float]:
    least = -math.inf if quantity.low is None else quantity.low
    return least, math.inf if quantity.high is None else quantity.high


@lru_cache(maxsize=512)  # pages and reports ask for the same readings again and again
def _fitted(drops: tuple, confidence: float) -> NestedMean:
    return nested_censored_mean({coupon: tuple(zip(*read, strict=True)) for coupon, read in drops}, confidence)


def _censored(values: Sequence[CouponValue], quantity: Quantity, confidence: float) -> CouponInterval:
    found = _fitted(tuple((item.coupon, item.drops) for item in values if item.drops), confidence)
    how = f"maximum likelihood over coupons and drops, those {quantity.beyond} kept as censored"
    if not found.is_fitted:
        how = f"{how}: {found.note}"
        return CouponInterval(None, None, None, confidence, found.n_coupons, None, how, CENSORED)
    mean, low, high = (in_range(end, quantity) for end in (found.mean, found.low, found.high))
    return CouponInterval(mean, low, high, confidence, found.n_coupons, None, how, CENSORED)


def in_range(value: float | None, quantity: Quantity) -> float | None:
    """A number of a normal model, which knows no ends of a range: cut at the lower one; past the upper one, infinity.

    Source: `common_practice`; what would need more than the range offers is beyond it and gets no number.

    >>> from analysis.quantities import QUANTITIES
    >>> in_range(-3.0, QUANTITIES["sliding_angle"]), in_range(134.8, QUANTITIES["sliding_angle"])
    (0, inf)
    """
    if value is None:
        return None
    least, most = _range(quantity)
    return math.inf if value > most else max(value, least)


@dataclass(frozen=True, slots=True)
class CouponTolerance:
    """One-sided tolerance limit over coupons, and the bound of the same quantile from the other side."""

    limit: float
    other: float
    how: str
    formulas: tuple[str, ...]


def coupon_tolerance(
    known: Sequence[float], quantity: Quantity, coverage: float, confidence: float, side: str
) -> CouponTolerance:
    """Limit that a share of all coupons stays below (or above), with its confidence, inside the physical range.

    Parameters
    ----------
    known : sequence of float
        One value a coupon, at least two.
    quantity : Quantity
        Its bounds are the physical range.
    coverage, confidence : float
        Share of coupons, and how surely [-].
    side : str
        "upper" or "lower".

    Returns
    -------
    CouponTolerance
        As measured where the normal limits stay inside the range, else on the transformed scale.

    Raises
    ------
    ValueError
        As in `analysis.statistics.tolerance.tolerance_limit`.

    Source: `nist_handbook_7_2_6_3`, `iso_16269_6`.

    >>> from analysis.quantities import QUANTITIES
    >>> round(coupon_tolerance([109.0, 110.0, 111.0], QUANTITIES["receding_angle"], 0.9, 0.9, "upper").limit, 2)
    114.26
    """
    least, most = _range(quantity)
    if math.isfinite(least) and all(least < value < most for value in known):
        found = bounded_interval(known, least, most, confidence, coverage, judged_by=TOLERANCE)
        if found.scale != IDENTITY:
            twin = bounded_interval(known, least, most, 1 - confidence, coverage, scale=found.scale)
            limits = [getattr(item, f"{side}_limit") for item in (found, twin)]
            how = f"on the {found.scale} scale, since {found.rule}; {found.n} coupons"
            return CouponTolerance(*limits, how, (FACTOR, TRANSFORMED))
    plain = tolerance_limit(known, coverage, confidence, side)
    other = tolerance_limit(known, coverage, 1 - confidence, side).limit
    numbers = [f"{value:.{quantity.decimals}f}{'' if quantity.unit == '°' else ' '}{quantity.unit}".rstrip()
               for value in (plain.mean, plain.sd)]  # fmt: skip
    how = f"mean {numbers[0]}, SD {numbers[1]}, factor {plain.factor:.3f}, {plain.n} coupons"
    return CouponTolerance(*(min(max(end, least), most) for end in (plain.limit, other)), how, (FACTOR,))
