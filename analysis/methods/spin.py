"""Spinning: the coupon turns flat about an axis and sheds lubricant."""

from analysis.method import Exposure, Setting

EXPOSURE = Exposure(
    key="spin",
    title="Spinning",
    purpose="How much lubricant stays when the coupon is spun.",
    dose_kinds=("s", "min", "cycles"),
    conditions=(
        Setting("speed_per_min", "Speed", "1/min", 1, 100000),
        Setting("ramp_per_min_per_s", "Ramp", "1/(min·s)", 0, 100000, is_required=False),
        Setting("radius_mm", "Distance of the middle of the coupon from the axis", "mm", 0, 1000),
    ),
    hazards=("spinning",),
    provenance="Conditions from memory of the trade; no standard is followed.",
)
