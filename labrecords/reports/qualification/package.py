"""The files attached to a report: an open data package with readings, runs, recipe, criteria, results, evidence.

Everything comes out of the evidence; the same evidence gives the same files.
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import reportlab

import analysis
import labrecords
from labrecords.reports.qualification import columns, lines
from labrecords.reports.qualification.columns import READINGS, RESULTS, RUNS, PackageProblem

FORMAT = 1  # raised when a file gets another form
DESCRIPTOR = "datapackage.json"
PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
TABLES = {"readings.csv": READINGS, "runs.csv": RUNS, "results.csv": RESULTS}
ABOUT = {
    DESCRIPTOR: "what the attached files are, with their SHA-256 and the meaning of every column",
    "criteria.json": "the specification, and each criterion as it was judged",
    "evidence.json": "everything that the pages print, as data",
    "inputs.json": "settings of the methods and properties of the liquids and lubricants that each run was judged with",
    "readings.csv": "every reading of every run, also excluded, lost and replaced ones",
    "recipe.json": "the treatment: steps as planned and as done, lots, deviations",
    "results.csv": "every result of the report, in full and as printed",
    "runs.csv": "every run with its conditions, people and times",
}
KEYS = {"id": "readings.csv", "code": "runs.csv"}
_TREATMENT = ("recipe", "steps", "baths", "lubricants", "surface", "masses", "deviations")
_APART = ("inputs", "readings")  # of the evidence: they stand in files of their own


def files(evidence, made_with=None) -> dict[str, bytes]:
    """Name of each attached file with its bytes. `made_with`: the program, where it is not this one."""
    found = {
        "criteria.json": _json(
            {"specification": evidence["specification"], "criteria": evidence["inputs"]["criteria"]}
        ),
        "evidence.json": _json({key: value for key, value in evidence.items() if key not in _APART}),
        "inputs.json": _json({"runs": [_nested(run) for run in evidence["inputs"]["runs"]]}),
        "readings.csv": columns.written(READINGS, evidence["readings"]),
        "recipe.json": _json({name: evidence[name] for name in _TREATMENT}),
        "results.csv": columns.written(RESULTS, lines.of(evidence)),
        "runs.csv": columns.written(RUNS, _runs(evidence)),
    }
    return {DESCRIPTOR: _json(_descriptor(evidence["report"], found, made_with or this_program()))} | found


def evidence_of(attached: dict[str, bytes]) -> dict:
    """The evidence as the files hold it: the other way round."""
    missing = sorted(set(ABOUT) - set(attached))
    if missing:
        raise PackageProblem(f"not attached: {', '.join(missing)}")
    evidence, criteria, nested = (loaded(attached, f"{name}.json") for name in ("evidence", "criteria", "inputs"))
    flat = columns.read(RUNS, attached["runs.csv"], "runs.csv")
    try:
        apart = {run["code"]: run for run in nested["runs"]}
        taken = [{name: value for name, value in run.items() if name in _FLAT} | apart[run["code"]] for run in flat]
        found = {"runs": [_as_taken(run) for run in taken], "criteria": criteria["criteria"]}
    except (KeyError, TypeError) as problem:
        raise PackageProblem(f"runs.csv, criteria.json and inputs.json do not fit: {problem}") from None
    return evidence | {"inputs": found, "readings": columns.read(READINGS, attached["readings.csv"], "readings.csv")}


def loaded(attached, name) -> dict:
    """A JSON file of the package."""
    try:
        found = json.loads(attached[name].decode("utf-8"))
    except (UnicodeDecodeError, ValueError, RecursionError) as problem:
        raise PackageProblem(f"{name} cannot be read: {problem}") from None
    if not isinstance(found, dict):
        raise PackageProblem(f"{name} holds no object")
    return found


def _json(content) -> bytes:
    return json.dumps(content, sort_keys=True, ensure_ascii=False, indent=1, allow_nan=False).encode() + b"\n"


_PEOPLE = ("operators", "entered_at", "completed_by", "reviewed_by", "reviewed_at", "state", "remark")
# Of a run as the analysis takes it: what fills a column of runs.csv; the rest stands in inputs.json.
_FLAT = {column.name for column in RUNS} - {"code", "liquid_lot", *_PEOPLE}
_DATES = ("calibration_due", "observed_at")  # missing ones are None, as text they are empty


def _nested(run):
    return {name: value for name, value in run.items() if name not in _FLAT}


def _runs(evidence):
    printed = {run["code"]: run for run in evidence["runs"]}
    return [
        run | {name: printed[run["code"]][name] for name in _PEOPLE} | {"liquid_lot": printed[run["code"]]["liquid"]}
        for run in evidence["inputs"]["runs"]
    ]


def _as_taken(run):
    return run | {name: run[name] or None for name in _DATES}


@cache
def this_program() -> dict:
    """What the pages were drawn and the numbers were computed with; the digest changes with every line of code."""
    folder, digest = Path(labrecords.__file__).parent, hashlib.sha256()
    for path in sorted([*(folder / "reports").rglob("*.py"), *(folder.parent / "analysis").rglob("*.py")]):
        digest.update(path.read_bytes())
    return {
        "analysis": analysis.CODE_VERSION,
        "reportlab": reportlab.Version,
        "sources": f"sha256:{digest.hexdigest()}",
    }


def _descriptor(report, found, made_with):
    return {
        "$schema": PROFILE,
        "name": _name(report["number"]),
        "title": f"Evidence of test report {report['number']}",
        "description": "Readings, conditions and results behind the report that these files are attached to. Text "
        "that a spreadsheet would take for a formula has an apostrophe in front.",
        "created": datetime.fromtimestamp(report["issued_epoch"], UTC).isoformat(),
        "version": str(FORMAT),
        "made_with": made_with,
        "resources": [_resource(name, data) for name, data in found.items()],
    }


def _name(number):
    return "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in number.lower())


def _resource(name, data):
    stem, _, form = name.rpartition(".")
    facts = {
        "name": stem,
        "path": name,
        "description": ABOUT[name],
        "format": form,
        "mediatype": MEDIA[form],
        "encoding": "utf-8",
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
    }
    return facts | ({"type": "table", "schema": _schema(name)} if name in TABLES else {})


MEDIA = {"csv": "text/csv", "json": "application/json"}


def _schema(name):
    fields = [{"name": column.name, "type": column.kind, "description": column.meaning} for column in TABLES[name]]
    keys = [column["name"] for column in fields if KEYS.get(column["name"]) == name]
    schema = {"fields": fields, "missingValues": [""]} | ({"primaryKey": keys} if keys else {})
    if name == "readings.csv":
        schema["foreignKeys"] = [{"fields": ["run"], "reference": {"resource": "runs", "fields": ["code"]}}]
    return schema
