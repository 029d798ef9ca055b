"""What the checks ask of a run: its values in order, its mean angle, its liquid."""

from __future__ import annotations

import math
from statistics import fmean

from analysis.method import Derived
from analysis.quantities import QUANTITIES
from analysis.records import MEASURED, MOVED_ON_PLACING, NOT_MOVED, Run
from analysis.reduction import readings_of, used_pairs, values_of
from analysis.wetting.retention import mean_angle_deg


def series(run: Run, of: Derived | str | None = None) -> tuple[str, list[float]]:
    """The quantity that stands for the run and one number a drop, in order; infinity where a drop stayed.

    `of`: the quantity as the method names it, where it reads several; left out: the hysteresis of drop pairs, else
    what was read.
    """
    if isinstance(of, Derived):
        values = of.values(run)
        beyond = of.beyond(run) if of.beyond else [False] * len(values)
        return of.quantity, [math.inf if out else value for value, out in zip(values, beyond, strict=True)]
    pairs = used_pairs(run)
    if pairs and of is None:
        return "hysteresis", [pair["hysteresis"] for pair in pairs]
    for name in [of] if of else dict.fromkeys(reading.quantity for reading in run.readings):
        readings = readings_of(run, name, MEASURED, NOT_MOVED, MOVED_ON_PLACING)
        if readings:
            return name, [math.inf if item.qualifier == NOT_MOVED else item.value for item in readings]
    return "", []


def mean_angles(run: Run) -> tuple[float, float]:
    """Mean advancing and mean receding angle over the drop pairs that count."""
    pairs = used_pairs(run)
    return tuple(fmean(pair[name] for pair in pairs) for name in ("advancing_angle", "receding_angle"))


def mean_angle(run: Run | None) -> float | None:
    """One contact angle for the shape of the resting drop, or None."""
    if run is None:
        return None
    if used_pairs(run):
        return mean_angle_deg(*mean_angles(run))
    angles = values_of(run, "static_angle") or values_of(run, "advancing_angle")
    return fmean(angles) if angles else None


def property_of(run: Run, name: str) -> float | None:
    """A property of the run's own liquid, never of another."""
    known = run.liquid.properties.get(name) if run.liquid else None
    return None if known is None else known.value


def missing(run: Run, *names: str) -> str:
    """Which of the properties the run's liquid lacks, in words; empty when none."""
    lacking = [QUANTITIES[name].title.lower() for name in names if property_of(run, name) is None]
    return f"{' and '.join(lacking)} of the liquid" if lacking else ""


def plus_minus(estimate: tuple[float, float]) -> str:
    return f"{estimate[0]:+.1f} ± {estimate[1]:.1f}"


def shown(value: float, quantity: str) -> str:
    known = QUANTITIES[quantity]
    unit = known.unit if known.unit in ("°", "") else f" {known.unit}"
    return f"beyond the {known.limit}" if math.isinf(value) else f"{value:.{known.decimals}f}{unit}".replace("-", "−")
