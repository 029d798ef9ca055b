"""Static contact angle of a resting drop: an auxiliary number that says nothing about mobility."""

from analysis import checks
from analysis.method import Method, ReadingKind, Setting

METHOD = Method(
    key="static_angle",
    title="Static contact angle",
    purpose="Angle of a resting drop, as an auxiliary number: a drop at 150° may still stick upside down.",
    readings=(ReadingKind("static_angle"),),
    settings=(
        Setting("wait_s", "Time from placing to reading", "s", 0, 600),
        Setting("fit", "Fit of the outline", kind="text"),
    ),
    conditions=("liquid", "drop_volume_ul", "room_temperature_c", "room_humidity_pct", "instrument"),
    replicate_plan="three to five positions a coupon, at least three coupons",
    checks=(
        checks.angles_possible,
        checks.drift_over_drops,
        checks.outliers,
        checks.drop_size,
        checks.evaporation,
        checks.calibration,
        checks.film_energies,
        checks.cloaking_sign,
        checks.trend_of_coupon,
    ),
    coupon_statistics=("static_angle_mean",),
    standards=("iso_19403_1", "en_828"),
    provenance="Settings from memory of the trade; no conformity with a standard is claimed.",
)
