"""Checks of the circumstances of a run: size of the drop, evaporation, calibration."""

from __future__ import annotations

from analysis.checks.facts import mean_angle, missing, property_of
from analysis.checks.grounds import rests_on
from analysis.film.inputs import WATER_TENSION
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, MEASURED, NOT_MOVED, Check, Run
from analysis.reduction import readings_of
from analysis.wetting.capillary import bond_number, resting_drop
from analysis.wetting.evaporation import predicted_loss_percent

EVAPORATION_LIMIT_PCT = 5.0  # common practice
CAP_FIT_LIMIT_DEG = 1.0  # bias above which a fit of a circle is no longer fair; common practice
_CIRCLE_FITS = ("circ", "cap", "spher", "height")
_FAIR_FITS = ("laplace", "tangent", "ellip", "polynom", "spline")


@rests_on(
    "wetting.capillary.bond_number",
    "wetting.capillary.resting_drop",
    needs=("drop_volume_ul", "liquid.surface_tension", "liquid.density", "setting.fit"),
    turns=f"It turns at a bias of {CAP_FIT_LIMIT_DEG:g}°; a smaller drop or a fit with gravity mends it.",
)
def drop_size(run: Run, baseline: Run | None = None) -> Check | None:
    """A drop small against the capillary length, or a fit that allows for its flattening."""
    angle, volume = mean_angle(run), run.drop_volume_ul
    if angle is None:
        return None
    title, source = "Drop shape read fairly", "young_laplace"
    lacking = missing(run, "surface_tension", "density")
    if volume is None or lacking or not 0 < angle < 180:
        why = f"Cannot be computed without {lacking or 'the drop volume and an angle below 180°'}."
        return Check("drop_size", title, CANNOT_TELL, why, {}, source)
    liquid = property_of(run, "surface_tension"), property_of(run, "density")
    bond, shape = bond_number(volume, *liquid), resting_drop(volume, angle, *liquid)
    bias = angle - shape.cap_fit_angle_deg
    numbers = {
        "drop volume [µL]": volume,
        "Bond number (R₀/lc)²": bond,
        "mean angle [°]": angle,
        "a circle fit reads too low by [°]": bias,
    }
    return Check("drop_size", title, *_judge_fit(str(run.settings.get("fit") or ""), bond, bias), numbers, source)


@rests_on(
    "wetting.evaporation.predicted_loss_percent",
    needs=("drop_volume_ul", "room_temperature_c", "room_humidity_pct", "liquid.surface_tension"),
    turns=f"It turns at a loss of {EVAPORATION_LIMIT_PCT:g} %: earlier reading, damper air or a larger drop lower it.",
)
def evaporation(run: Run, baseline: Run | None = None) -> Check | None:
    """Predicted evaporation between placing the drop and reading it stays small."""
    if run.drop_volume_ul is None:
        return None
    title, source = "Little evaporation before reading", "diffusion_evaporation"
    seconds, climate = _seconds_on_surface(run), (run.room_temperature_c, run.room_humidity_pct)
    tension = property_of(run, "surface_tension")
    lacking = ""
    if seconds is None or None in climate:
        lacking = "Cannot be computed without the time on the surface, room temperature and humidity."
    elif not (0 <= climate[0] <= 100 and 0 <= climate[1] <= 100):
        lacking = "The prediction is for 0 to 100 °C and 0 to 100 % humidity."
    elif _angle(run) == 0:
        lacking = "A drop that spreads (angle 0°) is no cap, and the prediction is for caps."
    elif tension is None or not WATER_TENSION[0] <= tension <= WATER_TENSION[1]:
        lacking = "The prediction is for water and dilute salt solutions only, told by their surface tension."
    if lacking:
        return Check("evaporation", title, CANNOT_TELL, lacking, {}, source)
    angle = _angle(run)
    loss = predicted_loss_percent(run.drop_volume_ul, min(angle, 179.0), seconds, *climate)
    numbers = {
        "predicted loss [%]": loss,
        "limit [%]": EVAPORATION_LIMIT_PCT,
        "time on the surface [s]": seconds,
        "room temperature [°C]": climate[0],
        "room humidity [%]": climate[1],
        "contact angle taken [°]": angle,
    }
    outcome = HOLDS if loss <= EVAPORATION_LIMIT_PCT else DOES_NOT_HOLD
    why = (
        f"A {run.drop_volume_ul:g} µL drop loses about {loss:.1f} % in {seconds:.0f} s of still air; "
        f"the limit is {EVAPORATION_LIMIT_PCT:g} % (common practice)."
    )
    return Check("evaporation", title, outcome, why, numbers, source)


@rests_on(
    needs=("observed_at", "calibration_due"),
    turns="It turns on the day after the calibration was due.",
)
def calibration(run: Run, baseline: Run | None = None) -> Check | None:
    """The instrument was within its calibration on the day of the run."""
    title, source = "Calibration in date", "iso_17025_6_4_13"
    if run.calibration_due is None or run.observed_at is None:
        lacking = "due date of a calibration" if run.calibration_due is None else "day of the run"
        return Check("calibration", title, CANNOT_TELL, f"No {lacking} is on record.", {}, source)
    day, due = run.observed_at.date(), run.calibration_due
    numbers = {"instrument": run.instrument, "read on": day.isoformat(), "due on": due.isoformat()}
    outcome, why = HOLDS, f"Read on {day}; the calibration was due on {due}."
    if day > due:
        outcome, late = DOES_NOT_HOLD, (day - due).days
        why = f"Read on {day}, {late} {'day' if late == 1 else 'days'} after the calibration was due on {due}."
    return Check("calibration", title, outcome, why, numbers, source)


def _angle(run: Run) -> float:
    """Contact angle of the drop, from this run or its companion; 90° where none was read."""
    known = (mean_angle(each) for each in (run, run.companion))
    return next((angle for angle in known if angle is not None), 90.0)


def _judge_fit(fit: str, bond: float, bias: float) -> tuple[str, str]:
    if bias <= CAP_FIT_LIMIT_DEG:
        return (
            HOLDS,
            f"The drop is small (Bond number {bond:.2f}): even a circle fit reads it within {bias:.1f}°.",
        )
    flattened = f"Gravity flattens the drop (Bond number {bond:.2f}): a circle fit reads {bias:.1f}° too low"
    if any(part in fit.casefold() for part in _CIRCLE_FITS):
        return DOES_NOT_HOLD, f"{flattened}, and the fit is “{fit}”."
    if any(part in fit.casefold() for part in _FAIR_FITS):
        return HOLDS, f"{flattened}; the fit “{fit}” allows for it."
    if not fit:
        return CANNOT_TELL, f"{flattened}, and no fit of the outline is stated."
    return CANNOT_TELL, f"{flattened}; the stated fit (“{fit}”) does not tell whether it allows for it."


def _seconds_on_surface(run: Run) -> float | None:
    """Longest time from placing a drop to the end of its reading; None when a setting is missing."""
    settings = run.settings
    try:
        if "flow_rate_ul_per_s" in settings:
            grown = abs(settings["end_volume_ul"] - settings["start_volume_ul"])
            return settings["pause_s"] + 2 * grown / settings["flow_rate_ul_per_s"]
        tilts = [item.value for item in readings_of(run, "sliding_angle", MEASURED, NOT_MOVED)]
        return settings["wait_s"] + (max(tilts) / settings["tilt_rate_deg_per_s"] if tilts else 0.0)
    except (KeyError, TypeError, ZeroDivisionError):
        return None
