"""Abrasion: strokes of an abradant under a stated pressure."""

from analysis.method import Exposure, Setting

EXPOSURE = Exposure(
    key="abrasion",
    title="Abrasion",
    purpose="How many strokes or what distance of rubbing the surface bears.",
    dose_kinds=("cycles", "m"),
    conditions=(
        Setting("abradant", "Abradant and its grade", kind="text"),
        Setting("pressure_kpa", "Pressure on the surface", "kPa", 0.001, 10000),
        Setting("stroke_mm", "Length of a stroke", "mm", 0.1, 10000),
        Setting("renewal", "When the abradant was renewed", kind="text"),
        Setting("is_wet", "Dry or wet", kind="choice", choices=(("dry", "dry"), ("wet", "wet"))),
    ),
    hazards=("abrasive_dust",),
    standards=("iso_ts_10689", "astm_d8380"),
    provenance="Conditions from memory of the trade; no conformity is claimed.",
)
