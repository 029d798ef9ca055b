"""Advancing and receding contact angle of a drop on a tilted stage, at the moment when it starts to move."""

from analysis import checks
from analysis.method import Method, ReadingKind, Setting
from analysis.reduction import PAIRS

METHOD = Method(
    key="advancing_receding_tilt",
    title="Advancing and receding contact angle (by tilt)",
    purpose="The angle at the front and at the rear of a drop on a tilted stage when it starts to move; not the same "
    "quantity as by volume change, and never pooled with it.",
    readings=(
        ReadingKind("advancing_angle"),
        ReadingKind("receding_angle"),
        ReadingKind("sliding_angle", can_be_not_moved=True, is_required=False),
    ),
    pair=("advancing_angle", "receding_angle"),
    derived=PAIRS,
    settings=(
        Setting("tilt_rate_deg_per_s", "Tilt rate", "°/s", 0.01, 20, usual=1.0),
        Setting("wait_s", "Wait after placing the drop", "s", 0, 600, usual=10.0),
        Setting("stage_limit_deg", "Stage limit", "°", 1, 90, limits_quantity="sliding_angle"),
        Setting("moved_rule", "Frame from which the angles are taken", kind="text"),
        Setting("fit", "Fit of the outline", kind="text"),
    ),
    stage_limit_setting="stage_limit_deg",
    conditions=("liquid", "drop_volume_ul", "room_temperature_c", "room_humidity_pct", "instrument"),
    replicate_plan="three to five drops a coupon, each on a fresh track; at least three coupons",
    checks=(
        checks.angles_possible,
        checks.drift_over_drops,
        checks.outliers,
        checks.evaporation,
        checks.calibration,
        checks.film_energies,
        checks.cloaking_sign,
        checks.trend_of_coupon,
    ),
    coupon_statistics=("hysteresis_mean", "hysteresis_cosine_mean", "advancing_angle_mean", "receding_angle_mean"),
    standards=("iso_19403_7", "iso_19403_1"),
    provenance="Settings from memory of the trade. ISO 19403-7 covers dynamic angles on a tilt stage; only its scope "
    "was read and no conformity is claimed.",
)
