"""Ice adhesion: the force at which ice comes off a coupon, over the iced area."""

from __future__ import annotations

from analysis import checks
from analysis.measures import ice_adhesion_strength
from analysis.method import Derived, Method, ReadingKind, Setting
from analysis.records import MEASURED, NOT_MOVED, Run
from analysis.reduction import readings_of


def _strengths(run: Run) -> list[float]:
    area = run.settings.get("iced_area_mm2")
    forces = [item.value for item in readings_of(run, "peak_force", MEASURED, NOT_MOVED)]
    return [float(ice_adhesion_strength(force, area)) for force in forces] if isinstance(area, int | float) else []


def _held(run: Run) -> list[bool]:
    readings = readings_of(run, "peak_force", MEASURED, NOT_MOVED)
    return [item.qualifier == NOT_MOVED for item in readings] if _strengths(run) else []


METHOD = Method(
    key="ice_adhesion",
    title="Ice adhesion strength",
    purpose="The stress at which ice leaves the coupon; it depends on the ice, the rate and the rig, so compare only "
    "within one method.",
    readings=(ReadingKind("peak_force", can_be_not_moved=True),),
    settings=(
        Setting("iced_area_mm2", "Iced area", "mm²", 1, 1e5),
        Setting("ice_c", "Temperature of the ice", "°C", -80, 0),
        Setting("ice_kind", "Kind of ice and how it was made", kind="text"),
        Setting("rate_mm_per_s", "Rate of the push", "mm/s", 0.0001, 100),
        Setting("mode", "Push, pull, shear or centrifuge; distance of the probe", kind="text"),
        Setting("load_range_n", "End of the load range", "N", 0.1, 1e5, limits_quantity="peak_force"),
    ),
    stage_limit_setting="load_range_n",
    conditions=("room_temperature_c", "room_humidity_pct", "instrument"),
    derived=(
        Derived(
            "ice_adhesion",
            _strengths,
            "measures.ice_adhesion.ice_adhesion_strength",
            ("peak_force", "setting.iced_area_mm2"),
            beyond=_held,
        ),
    ),
    replicate_plan="five to ten pulls on at least three coupons; each coupon's first pull apart from later ones",
    checks=(checks.drift_over_drops, checks.outliers, checks.calibration, checks.trend_of_coupon),
    coupon_statistics=("ice_adhesion_median", "peak_force_median"),
    hazards=("cold_surface", "moving_load"),
    provenance="Settings from memory of the trade; there is no standard test, so no conformity is claimed.",
)
