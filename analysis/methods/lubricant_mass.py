"""Mass of lubricant on a coupon, by weighing before infusing and after."""

from analysis import checks
from analysis.method import Derived, Method, ReadingKind, Setting
from analysis.reduction import masses_per_area

METHOD = Method(
    key="lubricant_mass",
    title="Lubricant mass (by weighing)",
    purpose="How much lubricant the coupon holds, and how much of it a dose of exposure leaves.",
    readings=(ReadingKind("lubricant_mass"),),
    derived=(
        Derived(
            "lubricant_per_area",
            masses_per_area,
            "reduction.lubricant_per_area",
            ("lubricant_mass", "lubricant.density", "coupon_area_mm2"),
        ),
    ),
    settings=(
        Setting("balance_resolution_mg", "Resolution of the balance", "mg", 0.0001, 100),
        Setting("drain_min", "Upright drain before weighing", "min", 0, 10000),
        Setting("drying", "How water was removed before weighing", kind="text", is_required=False),
    ),
    conditions=("instrument",),
    per_drop=False,
    replicate_plan="each coupon once a dose, with an uninfused coupon weighed beside them",
    checks=(checks.calibration, checks.mass_resolved, checks.trend_of_coupon),
    coupon_statistics=("lubricant_mass_mean", "lubricant_per_area_mean"),
    standards=(),
    provenance="Settings from memory of the trade; no standard is followed.",
)
