"""How the coupons were tested: specification, methods, instruments, liquids, runs with every reading."""

from operator import attrgetter

import analysis
from analysis import CRITERION_KINDS, METHODS, QUALIFIERS, citation
from labrecords.actions.evidence.stored import day, moment, number
from labrecords.actions.evidence.treatment import property_row
from labrecords.models import Reading
from labrecords.models.run import RUN_STATES


def facts(stored) -> dict:
    return {
        "methods": [_method(version) for version in _each(run.method_version for run in stored.runs)],
        "instruments": [_instrument(stored, row) for row in _each(run.instrument for run in stored.runs)],
        "liquids": [_liquid(stored, row) for row in _each(run.liquid_lot for run in stored.runs)],
        "runs": [_run(stored, run) for run in stored.runs],
        "corrections": _corrections(stored),
    }


def specification(revision, criteria) -> dict:
    return {
        "code": revision.criterion_set.code,
        "title": revision.criterion_set.title,
        "revision": revision.number,
        "fixed_on": day(revision.fixed_on),
        "entered_at": moment(revision.created_at),
        "when_inconclusive": revision.when_inconclusive,
        "note": revision.note,
        "criteria": [
            {"label": row.label, "kind": CRITERION_KINDS[row.kind].title, "wording": row.wording} for row in criteria
        ],
    }


def _each(rows):
    return {row.pk: row for row in rows if row is not None}.values()


def _method(version):
    declared = METHODS[version.method]
    settings = [
        {"label": label, "value": f"{value:g}" if isinstance(value, int | float) else str(value)}
        for label, value in version.setting_rows
    ]
    return {
        "title": declared.title,
        "version": version.number,
        "fixed_at": moment(version.created_at),
        "purpose": declared.purpose,
        "replicate_plan": declared.replicate_plan,
        "provenance": declared.provenance,
        "standards": [citation(key) for key in declared.standards],
        "liquid": version.liquid.name if version.liquid else "",
        "drop_volume": number(version.drop_volume_ul, "µL"),
        "settings": settings,
        "note": version.note,
    }


def _instrument(stored, row):
    """The instrument with each calibration that was in force at one of the runs."""
    days = [run.observed_at.date() for run in stored.runs if run.instrument_id == row.pk]
    used = _each(calibration_of(row, when) for when in days)
    return {
        "code": row.code,
        "title": row.title,
        "model": row.model,
        "serial_number": row.serial_number,
        "software": row.software,
        "place": row.place,
        "in_service": row.is_in_service,
        "calibrations": [
            {
                "done_on": day(item.done_on),
                "due_on": day(item.due_on),
                "result": item.result,
                "certificate": item.certificate,
            }
            for item in used
        ],
    }


def calibration_of(instrument, when):
    """The last calibration on or before a day, or None."""
    done = [row for row in instrument.calibrations.all() if row.done_on <= when]
    return done[-1] if done else None


def _liquid(stored, lot):
    rows = [row for row in stored.properties if row.liquid_lot_id == lot.pk or row.liquid_id == lot.liquid_id]
    return {
        "lot": lot.code,
        "code": lot.liquid.code,
        "name": lot.liquid.name,
        "newtonian": lot.liquid.is_newtonian,
        "prepared_on": day(lot.prepared_on),
        "expires_on": day(lot.expires_on),
        "remark": lot.remark,
        "properties": [property_row(row) for row in rows],
    }


def _run(stored, run):
    return {
        "code": run.code,
        "coupon": stored.name(run.coupon_id),
        "role": stored.roles[run.coupon_id],
        "method": run.method.key,
        "method_title": str(run.method_version),
        "liquid": str(run.liquid_lot) if run.liquid_lot else "",
        "drop_volume": number(run.drop_volume_ul, "µL"),
        "dose": run.dose_text + (f" of {run.exposure_text}" if run.exposure_text else ""),
        "instrument": run.instrument.code if run.instrument else "",
        "temperature_c": run.room_temperature_c,
        "humidity_pct": run.room_humidity_pct,
        "observed_at": moment(run.observed_at),
        "entered_at": moment(run.created_at),
        "entered_late": run.late_by(run.readings.all()),
        "operators": ", ".join(row.person.full_name for row in run.operators.all()),
        "completed_by": run.completed_by.full_name if run.completed_by else "",
        "reviewed_by": run.reviewed_by.full_name if run.reviewed_by else "",
        "reviewed_at": moment(run.reviewed_at),
        "state": RUN_STATES[run.state],
        "remark": run.remark,
        "readings": [_reading(row) for row in sorted(run.readings.all(), key=attrgetter("in_order")) if row.is_current],
        "pairs": analysis.as_data(stored.results[run.code].pairs),
    }


def _reading(row):
    return {
        "quantity": row.quantity,
        "position": row.position,
        "drop": row.drop,
        "direction": row.direction,
        "value": row.value,
        "qualifier": row.qualifier,
        "reason": row.reason,
        "excluded": row.is_excluded,
        "excluded_because": row.excluded_because,
        "excluded_by": row.excluded_by.full_name if row.excluded_by else "",
        "corrected": row.replaces_id is not None,
    }


def _corrections(stored):
    """Each reading that replaced an earlier one: both values, who, when and why."""
    rows = {row.pk: row for run in stored.runs for row in run.readings.all()}
    names = {row.pk: run for run in stored.runs for row in run.readings.all()}
    newer = [row for row in rows.values() if row.replaces_id is not None]
    why = correction_reasons(newer)
    return [
        {
            "run": names[row.pk].code,
            "coupon": stored.name(names[row.pk].coupon_id),
            "quantity": row.quantity,
            "position": row.position,
            "drop": row.drop,
            "from": _shown(rows[row.replaces_id]),
            "to": _shown(row),
            "who": row.created_by.full_name,
            "when": moment(row.created_at),
            "why": why[row.pk],
        }
        for row in newer
    ]


def correction_reasons(rows) -> dict:
    """Why each reading replaced an earlier one, by its id, as the trail has it."""
    newer = [row.pk for row in rows if row.replaces_id is not None]
    events = Reading.pgh_event_models["insert"].objects.filter(pgh_obj__in=newer, pgh_label="insert")
    return {
        event.pgh_obj_id: event.pgh_context.metadata.get("why", "") for event in events.select_related("pgh_context")
    }


def _shown(row):
    if row.value is None or row.qualifier == "moved_on_placing":
        return QUALIFIERS[row.qualifier]
    unit = analysis.QUANTITIES[row.quantity].unit
    stayed = "> " if row.qualifier == "not_moved" else ""
    return f"{stayed}{row.value:g}{'' if unit in ('°', '') else ' '}{unit}"
