"""Thickness of an oxide or coating, by whatever instrument reads it."""

from analysis import checks
from analysis.method import Method, ReadingKind, Setting

METHOD = Method(
    key="film_thickness",
    title="Thickness of oxide or coating",
    purpose="How thick the film is at stated places; the number belongs to the principle that read it.",
    readings=(ReadingKind("film_thickness"),),
    settings=(
        Setting("principle", "Principle of the reading", kind="text"),
        Setting("model", "Optical model or calibration foil", kind="text", is_required=False),
        Setting("spot_mm", "Size of the spot", "mm", 0.001, 50, is_required=False),
    ),
    conditions=("instrument",),
    replicate_plan="three to five places a coupon; at least three coupons",
    checks=(checks.drift_over_drops, checks.outliers, checks.calibration, checks.trend_of_coupon),
    coupon_statistics=("film_thickness_mean",),
    provenance="Settings from memory of the trade; no standard is followed.",
)
