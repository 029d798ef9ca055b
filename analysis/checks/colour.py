"""Check of a coupon's colour against its own colour at dose 0."""

from __future__ import annotations

from statistics import fmean

from analysis.checks.grounds import rests_on
from analysis.optics import colour_difference
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, Check, Run
from analysis.reduction import values_of

COORDINATES = ("lightness", "green_red", "blue_yellow")


@rests_on(
    "optics.colorimetry.colour_difference",
    needs=(*COORDINATES, "setting.allowed_difference", "dose"),
    turns="It turns when the colour difference passes the one that the lab's settings allow.",
)
def colour_unchanged(run: Run, baseline: Run | None = None) -> Check | None:
    """The coupon has the colour that it had at dose 0, by CIEDE2000 between the mean colours."""
    if not run.dose:
        return None
    title, source = "Colour unchanged since dose 0", "sharma_2005"
    now, before = _mean(run), _mean(baseline)
    if now is None or before is None:
        why = "The coupon has no colour with all three coordinates at dose 0 and now."
        return Check("colour_unchanged", title, CANNOT_TELL, why, {}, source)
    difference, allowed = float(colour_difference(before, now)), run.settings.get("allowed_difference")
    numbers = {"ΔE00 since dose 0": difference, "allowed": allowed}
    if not isinstance(allowed, int | float):
        why = f"ΔE00 is {difference:.2f}; the settings of the method name none that counts as unchanged."
        return Check("colour_unchanged", title, CANNOT_TELL, why, numbers, source)
    outcome = HOLDS if difference <= allowed else DOES_NOT_HOLD
    why = f"ΔE00 is {difference:.2f}; {allowed:g} counts as unchanged."
    return Check("colour_unchanged", title, outcome, why, numbers, source)


def _mean(run: Run | None) -> list[float] | None:
    values = [values_of(run, name) for name in COORDINATES] if run else [[]]
    return [fmean(row) for row in values] if all(values) else None
