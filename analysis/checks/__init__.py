"""The stability checks of a run: each holds, does not hold or cannot tell; why, the numbers, the source.

A check takes (run, baseline) and gives a Check, or None where it does not apply to that run. The baseline is
the same coupon's own run at dose 0. No check changes or removes a reading.
"""

from analysis.checks.circumstances import calibration, drop_size, evaporation
from analysis.checks.colour import colour_unchanged
from analysis.checks.grounds import over
from analysis.checks.lubricant_film import cloaking_sign, film_energies
from analysis.checks.readings import angles_possible, drift_over_drops, mass_resolved, outliers
from analysis.checks.scope import cross_cut_in_scope, haze_in_scope, smooth_for_energy
from analysis.checks.sliding import retention_relation
from analysis.checks.trend import trend_of_coupon

__all__ = [
    "angles_possible",
    "calibration",
    "cloaking_sign",
    "colour_unchanged",
    "cross_cut_in_scope",
    "drift_over_drops",
    "drop_size",
    "evaporation",
    "film_energies",
    "haze_in_scope",
    "mass_resolved",
    "outliers",
    "over",
    "retention_relation",
    "smooth_for_energy",
    "trend_of_coupon",
]
