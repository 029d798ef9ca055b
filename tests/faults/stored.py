"""The journal held against the database, by SQL past the product."""

from contextlib import closing

from tests.faults.figures import Figures
from tests.faults.load import DROPS

RUNS = """
    SELECT run.id, run.code, run.remark, run.state, run.version,
        (SELECT count(*) FROM labrecords_runoperator WHERE run_id = run.id),
        (SELECT count(*) FROM labrecords_analysis WHERE run_id = run.id AND is_current),
        (SELECT count(*) FROM labrecords_testrunevent WHERE pgh_obj_id = run.id)
    FROM labrecords_testrun run WHERE run.code LIKE %s OR run.remark LIKE %s
"""
READINGS = """
    SELECT reading.run_id, reading.drop, reading.value,
        (SELECT count(*) FROM labrecords_readingevent WHERE pgh_obj_id = reading.id)
    FROM labrecords_reading reading JOIN labrecords_testrun run ON run.id = reading.run_id
    WHERE run.code LIKE %s OR run.remark LIKE %s
"""


def half_runs(site, load):
    """Runs that are visible in part at this moment."""
    found = _Found(site, load.mark)
    return {run[0] for run in found.runs if found.is_half(run)}


def check(site, load, fault, tried, seconds, note="", half=frozenset()):
    """What of a load's work is lost, half or doubled. `half`: runs that were seen in part on the way."""
    found = _Found(site, load.mark)
    lost = [entry for entry in load.journal.lines if not found.has(entry)]
    return Figures(
        fault=fault,
        tried=tried,
        acknowledged=len(load.journal.lines),
        lost=len(lost),
        half=len({run[0] for run in found.runs if found.is_half(run)} | half),
        doubled=found.doubled(),
        wrong=len(load.refused),
        seconds=seconds,
        note=note,
    )


class _Found:
    def __init__(self, site, mark):
        pattern = f"{mark}-%"
        with closing(site.connect()) as connection, connection.transaction():
            connection.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")  # both at one moment
            self.runs = connection.execute(RUNS, [pattern, pattern]).fetchall()
            readings = connection.execute(READINGS, [pattern, pattern]).fetchall()
        self.readings = {}
        for run, drop, value, events in readings:
            self.readings.setdefault(run, []).append((drop, value, events))
        self.by_uid = {}
        for run in self.runs:
            self.by_uid.setdefault(run[2] or run[1], []).append(run)

    def has(self, entry):
        runs = self.by_uid.get(entry["uid"], [])
        if entry["kind"] == "run":
            return bool(runs)
        wanted = list(enumerate(entry["values"], 1))
        return any(sorted((d, v) for d, v, _ in self.readings.get(run[0], [])) == wanted for run in runs)

    def is_half(self, run):
        """A file's run is whole with readings, analysis, name and trail; an opened one may still be empty."""
        pk, _, remark, state, version, operators, analyses, events = run
        rows = self.readings.get(pk, [])
        is_empty = bool(remark) and not rows
        counts = (len(rows), analyses, version) in {(0, 0, 1)} if is_empty else len(rows) >= DROPS and analyses == 1
        traced = events >= version and all(count >= 1 for _, _, count in rows)
        return not (counts and operators == 1 and traced and (remark or state == "complete"))

    def doubled(self):
        """Runs of one work item beyond the first, and readings beyond one a drop."""
        runs = sum(len(runs) - 1 for runs in self.by_uid.values())
        return runs + sum(len(rows) - DROPS for rows in self.readings.values() if len(rows) > DROPS)
