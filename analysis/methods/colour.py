"""Colour of a coupon as CIE L*, a*, b*."""

from analysis import checks
from analysis.method import Method, ReadingKind, Setting

METHOD = Method(
    key="colour",
    title="Colour (CIE L*a*b*)",
    purpose="The colour of a coupon, as a sign of an oxide's thickness and of changes by an exposure.",
    readings=(ReadingKind("lightness"), ReadingKind("green_red"), ReadingKind("blue_yellow")),
    settings=(
        Setting("illuminant", "Illuminant and observer", kind="text", usual="D65, 2°"),
        Setting("geometry", "Geometry, with or without gloss", kind="text"),
        Setting("aperture_mm", "Aperture", "mm", 0.5, 100),
        Setting("allowed_difference", "Colour difference ΔE00 that counts as unchanged", "", 0, 100, is_required=False),
    ),
    conditions=("instrument",),
    replicate_plan="three places a coupon; at least three coupons",
    checks=(
        *checks.over("lightness", checks.drift_over_drops, checks.outliers),
        checks.calibration,
        checks.colour_unchanged,
    ),
    coupon_statistics=("lightness_mean", "green_red_mean", "blue_yellow_mean"),
    provenance="Settings from memory of the trade; no conformity with a standard is claimed.",
)
