"""Freezing delay: how long supercooled drops stay liquid on a cold coupon."""

from analysis import checks
from analysis.method import Method, ReadingKind, Setting

METHOD = Method(
    key="freezing_delay",
    title="Freezing delay of resting drops",
    purpose="How long drops stay liquid on a coupon held below the freezing point; single events scatter widely, so "
    "many drops are watched and those that never froze are kept as such.",
    readings=(ReadingKind("freezing_delay", can_be_not_moved=True),),
    settings=(
        Setting("coupon_c", "Temperature of the coupon", "°C", -80, 0),
        Setting("cooling_rate_k_per_min", "Cooling rate", "K/min", 0.01, 200, is_required=False),
        Setting("observation_s", "End of the observation", "s", 1, 1e6, limits_quantity="freezing_delay"),
        Setting("frozen_rule", "Rule for “frozen”", kind="text"),
    ),
    stage_limit_setting="observation_s",
    conditions=("liquid", "drop_volume_ul", "room_temperature_c", "room_humidity_pct", "instrument"),
    replicate_plan="20 to 50 drops on at least three coupons",
    checks=(checks.outliers, checks.calibration, checks.trend_of_coupon),
    coupon_statistics=("freezing_delay_median",),
    hazards=("cold_surface",),
    provenance="Settings from memory of the trade; no standard is followed.",
)
