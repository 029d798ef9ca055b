"""What the numbers were computed from, in full: enough to compute them again without the database."""

from operator import attrgetter

import analysis
from labrecords.actions.evidence.stored import moment
from labrecords.actions.evidence.testing import correction_reasons


def facts(stored) -> dict:
    return {
        "inputs": {
            "runs": [_conditions(record) for record in stored.records],
            "criteria": [analysis.as_data(rule) for rule in stored.rules],
        },
        "readings": _readings(stored),
    }


def _conditions(record):
    """The run as the analysis took it, without its readings; its companion by code."""
    data = analysis.as_data(record)
    del data["readings"]
    return data | {"companion": record.companion.code if record.companion else ""}


def _readings(stored):
    """Every reading of every completed run, also those that a correction replaced, in the order of the drops."""
    rows = [(run, row) for run in stored.runs for row in sorted(run.readings.all(), key=attrgetter("in_order"))]
    why = correction_reasons([row for _, row in rows])
    return [_reading(run, row, why.get(row.pk, "")) for run, row in rows]


def _reading(run, row, why):
    return {
        "id": row.pk,
        "run": run.code,
        "quantity": row.quantity,
        "unit": analysis.QUANTITIES[row.quantity].unit,
        "position": row.position,
        "drop": row.drop,
        "direction": row.direction,
        "value": row.value,
        "typed": row.typed,
        "qualifier": row.qualifier,
        "reason": row.reason,
        "state": "current" if row.is_current else "replaced",
        "excluded": row.is_excluded,
        "excluded_by": row.excluded_by.full_name if row.excluded_by else "",
        "excluded_because": row.excluded_because,
        "replaces": row.replaces_id,
        "corrected_because": why,
        "entered_by": row.created_by.full_name,
        "entered_at": moment(row.created_at),
    }
