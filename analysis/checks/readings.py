"""Checks of the readings themselves: possible angles, drift, outliers, a mass that the balance can tell."""

from __future__ import annotations

import math

from analysis.checks.facts import series, shown
from analysis.checks.grounds import rests_on
from analysis.method import Derived
from analysis.quantities import QUANTITIES, Quantity
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, Check, Reading, Run
from analysis.reduction import used_pairs, values_of
from analysis.statistics.drift import FEWEST, drift, rank_trend
from analysis.statistics.outliers import flag_outliers

LEVEL = 0.05  # two-sided, of the rank test
FEWEST_STEPS = 10  # of the balance in a mass that counts as resolved; common practice


@rests_on(turns="It turns when a reading is corrected, or excluded with a reason.")
def angles_possible(run: Run, baseline: Run | None = None) -> Check | None:
    """Every angle within its range, and no receding angle above its advancing one."""
    angles = [item for item in run.readings if item.value is not None and not item.excluded]
    if not angles:
        return None
    pairs = used_pairs(run)
    outside = sum(not _is_in_range(item) for item in angles)
    crossed = sum(pair["hysteresis"] < 0 for pair in pairs)
    numbers = {"readings": len(angles), "out of range": outside}
    numbers |= {"drops with θr above θa": crossed} if pairs else {}
    outcome, why = HOLDS, "Every angle lies in its range" + (", and no θr exceeds its θa." if pairs else ".")
    if outside or crossed:
        outcome = DOES_NOT_HOLD
        why = f"{outside} of {len(angles)} readings out of range, θr > θa in {crossed} of {len(pairs)} drops."
    return Check("angles_possible", "Angles possible", outcome, why, numbers, "common_practice")


@rests_on(
    "statistics.regression.linear_fit",
    "statistics.drift.rank_trend",
    turns="It turns when both tests, of the slope and of the ranks, fall on the other side of p = 0.05; it cannot be "
    "told while they disagree.",
)
def drift_over_drops(run: Run, baseline: Run | None = None, of: Derived | str | None = None) -> Check | None:
    """No drift over the readings in the order in which they were taken."""
    name, values = series(run, of)
    if not values:
        return None
    known = QUANTITIES[name]
    if any(map(math.isinf, values)):
        outcome, why, numbers = _drift_by_rank(values, known)
    else:
        found = drift(values, decimals=known.decimals, unit=known.unit)
        outcome, why = found.outcome, found.why
        numbers = {"readings": found.n, f"slope [{known.unit} a reading]": found.slope}
        numbers |= {"p of the rank trend": found.trend.p} if found.trend else {}
    why = f"{known.title}: {why}"
    return Check("drift", "No drift over the run", outcome, why, numbers, "mann_kendall")


@rests_on(
    "statistics.outliers.flag_outliers",
    turns="It turns when the value farthest out passes its critical value at the two-sided 5 % level.",
)
def outliers(run: Run, baseline: Run | None = None, of: Derived | str | None = None) -> Check | None:
    """No reading stands apart from the others; one that does is flagged, never removed."""
    name, values = series(run, of)
    values = [value for value in values if math.isfinite(value)]
    if not values:
        return None
    found = flag_outliers(values)
    flagged = ", ".join(shown(values[index], name) for index in found.flagged)
    numbers = {"readings": len(values), "flagged": flagged or "none"}
    outcome, words = HOLDS, "no reading stands apart"
    if found.note:
        outcome, words = CANNOT_TELL, found.note
    elif flagged:
        outcome, words = DOES_NOT_HOLD, f"{flagged} stands apart; flagged for a look, kept in every number"
    why = f"{QUANTITIES[name].title}: {words}."
    return Check("outliers", "No outlying reading", outcome, why, numbers, "rosner_1983")


@rests_on(
    needs=("lubricant_mass", "setting.balance_resolution_mg"),
    turns=f"It turns at {FEWEST_STEPS} steps of the balance: more lubricant, a larger coupon or a finer balance.",
)
def mass_resolved(run: Run, baseline: Run | None = None) -> Check | None:
    """The lubricant mass is large against the resolution of the balance."""
    masses, step = values_of(run, "lubricant_mass"), run.settings.get("balance_resolution_mg")
    if not masses:
        return None
    title, source = "Mass resolved by the balance", "common_practice"
    if not isinstance(step, int | float):
        return Check("mass_resolved", title, CANNOT_TELL, "The balance resolution is not stated.", {}, source)
    numbers = {"smallest mass [mg]": min(masses), "balance resolution [mg]": step}
    outcome = HOLDS if min(masses) >= FEWEST_STEPS * step else DOES_NOT_HOLD
    needed = FEWEST_STEPS * step
    why = f"The smallest mass is {min(masses):g} mg; {FEWEST_STEPS} steps of the balance are {needed:g} mg."
    return Check("mass_resolved", title, outcome, why, numbers, source)


def _drift_by_rank(values: list[float], known: Quantity) -> tuple[str, str, dict]:
    """Drift where some readings stayed beyond their limit: they have a rank, the highest, but no slope."""
    stuck, ordered = sum(map(math.isinf, values)), sorted(set(values))
    numbers, count = {"readings": len(values), known.beyond: stuck}, f"{stuck} of {len(values)} {known.beyond}"
    could_be_seen = len(values) >= FEWEST and 2 / math.factorial(min(len(values), 20)) < LEVEL  # a perfect trend
    if not could_be_seen or len(ordered) == 1:
        return CANNOT_TELL, f"{count}: no drift can be told.", numbers
    p = rank_trend([ordered.index(value) for value in values]).p
    outcome, seen = (DOES_NOT_HOLD, "The readings drift") if p < LEVEL else (HOLDS, "No drift could be seen")
    why = f"{seen} (rank trend p = {p:.3f}; {count}, which rank highest)."
    return outcome, why, numbers | {"p of the rank trend": p}


def _is_in_range(reading: Reading) -> bool:
    known = QUANTITIES[reading.quantity]
    low = -math.inf if known.low is None else known.low
    return low <= reading.value <= (math.inf if known.high is None else known.high)
