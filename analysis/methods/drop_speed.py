"""Speed of a drop on a tilted coupon, timed over a track."""

from __future__ import annotations

from analysis import checks
from analysis.formula import formula
from analysis.method import Derived, Method, ReadingKind, Setting
from analysis.records import Run
from analysis.reduction import paired_values

TRACK = ("track_length", "track_time")


@formula("v = s/t", source="common_practice", holds_when="the drop moves evenly over the timed track")
def track_speed(length_mm: float, time_s: float) -> float:
    """Mean speed over a timed track.

    Parameters
    ----------
    length_mm : float
        Length of the track [mm], 0 or more.
    time_s : float
        Time over it [s], above 0.

    Returns
    -------
    float
        Speed [mm/s]. NaN stays NaN.

    Raises
    ------
    ValueError
        For a time not above 0 or a length below 0.

    Source: `common_practice`.

    >>> track_speed(40.0, 0.5)
    80.0
    """
    if time_s <= 0 or length_mm < 0:
        raise ValueError(f"a track needs a length of 0 or more and a time above 0, not {length_mm} mm and {time_s} s")
    return length_mm / time_s


def _speeds(run: Run) -> list[float]:
    return [track_speed(length, time) for length, time in paired_values(run, *TRACK) if time > 0]


def _notes(run: Run) -> list[str]:
    rows = paired_values(run, *TRACK)
    timeless = sum(time <= 0 for _, time in rows)
    return [f"{timeless} of {len(rows)} tracks took no time; they give no speed."] if timeless else []


SPEED = Derived(
    "drop_speed", _speeds, "methods.drop_speed.track_speed", ("track_length", "track_time", "setting.tilt_deg")
)
METHOD = Method(
    key="drop_speed",
    title="Speed of a moving drop",
    purpose="How fast a drop runs over the tilted coupon once it moves evenly; tells surfaces apart that share a "
    "sliding angle.",
    readings=(ReadingKind("track_length"), ReadingKind("track_time")),
    settings=(
        Setting("tilt_deg", "Tilt", "°", 0.1, 90),
        Setting("frame_rate_hz", "Frames per second", "1/s", 1, 1e6),
        Setting("start_rule", "Where the timed track begins", kind="text"),
        Setting("track_rule", "Fresh track for each drop", kind="choice", choices=(("yes", "yes"), ("no", "no"))),
    ),
    conditions=("liquid", "drop_volume_ul", "room_temperature_c", "room_humidity_pct", "instrument"),
    derived=(SPEED,),
    notes=_notes,
    replicate_plan="five drops a coupon, each on a fresh track; at least three coupons",
    checks=(
        *checks.over(SPEED, checks.drift_over_drops, checks.outliers, checks.trend_of_coupon),
        checks.evaporation,
        checks.calibration,
    ),
    coupon_statistics=("drop_speed_mean",),
    provenance="Settings from memory of the trade; no standard is followed.",
)
