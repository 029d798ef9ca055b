"""Roughness and texture of a measured field: heights, developed area, depth."""

from __future__ import annotations

from analysis import checks
from analysis.formula import formula
from analysis.method import Derived, Method, ReadingKind, Setting
from analysis.records import Run
from analysis.reduction import values_of


@formula(
    "r = 1 + Sdr/100 %",
    source="iso_25178_2",
    holds_when="structure finer than the distance of the points is not seen, so r is a lower bound",
)
def roughness_factor(developed_area_pct: float) -> float:
    """Roughness factor of a field from its developed interfacial area ratio.

    Parameters
    ----------
    developed_area_pct : float
        Sdr [%], 0 or more.

    Returns
    -------
    float
        True over projected area [-], 1 or more. NaN stays NaN.

    Raises
    ------
    ValueError
        For a ratio below 0.

    Source: `iso_25178_2`.

    >>> roughness_factor(130.0)
    2.3
    """
    if developed_area_pct < 0:
        raise ValueError(f"a developed area ratio is 0 % or more, not {developed_area_pct}")
    return 1 + developed_area_pct / 100


def _roughness_factors(run: Run) -> list[float]:
    return [roughness_factor(value) for value in values_of(run, "developed_area")]


METHOD = Method(
    key="roughness",
    title="Roughness and texture of a measured field",
    purpose="Height, true area and depth of the texture; fine structure below the resolution of the instrument is not "
    "seen, so the roughness factor is a lower bound.",
    readings=(
        ReadingKind("mean_height"),
        ReadingKind("developed_area", is_required=False),
        ReadingKind("texture_depth", is_required=False),
    ),
    settings=(
        Setting("principle", "Principle of the reading", kind="text"),
        Setting("field_um", "Side of the field", "µm", 0.1, 1e6),
        Setting("spacing_um", "Distance of the points", "µm", 0.0001, 1e3),
        Setting("filter", "Form removal and filters", kind="text"),
        Setting("depth_rule", "Rule for the depth", kind="text", is_required=False),
    ),
    conditions=("instrument",),
    derived=(
        Derived(
            "roughness_factor",
            _roughness_factors,
            "methods.roughness.roughness_factor",
            ("developed_area",),
        ),
    ),
    replicate_plan="three fields a coupon; at least three coupons",
    checks=(
        *checks.over("mean_height", checks.drift_over_drops, checks.outliers, checks.trend_of_coupon),
        checks.calibration,
    ),
    coupon_statistics=("mean_height_mean", "roughness_factor_mean"),
    provenance="Settings from memory of the trade; no standard is followed.",
)
