"""Check of a coupon against its own run at dose 0."""

from __future__ import annotations

import math
from statistics import fmean, median

from analysis.checks.facts import series, shown
from analysis.checks.grounds import rests_on
from analysis.method import Derived
from analysis.quantities import QUANTITIES
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, Check, Run

TITLE = "Unchanged since dose 0"
LEVEL = 0.05  # two-sided, of the rank test


@rests_on(
    needs=("dose",),
    turns="It turns when the rank test passes p = 0.05; a mass, when it changes by what two weighings tell apart.",
)
def trend_of_coupon(run: Run, baseline: Run | None = None, of: Derived | str | None = None) -> Check | None:
    """The coupon reads as at dose 0, by a rank test over its readings; those beyond their limit rank highest."""
    name, now = series(run, of)
    if run.dose == 0 or not now:
        return None
    same, before = series(baseline, of) if baseline else ("", [])
    before = before if same == name else []
    if not before:
        why = "The coupon has no run of this kind at dose 0."
        return Check("trend", TITLE, CANNOT_TELL, why, {}, "mann_whitney")
    return _mass_trend(run, before, now) if name == "lubricant_mass" else _rank_trend(name, before, now)


def _rank_trend(name: str, before: list[float], now: list[float]) -> Check:
    known, p = QUANTITIES[name], _rank_sum_p(before, now)
    numbers = {
        f"median at dose 0 [{known.unit}]": median(before),
        f"median now [{known.unit}]": median(now),
        "readings": f"{len(before)} and {len(now)}",
        "p": p,
    }
    change = f"{known.title}: median {shown(median(before), name)} at dose 0, {shown(median(now), name)} now"
    if 2 / math.comb(len(before) + len(now), len(now)) > LEVEL:  # the smallest p so few drops could ever give
        why = f"{change}; with {len(before)} and {len(now)} readings no change could be shown."
        return Check("trend", TITLE, CANNOT_TELL, why, numbers, "mann_whitney")
    outcome, words = (DOES_NOT_HOLD, "more than") if p <= LEVEL else (HOLDS, "within")
    why = f"{change}; {words} the scatter of the readings (p = {p:.3f})."
    return Check("trend", TITLE, outcome, why, numbers, "mann_whitney")


def _rank_sum_p(before: list[float], now: list[float]) -> float:
    """Two-sided p of the rank-sum test: exact for few drops without ties."""
    from scipy.stats import mannwhitneyu

    ordered = sorted({*before, *now})
    if len(ordered) == 1:
        return 1.0
    ranks = [[ordered.index(value) for value in values] for values in (before, now)]  # infinity gets a rank
    return float(mannwhitneyu(*ranks, alternative="two-sided").pvalue)


def _mass_trend(run: Run, before: list[float], now: list[float]) -> Check:
    source, step = "common_practice", run.settings.get("balance_resolution_mg")
    old, new = fmean(before), fmean(now)
    numbers = {"mass at dose 0 [mg]": old, "mass now [mg]": new, "balance resolution [mg]": step}
    if not old > 0 or not isinstance(step, int | float):
        why = "Cannot be computed without a mass at dose 0 and the resolution of the balance."
        return Check("trend", TITLE, CANNOT_TELL, why, numbers, source)
    retained = 100 * new / old
    reach = 2 * math.hypot(step, step) / math.sqrt(3)  # two masses, each known to ± one step; twice the uncertainty
    outcome = HOLDS if abs(new - old) <= reach else DOES_NOT_HOLD
    why = f"{_mass_words(new - old, outcome)} the {reach:.2g} mg that two weighings tell apart."
    return Check("trend", TITLE, outcome, why, numbers | {"retained [%]": retained}, source)


def _mass_words(change: float, outcome: str) -> str:
    if outcome == HOLDS:
        return "The lubricant mass differs from that of dose 0 by no more than"
    if change > 0:
        return "The coupon gained mass since dose 0, so liquid or dirt may have been weighed: more than"
    return "Lubricant was lost since dose 0, as an exposure may do: more than"
