"""Tape peel: an adhesive tape is pressed on and pulled off."""

from analysis.method import Exposure, Setting

EXPOSURE = Exposure(
    key="tape",
    title="Tape peel",
    purpose="Whether an adhesive tape takes texture, coating or lubricant along.",
    dose_kinds=("cycles",),
    conditions=(
        Setting("tape_kind", "Kind of tape, with its lot", kind="text"),
        Setting("adhesion_n_per_25mm", "Adhesion strength of the tape", "N/25 mm", 0.01, 200, is_required=False),
        Setting("press", "How it was pressed on", kind="text"),
        Setting("peel_angle_deg", "Peel angle", "°", 0, 180),
        Setting("dwell_s", "Time before peeling", "s", 0, 86400),
    ),
    provenance="Conditions from memory of the trade; no standard is followed.",
)
