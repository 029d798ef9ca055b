"""Drain: the coupon stands upright and lubricant runs off."""

from analysis.method import Exposure, Setting

EXPOSURE = Exposure(
    key="drain",
    title="Upright drain",
    purpose="How much lubricant runs off an upright coupon by its weight alone.",
    dose_kinds=("min", "h", "d"),
    conditions=(
        Setting("tilt_deg", "Tilt of the coupon", "°", 0, 90, usual=90),
        Setting("room_c", "Temperature while draining", "°C", -80, 300),
        Setting("lower_edge", "What the lower edge touched", kind="text", is_required=False),
    ),
    provenance="Conditions from memory of the trade; no standard is followed.",
)
