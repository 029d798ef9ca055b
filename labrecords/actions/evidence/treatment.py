"""What was planned and what was done to the coupons, with the lots used and the cautions to it."""

from analysis import QUANTITIES
from labrecords.actions.evidence.stored import day, moment, number
from labrecords.processes import DEFER, HAZARDS

PFAS = "belongs to the PFAS (per- and polyfluoroalkyl substances): persistent; check its legal status."


def facts(stored) -> dict:
    revision = stored.batch.recipe_revision
    return {
        "recipe": {
            "code": revision.recipe.code,
            "title": revision.recipe.title,
            "revision": revision.number,
            "note": revision.note,
            "fixed_at": moment(revision.created_at),
        },
        "steps": [_step(stored, step) for step in stored.steps],
        "baths": [_bath(row) for kind, row in stored.lots if kind == "BathLot"],
        "lubricants": [_lubricant(stored, row) for kind, row in stored.lots if kind == "LubricantLot"],
        "surface": [property_row(row) for row in stored.properties if row.recipe_id],
        "masses": _masses(stored),
    }


def property_row(row) -> dict:
    known = QUANTITIES[row.quantity]
    against = row.against_liquid or row.against_lubricant
    value = f"{row.value:g}" if row.uncertainty is None else f"{row.value:g} ± {row.uncertainty:g}"
    return {
        "label": f"{known.title} ({against.name})" if against else known.title,
        "value": f"{value}{'' if known.unit == '°' else ' '}{known.unit}".rstrip(),
        "temperature": number(row.temperature_c, "°C"),
        "source": row.source,
    }


def cautions(stored) -> list[str]:
    """One line a hazard of steps, liquids, lubricants, baths, methods, exposures; the PFAS note; who to defer to."""
    tags = dict.fromkeys(tag for step in stored.steps for tag in step.declaration.hazards)
    liquids = {run.liquid_lot.liquid_id: run.liquid_lot.liquid for run in stored.runs if run.liquid_lot}
    lubricants = {row.lubricant_id: row.lubricant for kind, row in stored.lots if kind == "LubricantLot"}
    baths = [row for kind, row in stored.lots if kind == "BathLot"]
    for row in [*liquids.values(), *lubricants.values(), *baths]:
        tags |= dict.fromkeys(row.hazards)
    for run in stored.runs:
        tags |= dict.fromkeys(run.method.hazards)
        tags |= dict.fromkeys(run.exposure_declared.hazards if run.exposure_kind else ())
    lines = [HAZARDS[tag].line for tag in tags]
    lines += [f"{row.name} {PFAS}" for row in lubricants.values() if row.is_pfas]
    return [*lines, DEFER]


def _step(stored, step):
    return {
        "order": step.order,
        "name": step.name,
        "kind": step.declaration.title,
        "instruction": step.instruction,
        "planned": [_planned(row) for row in step.planned_rows],
        "records": [_record(stored, row) for row in stored.processes if row.step_id == step.pk],
    }


def _planned(row):
    return {"label": row["label"], "planned": f"{row['text']} {row['unit']}".rstrip()}


def _record(stored, process):
    coupons = {row.coupon_id for row in process.processed.all()}
    treated = {pk for pk, role in stored.roles.items() if role == "treated"}
    rack = [
        f"{stored.name(row.coupon_id)} at {row.rack_position}" for row in process.processed.all() if row.rack_position
    ]
    return {
        "started_at": moment(process.started_at),
        "finished_at": moment(process.finished_at),
        "operator": process.operator.full_name,
        "coupons": "all treated coupons" if coupons == treated else stored.names(coupons),
        "rows": [_planned(row) | {"actual": _actual(row), "within": row["within"]} for row in process.rows],
        "lots": [str(lot) for lot in process.lots.all()],
        "rack": "; ".join(rack),
        "remark": process.remark,
    }


def _actual(row):
    done = row["actual"]
    if done is None:
        return "not recorded"
    return f"{done:g} {row['unit']}".rstrip() if isinstance(done, int | float) else str(done)


def _bath(row):
    return {
        "code": row.code,
        "title": row.title,
        "composition": row.composition,
        "prepared_on": day(row.prepared_on),
        "expires_on": day(row.expires_on),
        "ph": number(row.ph),
        "conductivity": number(row.conductivity_us_cm, "µS/cm"),
        "remark": row.remark,
    }


def _lubricant(stored, lot):
    pfas = {True: "belongs to the PFAS", False: "no PFAS", None: "PFAS status not recorded"}
    rows = [row for row in stored.properties if row.lubricant_lot_id == lot.pk or row.lubricant_id == lot.lubricant_id]
    return {
        "lot": lot.code,
        "name": lot.lubricant.name,
        "family": lot.lubricant.family,
        "pfas": pfas[lot.lubricant.is_pfas],
        "supplier_lot": lot.supplier_lot,
        "prepared_on": day(lot.prepared_on),
        "expires_on": day(lot.expires_on),
        "properties": [property_row(row) for row in rows],
    }


def _masses(stored):
    return [
        {
            "coupon": stored.name(row.coupon_id),
            "step": str(process.step),
            "before": number(row.mass_before_mg, "mg"),
            "after": number(row.mass_after_mg, "mg"),
        }
        for process in stored.processes
        for row in process.processed.all()
        if row.mass_before_mg is not None or row.mass_after_mg is not None
    ]
