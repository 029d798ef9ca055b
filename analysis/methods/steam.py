"""Steam: cycles in saturated steam."""

from analysis.method import Exposure, Setting

EXPOSURE = Exposure(
    key="steam",
    title="Steam",
    purpose="What steam cycles, as in sterilising, do to the surface; condensate can wash lubricant off.",
    dose_kinds=("cycles", "min"),
    conditions=(
        Setting("steam_c", "Temperature of the steam", "°C", 90, 200),
        Setting("hold_min", "Hold at that temperature", "min", 0, 10000),
        Setting("drying", "How the cycle dried the coupon", kind="text"),
    ),
    hazards=("hot_water", "pressure_vessel"),
    standards=("iso_ts_10689",),
    provenance="Conditions from memory of the trade; no conformity is claimed.",
)
