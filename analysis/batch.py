"""A batch: one value a coupon, then the coupons to a mean with its interval.

Runs are put together only when role, method, liquid, drop volume and dose are the same; nothing is pooled
across these. The coupon is the unit of replication: intervals rest on coupon values, never on pooled drops.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from analysis.coupon_interval import STUDENT, coupon_interval, in_range
from analysis.coupon_values import (
    LEAST,
    Observed,
    coupon_mean,
    coupon_median,
    fit_over_coupons,
    is_usable,
    observed_by_coupon,
    one_a_coupon,
    retained_share,
)
from analysis.method import Derived
from analysis.methods import METHODS
from analysis.quantities import QUANTITIES, Quantity
from analysis.records import LOST, BatchGroup, BatchResult, CouponValue, Run, Statistic
from analysis.statistics.censoring import censored_normal_fit, proportion_lower_bound, proportion_upper_bound
from analysis.statistics.replication import variance_components

CONFIDENCE = 0.95
MEAN, MEDIAN, NOT_MOVED_COUNT = "mean", "median", "not_moved"


def analyse_batch(runs: Sequence[Run]) -> BatchResult:
    """Reduce the runs of a batch to coupon values and batch statistics.

    Parameters
    ----------
    runs : sequence of Run
        Runs of any coupons, methods, liquids, volumes and doses.

    Returns
    -------
    BatchResult
        One group for each role, method, liquid, drop volume and dose, in order of first appearance. Statistic
        keys are the quantity with _mean and _median (mean of coupon values with the t interval over coupons),
        _between_sd, _within_sd and, where drops can stay, _not_moved (count), _not_moved_share [%] with its
        exact bound, _censored_drops (point estimate) and _censored_coupons. Excluded and lost readings are
        counted and enter nothing.

    Raises
    ------
    ValueError
        For a reading that is NaN or infinite, or not moved without its stage limit.

    Source: `hurlbert_1984`, `searle_1992`, `clopper_pearson_1934`, `schmee_hahn_1979`.

    >>> from analysis.records import Reading
    >>> run = Run("R1", "C1", "mass", (Reading("lubricant_mass", 18.4),))
    >>> analyse_batch([run]).groups[0].statistic("lubricant_mass_mean").value
    18.4
    """
    grouped: dict[tuple, list[Run]] = {}
    for run in runs:
        grouped.setdefault(group_key(run), []).append(run)
    return BatchResult(tuple(_group(key, members, runs) for key, members in grouped.items()))


def group_key(run: Run) -> tuple:
    """What two runs must share before their coupons stand side by side; fresh is fresh, whatever follows."""
    liquid = run.liquid.code if run.liquid else ""
    volume = None if run.drop_volume_ul is None else float(run.drop_volume_ul)
    dose = (float(run.dose), run.dose_kind, run.exposure) if run.dose else (0.0, "", "")
    return run.role, run.method, liquid, volume, *dose


def _group(key: tuple, members: list[Run], all_runs: Sequence[Run]) -> BatchGroup:
    coupons = tuple(dict.fromkeys(run.coupon for run in members))
    role = key[0]
    statistics: list[Statistic] = []
    values: dict[str, tuple[CouponValue, ...]] = {}
    read = {run.coupon for run in members if any(map(is_usable, run.readings))}
    for quantity_key, seen in observed_by_coupon(members, _derived(key[1])).items():
        quantity, seen = QUANTITIES[quantity_key], {code: seen.get(code, Observed()) for code in coupons}
        for name, reduce in ((MEAN, coupon_mean), (MEDIAN, coupon_median)):
            with_drops = name == MEAN and any(any(item.not_moved) for item in seen.values())
            values[f"{quantity.key}_{name}"] = one_a_coupon(role, seen, reduce, read, with_drops)
            statistics.append(_over_coupons(quantity, name, values[f"{quantity.key}_{name}"], _versions(members)))
        statistics += _spread(quantity, seen)
        if _can_stay(key[1], quantity.key, seen):
            values[f"{quantity.key}_{NOT_MOVED_COUNT}"] = one_a_coupon(role, seen, _count_not_moved, read)
            statistics += _not_moved(quantity, seen)
            statistics += _censored_fits(quantity, seen, values[f"{quantity.key}_{MEDIAN}"])
    baseline = _add_retained_share(members, all_runs, role, coupons, statistics, values)
    readings = [reading for run in members for reading in run.readings]
    return BatchGroup(
        "|".join("" if part is None else str(part) for part in key),
        *key,
        coupons,
        tuple(statistics),
        values,
        runs=tuple(run.code for run in members),
        baseline_runs=baseline,
        n_readings=len(readings),
        n_excluded=sum(reading.excluded for reading in readings),
        n_lost=sum(reading.qualifier == LOST and not reading.excluded for reading in readings),
    )


def _derived(method_key: str) -> tuple[Derived, ...]:
    return METHODS[method_key].derived if method_key in METHODS else ()


def _versions(runs: Sequence[Run]) -> str:
    """Settings of a method may differ between its versions; where coupons of several stand together, it is said."""
    versions = sorted({run.method_version for run in runs if run.method_version})
    return f"read with versions {', '.join(versions)} of the method's settings" if len(versions) > 1 else ""


def _count_not_moved(observed: Observed) -> float | None:
    return sum(observed.not_moved) if observed.values else None


def _over_coupons(quantity: Quantity, name: str, values: Sequence[CouponValue], note="") -> Statistic:
    """Mean of the coupon values with its interval, or the reason why there is none."""
    known = [item.value for item in values if item.value is not None]
    unknown = [item for item in values if item.value is None and not item.drops]
    facts = {
        "key": f"{quantity.key}_{name}",
        "label": f"{quantity.title}, mean of coupon {name}s",
        "unit": quantity.unit,
        "decimals": quantity.decimals,
        "n_coupons": len(values) - len(unknown),
        "n_drops": sum(item.n_drops for item in values),
        "source": "nist_handbook_1_3_5_2",
        "formulas": (STUDENT,),
    }
    unread = [item.coupon for item in unknown if not item.is_unknown]
    notes = [note] if note else []
    notes += [f"no usable reading: {', '.join(unread)}"] if unread else []
    if len(unknown) > len(unread):
        named = ", ".join(item.coupon for item in unknown if item.is_unknown)
        return Statistic(value=None, note="; ".join([*notes, f"no value can be given for: {named}"]), **facts)
    if len(unknown) == len(values):
        return Statistic(value=None, note="; ".join(notes), **facts)
    beyond = sum(math.isinf(value) for value in known)
    if beyond:
        notes.append(f"{beyond} of {len(known)} coupon {name}s lie beyond the {quantity.limit}: no finite mean")
        return Statistic(value=math.inf, note="; ".join(notes), **facts)
    interval = coupon_interval(values, quantity, CONFIDENCE)
    facts["formulas"] = (interval.formula,)
    notes += [interval.how] if interval.how else []
    notes += ["one coupon: no interval"] if interval.n == 1 else []
    gone = sum(item.n_on_placing for item in values)
    how = "rank below all others" if name == MEDIAN else f"count as {LEAST}, the least a sliding angle can be"
    notes += [f"{gone} drops that moved on placing {how}"] if gone else []
    return Statistic(
        value=interval.mean,
        low=interval.low,
        high=interval.high,
        confidence=CONFIDENCE if interval.low is not None or interval.high is not None else None,
        note="; ".join(notes),
        **facts,
    )


def _spread(quantity: Quantity, seen: Mapping[str, Observed]) -> list[Statistic]:
    drops = {code: item.values for code, item in seen.items() if item.values}
    between = within = None
    if not drops:
        note = "no usable reading"
    elif any(item.is_censored for item in seen.values()):
        note = "not given: some drops are only known to lie beyond a limit"
    else:
        parts = variance_components(drops)
        between, within, note = parts.between_sd, parts.within_sd, parts.note
    n_drops = sum(len(values) for values in drops.values())
    return [
        Statistic(
            key=f"{quantity.key}_{key}",
            label=f"{quantity.title}, SD {words}",
            unit=quantity.unit,
            value=value,
            decimals=quantity.decimals,
            n_coupons=len(drops),
            n_drops=n_drops,
            note=note,
            source="searle_1992",
            formulas=("statistics.replication.variance_components",),
        )
        for key, words, value in (
            ("between_sd", "between coupons", between),
            ("within_sd", "within a coupon", within),
        )
    ]


def _can_stay(method_key: str, quantity_key: str, seen: Mapping[str, Observed]) -> bool:
    method = METHODS.get(method_key)
    kind = method.reading(quantity_key) if method else None
    return bool(kind and kind.can_be_not_moved) or any(any(item.not_moved) for item in seen.values())


def _not_moved(quantity: Quantity, seen: Mapping[str, Observed]) -> list[Statistic]:
    count = sum(sum(item.not_moved) for item in seen.values())
    total = sum(len(item.values) for item in seen.values())
    if not total:
        return []
    side, find = ("lower", proportion_lower_bound) if count == total else ("upper", proportion_upper_bound)
    bound = 100 * find(count, total, CONFIDENCE)  # where all stayed, only the bound from below says anything
    facts = {
        "n_coupons": sum(bool(item.values) for item in seen.values()),
        "n_drops": total,
        "note": f"{count} of {total} {quantity.beyond}; exact one-sided {100 * CONFIDENCE:.0f} % {side} bound "
        f"{bound:.1f} %, too narrow where drops of one coupon are alike",
        "source": "clopper_pearson_1934",
        "formulas": (f"statistics.proportions.proportion_{side}_bound",),
    }
    return [
        Statistic(
            f"{quantity.key}_not_moved",
            f"{quantity.title}, {quantity.beyond}",
            "",
            count,
            decimals=0,
            **facts,
        ),
        Statistic(
            f"{quantity.key}_not_moved_share",
            f"{quantity.title}, share {quantity.beyond}",
            "%",
            100 * count / total,
            low=bound if side == "lower" else None,
            high=bound if side == "upper" else None,
            confidence=CONFIDENCE,
            **facts,
        ),
    ]


def _censored_fits(quantity: Quantity, seen: Mapping[str, Observed], medians) -> list[Statistic]:
    """Fits that keep the censored drops: over all drops without an interval, over coupons with one."""
    if not any(item.is_censored for item in seen.values()):
        return []
    everything = Observed()
    for item in seen.values():
        everything.values += item.values
        everything.not_moved += item.not_moved
        everything.on_placing += item.on_placing
    drops = censored_normal_fit(everything.values, everything.not_moved, everything.on_placing, CONFIDENCE)
    note = drops.note or "all drops together, so no interval: drops of one coupon are not independent"
    facts = {
        "unit": quantity.unit,
        "decimals": quantity.decimals,
        "n_coupons": sum(bool(item.values) for item in seen.values()),
        "n_drops": len(everything.values),
        "source": "schmee_hahn_1979",
        "formulas": ("statistics.censoring.censored_normal_fit",),
    }
    label = f"{quantity.title}, mean of a censored normal distribution over"
    mean = in_range(drops.mu, quantity)
    fits = [Statistic(f"{quantity.key}_censored_drops", f"{label} drops", value=mean, note=note, **facts)]
    coupons = fit_over_coupons(medians, CONFIDENCE)
    if coupons is not None:
        fits.append(
            Statistic(
                f"{quantity.key}_censored_coupons",
                f"{label} coupon medians",
                value=in_range(coupons.mu, quantity),
                low=in_range(coupons.low, quantity),
                high=in_range(coupons.high, quantity),
                confidence=CONFIDENCE if coupons.is_fitted else None,
                note=coupons.note or "profile likelihood interval",
                **facts,
            )
        )
    return fits


def _add_retained_share(members, all_runs, role, coupons, statistics, values) -> tuple[str, ...]:
    """Lubricant left after a dose: mass as a share of the same coupon's own mass at dose 0."""
    after = observed_by_coupon(members).get("lubricant_mass", {})
    if not after or not all(run.dose > 0 for run in members):
        return ()
    method = members[0].method
    fresh = [run for run in all_runs if run.dose == 0 and run.method == method and run.coupon in coupons]
    before = observed_by_coupon(fresh).get("lubricant_mass", {})
    shares = tuple(
        CouponValue(code, role, retained_share(after.get(code), before.get(code)), len(after[code].values))
        for code in coupons
        if code in after
    )
    quantity = QUANTITIES["retained_share"]
    note = "of the coupon's own mass at dose 0"
    values[f"{quantity.key}_{MEAN}"] = shares
    statistics.append(_over_coupons(quantity, MEAN, shares, note))
    return tuple(run.code for run in fresh if any(r.quantity == "lubricant_mass" for r in run.readings))
