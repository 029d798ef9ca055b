"""Freeze–thaw: the coupon passes between two temperatures."""

from analysis.method import Exposure, Setting

EXPOSURE = Exposure(
    key="freeze_thaw",
    title="Freeze–thaw cycles",
    purpose="Whether repeated freezing changes how the surface sheds drops.",
    dose_kinds=("cycles",),
    conditions=(
        Setting("low_c", "Lower temperature", "°C", -200, 0),
        Setting("high_c", "Upper temperature", "°C", 0, 100),
        Setting("hold_low_min", "Hold at the lower temperature", "min", 0, 100000),
        Setting("hold_high_min", "Hold at the upper temperature", "min", 0, 100000),
        Setting("wetting", "Dry, humid or under water", kind="text"),
    ),
    hazards=("cold_surface",),
    standards=("iso_ts_10689",),
    provenance="Conditions from memory of the trade; no conformity is claimed.",
)
