"""Checks of whether a method may be used on this coupon at all, and whether its result lies where it applies."""

from __future__ import annotations

from statistics import fmean

from analysis.checks.grounds import rests_on
from analysis.measures import haze_percent
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, Check, Run
from analysis.reduction import paired_values
from analysis.wetting.surface_energy import surface_caution

LIGHT = ("incident_light", "transmitted_light", "instrument_scatter", "specimen_scatter")
NOISE = 1.01  # of light read twice; from memory
HAZE_LIMIT_PCT = 30.0  # ASTM D1003: above it the material is diffusing
THICKEST_UM = 250.0  # ISO 2409: not suitable above


@rests_on(turns="It turns when the coupon is a smooth, dry witness with the same chemistry.")
def smooth_for_energy(run: Run, baseline: Run | None = None) -> Check | None:
    """The angles were read on a smooth, dry solid: only there a surface energy is a constant of the material."""
    title, source = "Surface fit for a surface energy", "en_828"
    kind = "infused" if run.lubricant else "textured" if run.is_textured else ""
    if kind:
        return Check("smooth_for_energy", title, DOES_NOT_HOLD, surface_caution(kind), {"surface": kind}, source)
    why = "The record names neither texture nor lubricant; whether the surface is smooth enough is for the lab to say."
    return Check("smooth_for_energy", title, HOLDS, why, {}, source)


@rests_on(
    "measures.haze.haze_percent",
    needs=LIGHT,
    turns=f"It turns at {HAZE_LIMIT_PCT:g} % haze: a diffusing coupon needs another method.",
)
def haze_in_scope(run: Run, baseline: Run | None = None) -> Check | None:
    """The mean haze lies where the method applies."""
    read = paired_values(run, *LIGHT)
    rows = [row for row in read if row[0] > 0 and row[1] > 0]
    title, source = "Haze within the scope of the method", "astm_d1003"
    if not read:
        return None
    if not rows:
        why = "No light comes in or passes at any place, so there is no haze."
        return Check("haze_in_scope", title, CANNOT_TELL, why, {"places": len(read)}, source)
    impossible = sum(passed > NOISE * came or scattered > NOISE * passed for came, passed, _, scattered in rows)
    if impossible:
        why = f"In {impossible} of {len(rows)} places more light passes than comes in, or is scattered than passes."
        return Check("haze_in_scope", title, DOES_NOT_HOLD, why, {"places": len(rows)}, source)
    haze = fmean(float(haze_percent(*row)) for row in rows)
    numbers = {"mean haze [%]": haze, "limit [%]": HAZE_LIMIT_PCT}
    outcome = HOLDS if haze <= HAZE_LIMIT_PCT else DOES_NOT_HOLD
    words = "so the method applies" if outcome == HOLDS else "so the coupon is diffusing and the method does not apply"
    why = f"The mean haze is {haze:.1f} %, the limit {HAZE_LIMIT_PCT:g} %, {words}.".replace("-", "−")
    return Check("haze_in_scope", title, outcome, why, numbers, source)


@rests_on(
    needs=("setting.coating_um",),
    turns=f"It turns when the coating is textured, or thicker than {THICKEST_UM:g} µm.",
)
def cross_cut_in_scope(run: Run, baseline: Run | None = None) -> Check | None:
    """The cross-cut test is meant for such a coating: neither textured nor too thick."""
    title, source, thickness = (
        "Coating within the scope of the cross-cut test",
        "iso_2409",
        run.settings.get("coating_um"),
    )
    if run.is_textured:
        why = "The coupon is textured: the standard says that the test is not suitable for textured coatings."
        return Check("cross_cut_in_scope", title, DOES_NOT_HOLD, why, {}, source)
    if not isinstance(thickness, int | float):
        why = "The thickness of the coating is not stated."
        return Check("cross_cut_in_scope", title, CANNOT_TELL, why, {}, source)
    outcome = HOLDS if thickness <= THICKEST_UM else DOES_NOT_HOLD
    why = f"The coating is {thickness:g} µm thick; the test is not suitable above {THICKEST_UM:g} µm."
    numbers = {"thickness of the coating [µm]": thickness, "limit [µm]": THICKEST_UM}
    return Check("cross_cut_in_scope", title, outcome, why, numbers, source)


# A run that one of these does not hold for was read outside what a standard covers: its report says so as a deviation.
SCOPE_CHECKS = tuple(check.__name__ for check in (smooth_for_energy, haze_in_scope, cross_cut_in_scope))
