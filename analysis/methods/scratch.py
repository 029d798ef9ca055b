"""Scratch: a tip or blade under load is drawn across the coupon."""

from analysis.method import Exposure, Setting

EXPOSURE = Exposure(
    key="scratch",
    title="Scratch or cut",
    purpose="Whether the surface still sheds drops across a scratch, and whether lubricant closes it.",
    dose_kinds=("cycles",),
    conditions=(
        Setting("tip", "Tip or blade", kind="text"),
        Setting("load_n", "Load", "N", 0.001, 1000),
        Setting("length_mm", "Length of the scratch", "mm", 0.1, 1000),
        Setting("wait_s", "Time to heal before reading", "s", 0, 1e7),
    ),
    hazards=("sharp_blade",),
    provenance="Conditions from memory of the trade; no standard is followed.",
)
