"""Fouling and its release: what settles on a coupon, and what leaves again."""

from __future__ import annotations

from analysis import checks
from analysis.measures import log10_reduction, removal_percent
from analysis.method import Derived, Method, ReadingKind, Setting
from analysis.records import Run
from analysis.reduction import paired_values


def _counts(run: Run) -> list[tuple[float, float]]:
    limit = run.settings.get("detection_limit")
    if not isinstance(limit, int | float):
        return []
    return [row for row in paired_values(run, "count_before", "count_after") if row[0] >= limit > 0]


def _removals(run: Run) -> list[float]:
    return [float(removal_percent(*row)) for row in _counts(run)]


def _reductions(run: Run) -> list[float]:
    limit = run.settings.get("detection_limit")
    return [float(log10_reduction(*row, detection_limit=limit).log10) for row in _counts(run)]


def _none_seen(run: Run) -> list[bool]:
    return [after < run.settings["detection_limit"] for _, after in _counts(run)]


def _notes(run: Run) -> list[str]:
    rows, counted = paired_values(run, "count_before", "count_after"), _counts(run)
    told = []
    if "detection_limit" in run.settings and len(counted) < len(rows):
        few = f"{len(rows) - len(counted)} of {len(rows)} counts before release"
        told.append(f"{few} lie below the detection limit; nothing follows from them.")
    if unseen := sum(_none_seen(run)):
        few = f"{unseen} of {len(counted)} counts after release"
        told.append(f"{few} lie below the detection limit: of their removal no more is known than that limit tells.")
    return told


REDUCTION = Derived(
    "log_reduction",
    _reductions,
    "measures.removal.log10_reduction",
    ("count_before", "count_after", "setting.detection_limit"),
    beyond=_none_seen,
)
METHOD = Method(
    key="fouling_release",
    title="Fouling and release",
    purpose="How much settles on a coupon and how much of it a stated release takes off again.",
    readings=(
        ReadingKind("count_before"),
        ReadingKind("count_after"),
        ReadingKind("covered_share", is_required=False),
    ),
    settings=(
        Setting("organism", "Organism or protein", kind="text"),
        Setting("settling", "How long and how it settled", kind="text"),
        Setting("release", "What took it off: flow, shear, wipe", kind="text"),
        Setting("detection_limit", "Detection limit of the count", "1/cm²", 1e-6, 1e12),
        Setting("counting", "How it was counted", kind="text"),
    ),
    conditions=("room_temperature_c",),
    derived=(
        Derived("removal", _removals, "measures.removal.removal_percent", ("count_before", "count_after")),
        REDUCTION,
    ),
    notes=_notes,
    replicate_plan="three coupons in each of three separate runs; coupons of one plate are not independent",
    checks=(*checks.over(REDUCTION, checks.outliers, checks.trend_of_coupon), checks.calibration),
    coupon_statistics=("log_reduction_median", "removal_mean"),
    hazards=("bacteria",),
    provenance="Settings from memory of the trade; no standard is followed.",
)
