"""Filling the texture with lubricant, and taking off the excess."""

from labrecords.processes.cleaning import MINUTES, TEMPERATURE
from labrecords.processes.kind import StepField, StepKind, register

FAMILY = "Infusing"
VOLUME = StepField("volume_ul", "Lubricant volume", "µL", 0, 1e6)

register(
    StepKind(
        "infuse_drip",
        "Infusing by dripping and spreading",
        FAMILY,
        (
            VOLUME,
            StepField("rest_min", "Rest", "min", 0, 1e5),
            StepField("drain_min", "Vertical drain", "min", 0, 1e5),
        ),
        hazards=("fluorinated",),
        infuses=True,
    )
)
register(
    StepKind(
        "infuse_dip",
        "Infusing by dipping",
        FAMILY,
        (
            MINUTES,
            StepField("withdrawal_mm_s", "Withdrawal speed", "mm/s", 0, 1e4),
            StepField("drain_min", "Vertical drain", "min", 0, 1e5),
        ),
        hazards=("fluorinated",),
        infuses=True,
    )
)
register(
    StepKind(
        "infuse_vacuum",
        "Infusing under vacuum",
        FAMILY,
        (VOLUME, StepField("pressure_mbar", "Pressure", "mbar", 0, 1100), MINUTES, TEMPERATURE),
        hazards=("vacuum_vessel", "fluorinated"),
        infuses=True,
    )
)
register(StepKind("spin_off", "Spinning off the excess", FAMILY,
    (StepField("speed_rpm", "Speed", "1/min", 0, 1e5), StepField("duration_s", "Duration", "s", 0, 1e5)),
    hazards=("spinning", "fluorinated")))  # fmt: skip
