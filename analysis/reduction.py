"""How the readings of one run become statistics: angles, drop pairs, sliding angles, masses.

The unit of replication is the coupon. A run describes one coupon, so its statistics carry no interval over
drops.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from analysis.formula import formula
from analysis.method import Derived, Method
from analysis.quantities import QUANTITIES
from analysis.records import MEASURED, MOVED_ON_PLACING, NOT_MOVED, Reading, Run, Statistic
from analysis.statistics.censoring import (
    censored_lognormal_fit,
    median_with_censoring,
    proportion_upper_bound,
)
from analysis.statistics.moments import sample_sd, stable_mean
from analysis.wetting.hysteresis import PAIR_QUANTITIES, drop_pairs

MEAN, SD = "statistics.moments.stable_mean", "statistics.moments.sample_sd"
MEDIAN, FITTED = "statistics.censoring.median_with_censoring", "statistics.censoring.censored_lognormal_fit"
BOUND = "statistics.proportions.proportion_upper_bound"
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


def paired_values(run: Run, *quantities: str) -> list[tuple[float, ...]]:
    """The measured values of several quantities read at the same place, for the places where all of them count."""
    places = [{(item.position, item.drop, item.direction): item.value for item in readings_of(run, name)}
              for name in quantities]  # fmt: skip
    return [tuple(found[place] for found in places) for place in places[0] if all(place in found for found in places)]


def used_pairs(run: Run) -> list[dict]:
    """The drop pairs that count: neither of the two angles excluded."""
    return [pair for pair in drop_pairs(run) if not pair["excluded"]]


def describe(quantity: str, values: Sequence[float], derived_by: str = "") -> tuple[Statistic, ...]:
    """Mean, standard deviation, smallest and largest of the values of one coupon.

    Parameters
    ----------
    quantity : str
        Key of `analysis.quantities`: label, unit and decimals come from there.
    values : sequence of float
        One a drop, in the unit of the quantity.
    derived_by : str
        Key of the formula that the values come from; empty for readings.

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
    count, sd = len(values), sample_sd(values) if len(values) > 1 else None
    first = (derived_by,) if derived_by else ()
    spread = "over the drops of this coupon" if count > 1 else "one value only"
    return (
        _statistic(quantity, "mean", stable_mean(values), count, COUPON_NOTE, formulas=(*first, MEAN)),
        _statistic(quantity, "sd", sd, count, spread, formulas=(*first, SD)),
        _statistic(quantity, "smallest", min(values), count, formulas=first),
        _statistic(quantity, "largest", max(values), count, formulas=first),
    )


def reduce_readings(run: Run, method: Method) -> tuple[tuple[Statistic, ...], tuple[dict, ...]]:
    """Statistics of everything that a method reads and of what follows from it, and the drop pairs.

    Parameters
    ----------
    run : Run
        Readings of one coupon.
    method : Method
        Its declaration: what is read, what may stay beyond a limit, what is derived.

    Returns
    -------
    tuple
        Statistics in the order of the declaration, and one row a drop pair where two angles form one. A
        quantity that may stay beyond its limit is described by its median, the others by their mean.

    Source: `hurlbert_1984` (no interval over the drops of one coupon).

    >>> from analysis.methods import METHODS
    >>> run = Run("R1", "C1", "static_angle", (Reading("static_angle", 110.0), Reading("static_angle", 112.0, drop=2)))
    >>> reduce_readings(run, METHODS["static_angle"])[0][0].value
    111.0
    """
    found: list[Statistic] = []
    for kind in method.readings:
        censored = kind.can_be_not_moved or kind.can_move_on_placing
        found += (
            reduce_censored(run, kind.quantity) if censored else describe(kind.quantity, values_of(run, kind.quantity))
        )
    for derived in method.derived:
        if derived.beyond:
            values, beyond = derived.values(run), derived.beyond(run)
            found += describe_censored(derived.quantity, values, beyond, derived_by=derived.formula_of(run))
        else:
            found += describe(derived.quantity, derived.values(run), derived.formula_of(run))
    return tuple(found), drop_pairs(run) if method.pair else ()


def pair_values(quantity: str) -> Callable[[Run], list[float]]:
    """How a quantity of the drop pairs is taken from a run: one value for each pair that counts."""

    def values(run: Run) -> list[float]:
        return [pair[quantity] for pair in used_pairs(run) if pair[quantity] is not None]

    return values


_NEEDS = ("advancing_angle", "receding_angle")
PAIRS = tuple(
    Derived(
        key,
        pair_values(key),
        f"wetting.hysteresis.{key}",
        (*_NEEDS, "liquid.surface_tension") if key == "retention_per_width" else _NEEDS,
    )
    for key in PAIR_QUANTITIES
)


def reduce_censored(run: Run, quantity: str) -> tuple[Statistic, ...]:
    """Statistics of readings that may stay beyond a limit: those that did are kept as right-censored."""
    readings = readings_of(run, quantity, MEASURED, NOT_MOVED, MOVED_ON_PLACING)
    values = [reading.value for reading in readings]
    stuck = [reading.qualifier == NOT_MOVED for reading in readings]
    gone = [reading.qualifier == MOVED_ON_PLACING for reading in readings]
    return describe_censored(quantity, values, stuck, gone)


def describe_censored(
    quantity: str, values: Sequence[float], stuck: Sequence[bool], gone: Sequence[bool] = (), derived_by: str = ""
) -> tuple[Statistic, ...]:
    """Median, share beyond the limit, range and fitted median of the values of one coupon.

    Parameters
    ----------
    quantity : str
        Key of `analysis.quantities`.
    values : sequence of float
        One a drop, in the unit of the quantity; the limit itself where it was passed.
    stuck, gone : sequence of bool
        Whether a value is only known to lie above, or below, what stands for it.
    derived_by : str
        Key of the formula that the values come from; empty for readings.

    Returns
    -------
    tuple of Statistic
        No values give no statistics.

    Source: `hewett_ganser_2007`, `clopper_pearson_1934`, `schmee_hahn_1979`.

    >>> [item.value for item in describe_censored("sliding_angle", [4.0, 6.0, 30.0], [False, False, True])][:2]
    [6.0, 1]
    """
    if not values:
        return ()
    gone = gone or [False] * len(values)
    first = (derived_by,) if derived_by else ()
    found = [_median(quantity, values, stuck, gone), *_not_moved(quantity, sum(stuck), len(values))]
    found.extend(_measured_range(quantity, values, stuck, gone))
    if any(stuck):
        found.append(_fitted_median(quantity, values, stuck, gone))
    return tuple(replace(item, formulas=(*first, *item.formulas)) for item in found)


def masses_per_area(run: Run) -> list[float]:
    """Lubricant volume over the exposed area [uL/cm2]; nothing where density or area are not known."""
    density = run.lubricant.properties.get("density") if run.lubricant else None
    if not (density and run.coupon_area_mm2):
        return []
    return [lubricant_per_area(mass, density.value, run.coupon_area_mm2) for mass in values_of(run, "lubricant_mass")]


@formula("V/A = m/(ρ·A)", source="common_practice", holds_when="the mass is that of the lubricant alone")
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


def _statistic(quantity, kind, value, count, note="", source="", formulas=()):
    known = QUANTITIES[quantity]
    words = {
        "sd": "standard deviation",
        "smallest": "smallest value",
        "largest": "largest value",
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
        formulas=formulas,
    )


def _median(quantity, values, stuck, gone):
    median, known = median_with_censoring(values, stuck, gone), QUANTITIES[quantity]
    note = COUPON_NOTE
    if median is None:
        note = f"readings {known.beyond} ended at limits too far apart: their order cannot be told"
    elif math.isinf(median):
        note = f"beyond the {known.limit}: {sum(stuck)} of {len(values)} {known.beyond}"
    elif any(stuck):
        note = f"{sum(stuck)} of {len(values)} {known.beyond} rank above all others; {COUPON_NOTE}"
    return _statistic(quantity, "median", median, len(values), note, "hewett_ganser_2007", (MEDIAN,))


def _not_moved(quantity, count, total):
    known = QUANTITIES[quantity]
    note = f"{count} of {total} {known.beyond} up to the {known.limit}"
    facts = {"n_coupons": 1, "n_drops": total, "decimals": 0, "source": "clopper_pearson_1934"}
    label = f"{known.title}, {known.beyond}"
    yield Statistic(f"{quantity}_not_moved", label, "", count, note=note, **facts)
    yield Statistic(
        f"{quantity}_not_moved_bound",
        f"{label}, upper bound of the share",
        "%",
        100 * proportion_upper_bound(count, total),
        confidence=0.95,
        note=f"{note}; exact one-sided bound for this coupon, not for the batch",
        formulas=(BOUND,),
        **facts,
    )


def _measured_range(quantity, values, stuck, gone):
    measured = [value for value, *marks in zip(values, stuck, gone, strict=True) if not any(marks)]
    if not measured:
        return
    for kind, value in (("smallest", min(measured)), ("largest", max(measured))):
        yield _statistic(quantity, kind, value, len(measured), "of those that were read")


def _fitted_median(quantity, values, stuck, gone):
    fit = censored_lognormal_fit(values, stuck, gone)
    note = fit.note or f"median of a lognormal distribution, those {QUANTITIES[quantity].beyond} kept as censored"
    value = math.exp(fit.mu) if fit.is_fitted else None
    return _statistic(quantity, "fitted_median", value, len(values), note, "schmee_hahn_1979", (FITTED,))
