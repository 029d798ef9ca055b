"""What one coupon shows: its drops reduced to one value, since the coupon is what is repeated."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from analysis.method import Derived
from analysis.records import LOST, MOVED_ON_PLACING, NOT_MOVED, CouponValue, Reading, Run
from analysis.statistics.censoring import CensoredFit, calibrated_confidence, censored_normal_fit, median_with_censoring
from analysis.statistics.moments import stable_mean

LEAST = "0°"  # what a drop that moved on placing, on a level stage, counts as


@dataclass(slots=True)
class Observed:
    """The usable readings of one quantity on one coupon; a censored one carries its limit."""

    values: list[float] = field(default_factory=list)
    not_moved: list[bool] = field(default_factory=list)
    on_placing: list[bool] = field(default_factory=list)

    def add(self, value: float, qualifier: str = "") -> None:
        self.values.append(value)
        self.not_moved.append(qualifier == NOT_MOVED)
        self.on_placing.append(qualifier == MOVED_ON_PLACING)

    @property
    def stage_limit(self) -> float | None:
        pairs = zip(self.values, self.not_moved, strict=True)
        return min((value for value, is_censored in pairs if is_censored), default=None)

    @property
    def is_censored(self) -> bool:
        """Whether a value is unknown. A drop gone at a tilt of 0 is not: no sliding angle lies below 0."""
        pairs = zip(self.values, self.on_placing, strict=True)
        return any(self.not_moved) or any(gone and value > 0 for value, gone in pairs)


def observed_by_coupon(runs: Iterable[Run], derived: Sequence[Derived] = ()) -> dict[str, dict[str, Observed]]:
    """Usable readings and what the method derives from them: quantity -> coupon -> what was observed."""
    found: dict[str, dict[str, Observed]] = {}
    for run in runs:
        for reading in run.readings:
            observed = found.setdefault(reading.quantity, {}).setdefault(run.coupon, Observed())
            if is_usable(reading):
                observed.add(_known(reading), reading.qualifier)
        for item in derived:
            values = item.values(run)
            beyond = item.beyond(run) if item.beyond else [False] * len(values)
            for value, is_beyond in zip(values, beyond, strict=True):
                observed = found.setdefault(item.quantity, {}).setdefault(run.coupon, Observed())
                observed.add(value, NOT_MOVED if is_beyond else "")
    return found


def is_usable(reading: Reading) -> bool:
    """Whether a reading enters the numbers: neither excluded nor lost."""
    return not reading.excluded and reading.qualifier != LOST


def coupon_mean(observed: Observed) -> float | None:
    """Mean of one coupon's drops.

    Without censored drops the plain mean (a drop gone at a tilt of 0 counts as 0: no sliding angle lies
    below). With some, the mean of the fitted censored normal; `math.inf` when no drop moved; None when it
    cannot be fitted.
    """
    if not observed.values:
        return None
    if not observed.is_censored:
        return stable_mean(observed.values)
    if all(observed.not_moved):
        return math.inf
    return censored_normal_fit(observed.values, observed.not_moved, observed.on_placing).mu


def coupon_median(observed: Observed) -> float | None:
    """Median of one coupon's drops; `math.inf` when it lies beyond the stage limit."""
    if not observed.values:
        return None
    if not any(observed.not_moved) and not any(observed.on_placing):
        return statistics.median(observed.values)
    return median_with_censoring(observed.values, observed.not_moved, observed.on_placing)


def _known(reading: Reading) -> float:
    if reading.value is None or not math.isfinite(reading.value):
        raise ValueError(
            f"{reading.quantity} at position {reading.position}, drop {reading.drop}: {reading.qualifier} "
            f"with the value {reading.value}; a finite number is needed (the stage limit if not moved)"
        )
    return float(reading.value)


def one_a_coupon(
    role: str, seen: Mapping[str, Observed], reduce: Callable, read: Collection[str] = (), with_drops: bool = False
) -> tuple[CouponValue, ...]:
    """One value of each coupon, with what it rests on; `read`: the coupons with any usable reading."""
    return tuple(
        CouponValue(
            code,
            role,
            reduce(item),
            len(item.values),
            sum(item.not_moved),
            item.stage_limit,
            code in read,
            sum(item.on_placing),
            tuple(zip(item.values, item.not_moved, strict=True)) if with_drops else (),
        )
        for code, item in seen.items()
    )


def retained_share(after: Observed | None, before: Observed | None) -> float | None:
    """Lubricant mass after a dose as a share of the same coupon's mass at dose 0 [%]; None without both."""
    if not (after and after.values and before and before.values):
        return None
    at_start = coupon_mean(before)
    return 100 * coupon_mean(after) / at_start if at_start > 0 else None


def fit_over_coupons(values: Sequence[CouponValue], confidence: float) -> CensoredFit | None:
    """Censored normal over coupon values when some lie beyond the stage limit; None when none does."""
    known = [item for item in values if item.value is not None]
    if not any(math.isinf(item.value) for item in known):
        return None
    beyond = [math.isinf(item.value) for item in known]
    numbers = [item.stage_limit if out else item.value for item, out in zip(known, beyond, strict=True)]
    # Calibrated for few coupons: with all values inside the limit it would be Student's t interval.
    return censored_normal_fit(numbers, beyond, confidence=calibrated_confidence(confidence, len(numbers)))
