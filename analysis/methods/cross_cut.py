"""Cross-cut test: how much of a cut lattice comes off with a tape. Not for textured coatings."""

from __future__ import annotations

from analysis import checks
from analysis.measures import cross_cut_class
from analysis.method import Derived, Method, ReadingKind, Setting
from analysis.records import Run
from analysis.reduction import values_of


def _classes(run: Run) -> list[float]:
    return [float(cross_cut_class(share)) for share in values_of(run, "lost_lattice")]


def _notes(run: Run) -> list[str]:
    told = ["A class is no measure of adhesion strength; the mean of classes only orders coupons."]
    if run.is_textured:
        told.append("The coupon is textured: the standard excludes textured coatings from this test.")
    return told


METHOD = Method(
    key="cross_cut",
    title="Cross-cut test",
    purpose="Whether a smooth coating comes off along cuts; the standard excludes textured coatings and those above "
    "250 µm.",
    readings=(ReadingKind("lost_lattice"),),
    settings=(
        Setting("coating_um", "Thickness of the coating", "µm", 0.01, 10000),
        Setting("spacing_mm", "Distance of the cuts", "mm", 0.1, 10),
        Setting("tool", "Cutting tool", kind="text"),
        Setting("tape", "Tape, with its lot", kind="text", is_required=False),
    ),
    conditions=("room_temperature_c", "room_humidity_pct"),
    derived=(Derived("cross_cut_class", _classes, "measures.cross_cut.cross_cut_class", ("lost_lattice",)),),
    notes=_notes,
    replicate_plan="three lattices on at least three coupons; the coupons are used up",
    checks=(checks.cross_cut_in_scope, checks.outliers, checks.calibration),
    coupon_statistics=("cross_cut_class_mean", "lost_lattice_mean"),
    standards=("iso_2409",),
    hazards=("sharp_blade",),
    provenance="Classes 0 to 3 as a manual quotes the standard, 4 and 5 from memory; no conformity is claimed.",
)
