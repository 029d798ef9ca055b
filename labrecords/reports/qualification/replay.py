"""The numbers of a report computed again from the attached readings alone, by the same analysis."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import analysis
from labrecords.actions.evidence import Analysed, findings

PRINTED = (
    "quantity", "position", "drop", "direction", "value", "qualifier", "reason", "excluded", "excluded_because",
    "excluded_by",
)  # fmt: skip


def again(evidence) -> dict:
    """The evidence with every computed part made anew from its readings and inputs."""
    replayed = _analysed(evidence)
    judgement = analysis.judge(replayed.rules, replayed.records)
    readings = {run["code"]: [] for run in evidence["runs"]}
    for row in evidence["readings"]:
        readings[row["run"]].append(row)
    return evidence | {
        **findings.facts(replayed, judgement),
        "explanations": findings.explanations(replayed, judgement),
        "runs": [_run(replayed, run, readings[run["code"]]) for run in evidence["runs"]],
        "counts": evidence["counts"] | _counts(readings),
    }


def _analysed(evidence):
    rows = {}
    for row in evidence["readings"]:
        if row["state"] == "current":
            rows.setdefault(row["run"], []).append(_reading(row))
    plain = {run["code"]: _record(run, rows.get(run["code"], ())) for run in evidence["inputs"]["runs"]}
    records = [
        replace(plain[run["code"]], companion=plain[run["companion"]]) if run["companion"] else plain[run["code"]]
        for run in evidence["inputs"]["runs"]
    ]
    rules = [analysis.Criterion(**row) for row in evidence["inputs"]["criteria"]]
    return Analysed(records, rules, {row["code"]: row["mark"] or row["code"] for row in evidence["coupons"]})


def _reading(row):
    taken = {
        name: row[name] for name in ("quantity", "value", "qualifier", "position", "drop", "direction", "excluded")
    }
    return analysis.Reading(**taken, reason=row["excluded_because"] or row["reason"], excluded_by=row["excluded_by"])


def _record(run, readings):
    return analysis.Run(
        **run
        | {
            "readings": tuple(readings),
            "companion": None,
            "liquid": _material(run["liquid"]),
            "lubricant": _material(run["lubricant"]),
            "roughness_factor": _value(run["roughness_factor"]),
            "solid_angles": _values(run["solid_angles"]),
            "observed_at": _moment(datetime, run["observed_at"]),
            "calibration_due": _moment(date, run["calibration_due"]),
        }
    )


def _moment(kind, text):
    return kind.fromisoformat(text) if text else None


def _value(data):
    return analysis.Value(**data) if data else None


def _values(data):
    return {key: _value(value) for key, value in data.items()}


def _material(data):
    return analysis.Material(data["code"], data["name"], _values(data["properties"])) if data else None


def _run(replayed, run, rows):
    current = [row for row in rows if row["state"] == "current"]
    printed = [{name: row[name] for name in PRINTED} | {"corrected": row["replaces"] is not None} for row in current]
    return run | {"readings": printed, "pairs": analysis.as_data(replayed.results[run["code"]].pairs)}


def _counts(readings):
    rows = [row for found in readings.values() for row in found if row["state"] == "current"]
    named = ("not_moved", "moved_on_placing", "lost")
    return {
        "runs": len(readings),
        "readings": len(rows),
        "excluded": sum(row["excluded"] for row in rows),
        **{name: sum(row["qualifier"] == name for row in rows) for name in named},
    }
