"""Check of a sliding angle against the contact angles of the same coupon."""

from __future__ import annotations

import math
from statistics import stdev

from analysis.checks.facts import mean_angles, missing, property_of, series
from analysis.checks.grounds import rests_on
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, NOT_MOVED, Check, Run
from analysis.reduction import median_of, readings_of, used_pairs
from analysis.wetting.capillary import resting_drop
from analysis.wetting.retention import (
    CANNOT_SLIDE,
    PARALLEL_SIDED,
    SlidingPrediction,
    mean_angle_deg,
    predicted_sliding,
    retention_factor,
)

FORM = PARALLEL_SIDED  # the factor and its length, named in every sentence
READING_DEG = 0.5  # standard uncertainty of a mean angle besides the scatter of the drops; from memory
TENSION = 0.5  # standard uncertainty of a liquid's tension where none is stated [mN/m]; from memory
VOLUME_SHARE = 0.02  # relative standard uncertainty of a dosed volume; from memory
FACTOR_SHARE = 0.15  # of k, relative: with the width published forms run from 0.64 to 1 (stern_2025)
UNTESTABLE = 0.5  # relative uncertainty of a prediction above which hardly a measurement could contradict it
FEWEST_PAIRS = 2


@rests_on(
    "wetting.retention.retention_force_un",
    "wetting.retention.sliding_angle_deg",
    needs=("sliding_angle", "companion", "drop_volume_ul", "liquid.surface_tension", "liquid.density"),
    turns="It turns when the measured median leaves the predicted range: twice the standard uncertainty of the sine.",
)
def retention_relation(run: Run, baseline: Run | None = None) -> Check | None:
    """The measured sliding angle agrees with the one predicted from θa and θr of the same coupon."""
    if series(run)[0] != "sliding_angle":
        return None
    title = "Sliding angle agrees with the retention relation"
    lacking = _lacking(run)
    if lacking:
        why = f"Cannot be computed without {lacking}."
        return Check("retention_relation", title, CANNOT_TELL, why, {}, FORM.source)
    width, angles = _width_mm(run), mean_angles(run.companion)
    prediction, measured = _prediction(run, width), median_of(run, "sliding_angle")
    numbers = {
        "factor": FORM.label,
        "width of the contact line [mm]": width,
        "θa [°]": angles[0],
        "θr [°]": angles[1],
        "predicted [°]": prediction.angle_deg,
        "predicted, low [°]": prediction.low_deg,
        "predicted, high [°]": prediction.high_deg,
        "measured median [°]": measured,
    }
    if measured is not None and 0 < measured <= 90 and angles[0] > angles[1]:
        liquid = property_of(run, "density"), width, property_of(run, "surface_tension")
        numbers["k of the measured angle, with the width"] = retention_factor(
            measured, run.drop_volume_ul, *liquid, *angles
        )
    outcome, why = _compare(run, measured, prediction)
    return Check("retention_relation", title, outcome, why, numbers, FORM.source)


def _lacking(run: Run) -> str:
    pairs = used_pairs(run.companion) if run.companion else []
    if len(pairs) < FEWEST_PAIRS:
        return "at least two drops with θa and θr on the same coupon at the same dose"
    advancing, receding = mean_angles(run.companion)
    if not 0 < receding <= advancing < 180:
        return "a receding angle above 0° and not above the advancing one"
    return missing(run, "surface_tension", "density") or ("" if run.drop_volume_ul else "the drop volume")


def _width_mm(run: Run) -> float:
    """Width of the contact line of the level drop: gravity makes it wider than a spherical cap."""
    liquid = property_of(run, "surface_tension"), property_of(run, "density")
    return resting_drop(run.drop_volume_ul, mean_angle_deg(*mean_angles(run.companion)), *liquid).base_width_mm


def _prediction(run: Run, width: float) -> SlidingPrediction:
    """The scatter of the hysteresis is put on the receding angle alone, so that it counts once."""
    hysteresis = [pair["hysteresis"] for pair in used_pairs(run.companion)]
    scatter = stdev(hysteresis) / math.sqrt(len(hysteresis))
    advancing, receding = mean_angles(run.companion)
    tension = run.liquid.properties["surface_tension"]
    return predicted_sliding(
        width,
        advancing_deg=(advancing, READING_DEG),
        receding_deg=(receding, math.hypot(READING_DEG, scatter)),
        tension=(tension.value, TENSION if tension.uncertainty is None else tension.uncertainty),
        volume_ul=(run.drop_volume_ul, VOLUME_SHARE * run.drop_volume_ul),
        density=property_of(run, "density"),
        width_share=FACTOR_SHARE,
        form=FORM,
    )


def _compare(run: Run, measured: float | None, prediction: SlidingPrediction) -> tuple[str, str]:
    reach = (
        f"predicted {_degrees(prediction.angle_deg)}, from {_degrees(prediction.low_deg)} to "
        f"{_degrees(prediction.high_deg)} ({FORM.label})"
    )
    if measured is None:
        return CANNOT_TELL, f"The median cannot be told from the drops that did not move; {reach}."
    if prediction.relative_uncertainty > UNTESTABLE:
        return CANNOT_TELL, f"The hysteresis is too small against its uncertainty for a test; {reach}."
    if math.isinf(measured):
        limit = min(item.value for item in readings_of(run, "sliding_angle", NOT_MOVED))
        outcome = HOLDS if prediction.high_deg >= limit else DOES_NOT_HOLD
        return outcome, f"The measured median lies beyond the stage limit of {limit:g}°; {reach}."
    outcome = HOLDS if prediction.low_deg <= measured <= prediction.high_deg else DOES_NOT_HOLD
    return outcome, f"The measured median is {measured:.1f}°; {reach}."


def _degrees(angle: float) -> str:
    return "“cannot slide”" if angle == CANNOT_SLIDE else f"{angle:.1f}°"
