"""Immersion: the coupon lies in a liquid for a time."""

from analysis.method import Exposure, Setting

EXPOSURE = Exposure(
    key="immersion",
    title="Immersion in a liquid",
    purpose="What lying in a liquid for a stated time does to the surface.",
    dose_kinds=("min", "h", "d"),
    conditions=(
        Setting("bath_liquid", "Liquid of the bath", kind="text"),
        Setting("bath_temperature_c", "Temperature of the bath", "°C", -80, 300),
        Setting("bath_ph", "pH of the bath", "", -2, 16, is_required=False),
        Setting("orientation", "How the coupon lay or hung", kind="text", is_required=False),
        Setting("drying", "How it was rinsed and dried before reading", kind="text"),
    ),
    hazards=("immersion_liquid", "hot_water"),
    standards=("iso_ts_10689",),
    provenance="Conditions from memory of the trade; no conformity is claimed.",
)
