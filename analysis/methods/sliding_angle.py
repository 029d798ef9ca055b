"""Sliding angle: the tilt at which a resting drop of stated volume moves."""

from analysis import checks
from analysis.method import Method, ReadingKind, Setting

METHOD = Method(
    key="sliding_angle",
    title="Sliding angle",
    purpose="How far a surface must be tilted before a drop of stated volume leaves.",
    readings=(ReadingKind("sliding_angle", can_be_not_moved=True, can_move_on_placing=True),),
    settings=(
        Setting("tilt_rate_deg_per_s", "Tilt rate", "°/s", 0.01, 20),
        Setting("wait_s", "Wait after placing the drop", "s", 0, 600),
        Setting("stage_limit_deg", "Stage limit", "°", 1, 90, limits_quantity="sliding_angle"),
        Setting("moved_rule", "Rule for “moved”", kind="text"),
        Setting("direction", "Direction of tilt on the coupon", kind="text", is_required=False),
    ),
    stage_limit_setting="stage_limit_deg",
    conditions=("liquid", "drop_volume_ul", "room_temperature_c", "room_humidity_pct", "instrument"),
    replicate_plan="five drops a coupon, each on a fresh track; at least three coupons",
    checks=(
        checks.angles_possible,
        checks.drift_over_drops,
        checks.outliers,
        checks.retention_relation,
        checks.evaporation,
        checks.calibration,
        checks.film_energies,
        checks.cloaking_sign,
        checks.trend_of_coupon,
    ),
    coupon_statistics=("sliding_angle_median",),
    standards=("iso_19403_7", "iso_19403_1"),
    provenance="Settings from memory of the trade. "
    "ISO 19403-7 covers the roll-off angle on a tilt stage; only its "
    "scope was read and no conformity is claimed.",
)
