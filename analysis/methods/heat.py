"""Dry heat: the coupon lies in hot air for a time."""

from analysis.method import Exposure, Setting

EXPOSURE = Exposure(
    key="heat",
    title="Dry heat",
    purpose="What time at a raised temperature does to texture, coating and lubricant.",
    dose_kinds=("min", "h", "d", "cycles"),
    conditions=(
        Setting("air_c", "Temperature of the air at the coupon", "°C", 20, 1500),
        Setting("humidity_pct", "Relative humidity", "%", 0, 100, is_required=False),
        Setting("orientation", "How the coupon lay", kind="text", is_required=False),
    ),
    hazards=("hot_surface",),
    standards=("iso_ts_10689",),
    provenance="Conditions from memory of the trade; no conformity is claimed.",
)
