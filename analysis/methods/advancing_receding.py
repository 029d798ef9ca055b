"""Advancing and receding contact angle of a drop whose volume is changed through a needle."""

from analysis import checks
from analysis.method import Method, ReadingKind, Setting
from analysis.reduction import PAIRS

METHOD = Method(
    key="advancing_receding",
    title="Advancing and receding contact angle (by volume change)",
    purpose="How strongly a surface holds a drop: the two angles at which the contact line moves out and in.",
    readings=(ReadingKind("advancing_angle"), ReadingKind("receding_angle")),
    pair=("advancing_angle", "receding_angle"),
    derived=PAIRS,
    settings=(
        Setting("start_volume_ul", "Start volume", "µL", 0.1, 100),
        Setting("end_volume_ul", "End volume", "µL", 0.1, 200),
        Setting("flow_rate_ul_per_s", "Flow rate", "µL/s", 0.001, 20),
        Setting("pause_s", "Pause before withdrawing", "s", 0, 600),
        Setting("needle", "Needle in or out of the drop", kind="text"),
        Setting("fit", "Fit of the outline", kind="text"),
        Setting("plateau_rule", "Where the angle was taken", kind="text", is_required=False),
    ),
    conditions=("liquid", "drop_volume_ul", "room_temperature_c", "room_humidity_pct", "instrument"),
    replicate_plan="five drops a coupon, each at a fresh position; at least three coupons",
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
    coupon_statistics=(
        "hysteresis_mean",
        "hysteresis_cosine_mean",
        "hysteresis_percent_mean",
        "retention_per_width_mean",
        "advancing_angle_mean",
        "receding_angle_mean",
    ),
    standards=("iso_19403_6", "iso_19403_1", "astm_d7334", "en_828", "iso_ts_10689", "korhonen_2013"),
    provenance="Settings from memory of the trade. "
    "ISO 19403-6 covers advancing and receding angles by a change "
    "of the drop volume; only its scope was read and no conformity is claimed.",
)
