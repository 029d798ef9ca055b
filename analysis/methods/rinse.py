"""Rinse: a liquid runs over the tilted coupon."""

from analysis.method import Exposure, Setting

EXPOSURE = Exposure(
    key="rinse",
    title="Rinse with flowing liquid",
    purpose="How much lubricant or coating a flow carries away.",
    dose_kinds=("s", "min", "h", "L"),
    conditions=(
        Setting("rinse_liquid", "Liquid", kind="text"),
        Setting("flow_rate_ml_per_min", "Flow rate", "mL/min", 0.001, 100000),
        Setting("flow_temperature_c", "Temperature of the liquid", "°C", -20, 100),
        Setting("tilt_deg", "Tilt of the coupon", "°", 0, 90),
        Setting("outlet", "Outlet and distance", kind="text", is_required=False),
    ),
    hazards=("immersion_liquid",),
    standards=("iso_ts_10689",),
    provenance="Conditions from memory of the trade; no conformity is claimed.",
)
