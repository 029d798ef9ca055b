"""Water-break check in the process: does a draining water film stay whole?"""

from analysis import checks
from analysis.method import Method, ReadingKind, Setting

METHOD = Method(
    key="water_break",
    title="Water-break check (in process)",
    purpose="Whether a coupon is clean enough to go on: a hydrophobic film makes the draining water film break. It is "
    "no measure, and it is weaker on rough or porous coupons.",
    readings=(ReadingKind("water_break_time", can_be_not_moved=True),),
    settings=(
        Setting(
            "observation_s", "End of the observation", "s", 1, 3600, limits_quantity="water_break_time", usual=60.0
        ),
        Setting("withdrawal", "How the coupon was wetted and withdrawn", kind="text"),
        Setting("water", "Water", kind="text"),
    ),
    stage_limit_setting="observation_s",
    conditions=(),
    per_drop=False,
    replicate_plan="each coupon, after cleaning and before it is coated",
    checks=(checks.outliers, checks.calibration, checks.trend_of_coupon),
    coupon_statistics=("water_break_time_median",),
    standards=("astm_f22",),
    provenance="Settings from memory of the trade. ASTM F22 describes a water-break test; only its scope and outline "
    "were read and no conformity is claimed.",
)
