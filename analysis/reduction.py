"""How the readings of one run become statistics: angles, drop pairs, sliding angles, masses.

The unit of replication is the coupon. A run describes one coupon, so its statistics carry no interval over
drops.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from statistics import fmean, stdev

from analysis.quantities import QUANTITIES
from analysis.records import MEASURED, MOVED_ON_PLACING, NOT_MOVED, Reading, Run, Statistic
from analysis.statistics.censoring import (
    censored_lognormal_fit,
    median_with_censoring,
    proportion_upper_bound,
)
from analysis.wetting.hysteresis import PAIR_QUANTITIES, drop_pairs

COUPON_NOTE = "describes this coupon; intervals belong to the batch, where the coupon is the unit of replication"


def readings_of(run: Run, quantity: str, *qualifiers: str) -> tuple[Reading, ...]:
    """The readings of one quantity that count: not excluded, with a value, of the given qualifiers.

    A value that is no finite number raises ValueError: it would spoil every number silently.
    """
    wanted = qualifiers or (MEASURED,)
    found = tuple(
        reading
        for reading in run.readings
        if reading.quantity == quantity
        and not reading.excluded
        and reading.value is not None
        and reading.qualifier in wanted
    )
    for reading in found:
        if not math.isfinite(reading.value):
            place = f"position {reading.position}, drop {reading.drop}"
            raise ValueError(f"{quantity} at {place} is not a finite number: {reading.value}")
    return found


def values_of(run: Run, quantity: str) -> list[float]:
    """The measured values of one quantity that count, in the order of the readings."""
    return [reading.value for reading in readings_of(run, quantity)]


def used_pairs(run: Run) -> list[dict]:
    """The drop pairs that count: neither of the two angles excluded."""
    return [pair for pair in drop_pairs(run) if not pair["excluded"]]


def describe(quantity: str, values: Sequence[float]) -> tuple[Statistic, ...]:
    """Mean, standard deviation, smallest and largest of the values of one coupon.

    Parameters
    ----------
    quantity : str
        Key of `analysis.quantities`: label, unit and decimals come from there.
    values : sequence of float
        One a drop, in the unit of the quantity.

    Returns
    -------
    tuple of Statistic
        Keys <quantity>_mean, _sd, _smallest, _largest; no values give no statistics, one value has no sd.

    Source: `hurlbert_1984` for the missing interval.

    >>> [round(item.value, 3) for item in describe("static_angle", [110.0, 112.0])]
    [111.0, 1.414, 110.0, 112.0]
    """
    if not values:
        return ()
    count, sd = len(values), stdev(values) if len(values) > 1 else None
    spread = "over the drops of this coupon" if count > 1 else "one value only"
    return (
        _statistic(quantity, "mean", fmean(values), count, COUPON_NOTE),
        _statistic(quantity, "sd", sd, count, spread),
        _statistic(quantity, "smallest", min(values), count),
        _statistic(quantity, "largest", max(values), count),
    )


def reduce_angles(run: Run, quantities: Iterable[str]) -> tuple[tuple[Statistic, ...], tuple]:
    """Statistics of each angle as read, without pairs."""
    return tuple(item for quantity in quantities for item in describe(quantity, values_of(run, quantity))), ()


def reduce_pairs(run: Run) -> tuple[tuple[Statistic, ...], tuple]:
    """Statistics of both angles and of the hysteresis of each drop; a drop short of one makes no pair."""
    pairs = drop_pairs(run)
    angles, _ = reduce_angles(run, ("advancing_angle", "receding_angle"))
    found = list(angles)
    for quantity in PAIR_QUANTITIES:
        values = [pair[quantity] for pair in pairs if not pair["excluded"] and pair[quantity] is not None]
        found.extend(describe(quantity, values))
    return tuple(found), pairs


def reduce_sliding(run: Run, quantity: str = "sliding_angle") -> tuple[tuple[Statistic, ...], tuple]:
    """Statistics of sliding angles with drops that never moved kept as right-censored."""
    readings = readings_of(run, quantity, MEASURED, NOT_MOVED, MOVED_ON_PLACING)
    if not readings:
        return (), ()
    values = [reading.value for reading in readings]
    stuck = [reading.qualifier == NOT_MOVED for reading in readings]
    gone = [reading.qualifier == MOVED_ON_PLACING for reading in readings]
    found = [_median(quantity, values, stuck, gone), *_not_moved(quantity, sum(stuck), len(values))]
    found.extend(_measured_range(quantity, values, stuck, gone))
    if any(stuck):
        found.append(_fitted_median(quantity, values, stuck, gone))
    return tuple(found), ()


def reduce_masses(run: Run) -> tuple[tuple[Statistic, ...], tuple]:
    """Lubricant mass of the coupon, and its volume over the exposed area where density and area are known."""
    masses = values_of(run, "lubricant_mass")
    found = list(describe("lubricant_mass", masses))
    density = run.lubricant.properties.get("density") if run.lubricant else None
    if masses and density and run.coupon_area_mm2:
        per_area = [lubricant_per_area(mass, density.value, run.coupon_area_mm2) for mass in masses]
        found.extend(describe("lubricant_per_area", per_area))
    return tuple(found), ()


def lubricant_per_area(mass_mg: float, density: float, area_mm2: float) -> float:
    """Volume of lubricant over the exposed area.

    Parameters
    ----------
    mass_mg : float
        Lubricant mass [mg].
    density : float
        Of the lubricant [kg/m3], above 0.
    area_mm2 : float
        Exposed area [mm2], above 0.

    Returns
    -------
    float
        [uL/cm2]; ten times this is the mean thickness in µm. NaN stays NaN.

    Raises
    ------
    ValueError
        For a density or an area not above 0.

    Source: `common_practice` (mass = density × volume).

    >>> round(10 * lubricant_per_area(12.5, 930, 625), 4)
    21.5054
    """
    if not (density > 0 and area_mm2 > 0):
        raise ValueError(f"density {density} and area {area_mm2} must be above 0")
    return mass_mg / density * 1e3 / (area_mm2 / 100)


def median_of(run: Run, quantity: str) -> float | None:
    """Median over the drops, those that did not move last; None when their order cannot be told."""
    readings = readings_of(run, quantity, MEASURED, NOT_MOVED, MOVED_ON_PLACING)
    return median_with_censoring(
        [reading.value for reading in readings],
        [reading.qualifier == NOT_MOVED for reading in readings],
        [reading.qualifier == MOVED_ON_PLACING for reading in readings],
    )


def _statistic(quantity: str, kind: str, value: float | None, count: int, note: str = "", source: str = ""):
    known = QUANTITIES[quantity]
    words = {
        "sd": "standard deviation",
        "smallest": "smallest drop",
        "largest": "largest drop",
        "fitted_median": "median fitted",
    }
    return Statistic(
        key=f"{quantity}_{kind}",
        label=f"{known.title}, {words.get(kind, kind)}",
        unit=known.unit,
        value=value,
        decimals=known.decimals,
        n_coupons=1,
        n_drops=count,
        note=note,
        source=source,
    )


def _median(quantity, values, stuck, gone):
    median = median_with_censoring(values, stuck, gone)
    note = COUPON_NOTE
    if median is None:
        note = "drops that did not move were stopped at limits too far apart: their order cannot be told"
    elif math.isinf(median):
        note = f"beyond the stage limit: {sum(stuck)} of {len(values)} drops did not move"
    elif any(stuck):
        note = f"{sum(stuck)} of {len(values)} drops that did not move rank above all others; {COUPON_NOTE}"
    return _statistic(quantity, "median", median, len(values), note, "hewett_ganser_2007")


def _not_moved(quantity, count, total):
    note = f"{count} of {total} drops did not move up to the stage limit"
    unit = {"n_coupons": 1, "n_drops": total, "decimals": 0, "source": "clopper_pearson_1934"}
    yield Statistic(f"{quantity}_not_moved", "Drops not moved", "", count, note=note, **unit)
    yield Statistic(
        f"{quantity}_not_moved_bound",
        "Share not moved, upper bound",
        "%",
        100 * proportion_upper_bound(count, total),
        confidence=0.95,
        note=f"{note}; exact one-sided bound for drops on this coupon, not for the batch",
        **unit,
    )


def _measured_range(quantity, values, stuck, gone):
    measured = [value for value, *marks in zip(values, stuck, gone, strict=True) if not any(marks)]
    if not measured:
        return
    for kind, value in (("smallest", min(measured)), ("largest", max(measured))):
        yield _statistic(quantity, kind, value, len(measured), "of the drops whose angle was read")


def _fitted_median(quantity, values, stuck, gone):
    fit = censored_lognormal_fit(values, stuck, gone)
    note = fit.note or "median of a lognormal distribution fitted with the drops that did not move as censored"
    value = math.exp(fit.mu) if fit.is_fitted else None
    return _statistic(quantity, "fitted_median", value, len(values), note, "schmee_hahn_1979")
