"""Total transmittance and haze of a transparent coupon from four readings of light."""

from __future__ import annotations

from collections.abc import Callable

from analysis import checks
from analysis.measures import diffuse_transmittance, haze_percent, total_transmittance
from analysis.method import Derived, Method, ReadingKind, Setting
from analysis.records import Run
from analysis.reduction import paired_values

HAZE = "measures.haze"
LIGHT = ("incident_light", "transmitted_light", "instrument_scatter", "specimen_scatter")


def _of_light(compute: Callable, count: int) -> Callable[[Run], list[float]]:
    """The quantity of each place where all the light was read; nothing where no light passes."""

    def values(run: Run) -> list[float]:
        rows = [row for row in paired_values(run, *LIGHT) if row[0] > 0 and row[1] > 0]
        return [float(compute(*row[:count])) for row in rows]

    return values


def _notes(run: Run) -> list[str]:
    rows = paired_values(run, *LIGHT)
    dark = sum(not (row[0] > 0 and row[1] > 0) for row in rows)
    return [f"In {dark} of {len(rows)} places no light comes in or passes; they give no transmittance."] if dark else []


OF_SPECIMEN = Derived("haze", _of_light(haze_percent, 4), f"{HAZE}.haze_percent", LIGHT)
METHOD = Method(
    key="transmittance_haze",
    title="Total transmittance and haze",
    purpose="How clear a transparent coupon is: all light that passes, and the share of it that is scattered.",
    readings=tuple(ReadingKind(key) for key in LIGHT),
    settings=(
        Setting("procedure", "Instrument: hazemeter or spectrophotometer", kind="text"),
        Setting("illuminant", "Illuminant", kind="text", usual="D65"),
        Setting("thickness_mm", "Thickness of the coupon", "mm", 0.001, 100),
    ),
    conditions=("instrument",),
    derived=(
        Derived("total_transmittance", _of_light(total_transmittance, 2), f"{HAZE}.total_transmittance", LIGHT[:2]),
        Derived("diffuse_transmittance", _of_light(diffuse_transmittance, 4), f"{HAZE}.diffuse_transmittance", LIGHT),
        OF_SPECIMEN,
    ),
    notes=_notes,
    replicate_plan="three places a coupon; at least three coupons",
    checks=(
        *checks.over(OF_SPECIMEN, checks.drift_over_drops, checks.outliers, checks.trend_of_coupon),
        checks.calibration,
        checks.haze_in_scope,
    ),
    coupon_statistics=("haze_mean", "total_transmittance_mean"),
    standards=("astm_d1003",),
    provenance="Settings from memory of the trade. ASTM D1003 defines haze; only its scope was read and no conformity "
    "is claimed.",
)
