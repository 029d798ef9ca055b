"""Bounce of a falling drop: how high it rebounds and how long it touches."""

from __future__ import annotations

from analysis import checks
from analysis.measures import restitution_from_heights
from analysis.method import Derived, Method, ReadingKind, Setting
from analysis.records import Run
from analysis.reduction import values_of


def _restitutions(run: Run) -> list[float]:
    fall = run.settings.get("fall_height_mm")
    if not isinstance(fall, int | float):
        return []
    return [
        float(restitution_from_heights(fall, height)) for height in values_of(run, "rebound_height") if height <= fall
    ]


def _notes(run: Run) -> list[str]:
    fall, heights = run.settings.get("fall_height_mm"), values_of(run, "rebound_height")
    higher = sum(height > fall for height in heights) if isinstance(fall, int | float) else 0
    told = f"{higher} of {len(heights)} rebounds are higher than the fall; they give no restitution."
    return [told] if higher else []


METHOD = Method(
    key="bounce",
    title="Bounce of a falling drop",
    purpose="Whether and how a falling drop rebounds; a rebound shows that hardly any liquid sticks.",
    readings=(
        ReadingKind("rebound_height"),
        ReadingKind("contact_time", can_be_not_moved=True, is_required=False),
        ReadingKind("bounces", is_required=False),
    ),
    settings=(
        Setting("fall_height_mm", "Height of fall", "mm", 0.1, 10000),
        Setting("frame_rate_hz", "Frames per second", "1/s", 10, 1e6),
        Setting("observation_ms", "End of the observation", "ms", 0.1, 1e5, limits_quantity="contact_time"),
        Setting("tilt_deg", "Tilt of the coupon", "°", 0, 90, usual=0),
    ),
    stage_limit_setting="observation_ms",
    conditions=("liquid", "drop_volume_ul", "room_temperature_c", "room_humidity_pct", "instrument"),
    derived=(
        Derived(
            "restitution",
            _restitutions,
            "measures.bounce.restitution_from_heights",
            ("rebound_height", "setting.fall_height_mm"),
        ),
    ),
    notes=_notes,
    replicate_plan="five to ten drops on at least three coupons, fresh places",
    checks=(
        *checks.over("rebound_height", checks.drift_over_drops, checks.outliers, checks.trend_of_coupon),
        checks.calibration,
    ),
    coupon_statistics=("restitution_mean", "rebound_height_mean"),
    provenance="Settings from memory of the trade; no standard is followed.",
)
