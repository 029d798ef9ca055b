"""What the report does not say: derived from what was tested, so that nobody reads more into it."""

from analysis import CONTROL, METHODS, REFERENCE, TREATED


def of(stored) -> list[str]:
    runs = [run for run in stored.runs if stored.roles[run.coupon_id] == TREATED]
    used = {run.method_version.method for run in runs}
    liquids = sorted({run.liquid_lot.liquid.name for run in runs if run.liquid_lot})
    volumes = sorted({f"{run.drop_volume_ul:g} µL" for run in runs if run.drop_volume_ul})
    lines = [
        "The results describe the coupons named in this report. Finished parts and other batches were not tested.",
        f"Liquids tested on treated coupons: {', '.join(liquids) or 'none'}; drop volumes: "
        f"{', '.join(volumes) or 'none'}. Other liquids and volumes, drops that impinge, condensation "
        f"and frost "
        "were not tested unless a run names them.",
    ]
    not_used = [method.title for key, method in METHODS.items() if key not in used]
    if not_used:
        lines.append(f"Methods of the laboratory that were not applied to treated coupons: {'; '.join(not_used)}.")
    return [*lines, *_exposures(runs), *_methods(used), *_companions(stored)]


def _exposures(runs):
    doses = sorted({f"{run.exposure_text or 'exposure'} {run.dose_text}" for run in runs if run.dose})
    if not doses:
        return ["All readings are of fresh coupons: nothing is said about durability, ageing, wear or cleaning."]
    return [f"Durability is described for these exposures only: {'; '.join(doses)}."]


def _methods(used):
    if "static_angle" in used:
        yield (
            "The static contact angle is an auxiliary number: it says nothing about how easily a drop "
            "moves "
            "and no requirement of mobility rests on it."
        )
    if any(METHODS[key].stage_limit_setting for key in used):
        yield (
            "A sliding angle holds for the stated liquid, drop volume, wait, tilt rate and rule for "
            "“moved”. "
            "Drops that did not move up to the stage limit are known only to need more."
        )


def _companions(stored):
    tested = {stored.roles[run.coupon_id] for run in stored.runs}
    if CONTROL not in tested:
        yield "No untreated control coupon was tested: the effect of the treatment itself is not shown."
    if REFERENCE not in tested:
        yield "No reference coupon was tested: a drift of the method cannot be told from the batch."
