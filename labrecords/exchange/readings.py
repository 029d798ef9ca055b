"""Readings in from a tidy file: whole file or nothing, each refusal with line, column, value and rule."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.db import IntegrityError
from django.db.models import Prefetch
from django.utils import timezone

from analysis import METHODS, reading_problems
from labrecords import access, trail
from labrecords.actions import attachments, runs
from labrecords.actions.rows import hold
from labrecords.errors import ConditionMissing, Refusal, ValueRefused
from labrecords.exchange import conditions, drops, tidy
from labrecords.exchange.conditions import Lookup
from labrecords.models import Reading, TestRun
from labrecords.models.run import DRAFT, RUN_STATES
from labrecords.visibility import visible

REQUIRED = ("run", *conditions.REQUIRED, *drops.REQUIRED)
OPTIONAL = (*conditions.OPTIONAL, *drops.OPTIONAL)
_COLUMN = {"liquid_lot": "liquid", "code": "run", "why": "reason"}


@dataclass
class ImportReport:
    runs_added: int = 0
    readings_added: int = 0
    runs_known: int = 0
    readings_known: int = 0
    drafts: list[str] = field(default_factory=list)  # touched runs that still lack a required reading


def import_file(*, by, data: bytes, name: str, why=None, defaults=None) -> ImportReport:
    """Store the readings of a UTF-8 file. Raises FileRefused with every refusal, and then nothing is stored.

    `defaults`: conditions of runs whose file does not state them, by column (see conditions.DEFAULTS).
    """
    refusals = tidy.Refusals()
    new = _Import(by, refusals, defaults)
    rows = tidy.read(data, required=REQUIRED, optional=OPTIONAL, refusals=refusals)
    return new.store(rows, why or f"imported from {name}", file=(name, data))


def import_rows(*, by, rows: list[dict], name: str, why=None, defaults=None) -> ImportReport:
    """The same for rows as csv.DictReader gives them; the first one counts as line 2."""
    new = _Import(by, tidy.Refusals(), defaults)
    if rows:
        tidy.check_header(list(rows[0]), 1, required=REQUIRED, optional=OPTIONAL)
    lines = [
        tidy.Row(line, {column: str(text or "").strip() for column, text in row.items()})
        for line, row in enumerate(rows, start=2)
    ]
    return new.store(lines, why or f"imported from {name}")


class _Import:
    """One import: rows gathered to runs, checked, compared with what is stored, stored."""

    def __init__(self, by, refusals, defaults):
        for action in ("enter", "record", "complete"):
            access.check(by, f"runs.{action}")
        self.by, self.refusals, self.report, self.now = by, refusals, ImportReport(), timezone.now()
        self.lookup, self.touched = Lookup(by), []
        stated = {column: text for column, text in (defaults or {}).items() if text not in (None, "", (), [])}
        self.defaults = {column: self._default(column, value) for column, value in stated.items()}

    def store(self, rows, why, file=None):
        """`file`: name and bytes as they came; they are kept beside the runs that something was read into."""
        groups = {}
        for row in rows:
            if row.text("run"):
                groups.setdefault(row.text("run"), []).append(row)
            else:
                self.refusals.add(row.line, "run", "", "is missing")
        self.lookup = Lookup(self.by, (row.text("coupon") for row in rows))
        read = [(code, group, self._conditions(group)) for code, group in groups.items()]
        # Fresh runs and angle pairs first: the analysis of the others refers to them.
        read = sorted((item for item in read if item[2]), key=_order)
        with trail.recorded(self.by.username, why):
            hold([found["coupon"].pk for _, _, found in read])
            stored = {run.code: run for run in visible(_stored(groups), self.by)}
            for code, group, found in read:
                if code in stored:
                    self._known(stored[code], group, found)
                else:
                    self._new(code, group, found)
            self.refusals.end()
            if file and self.touched:
                name, data = file
                known = [run for run in stored.values() if run not in self.touched]
                attachments.keep_import(by=self.by, runs=self.touched, name=name, data=data, known=known)
        return self.report

    def _default(self, column, value):
        if column not in conditions.DEFAULTS:
            raise ValueRefused(
                field=column,
                label="Default",
                value=column,
                rule="is no condition that can be given for all runs",
            )
        return self.lookup.read(column, tuple(value) if isinstance(value, list) else value)

    def _conditions(self, group):
        """What the lines of one run say of it, by column; None when a line was refused."""
        found, first, before = {}, {}, len(self.refusals.lines)
        for row in group:
            for column in (*conditions.REQUIRED, *conditions.OPTIONAL):
                self._condition(found, first, column, row)
        try:
            if "dose" in found:
                conditions.dose_of(found)
        except Refusal as refusal:
            self.refusals.take(group[0].line, refusal.field, refusal.details["value"], refusal)
        return found if len(self.refusals.lines) == before else None

    def _condition(self, found, first, column, row):
        """One cell. An optional condition may stand in any line of the run, a required one stands in each."""
        text = row.text(column)
        try:
            value = self.lookup.read(column, text) if text else self._empty(column, row)
        except Refusal as refusal:
            return self.refusals.take(row.line, column, text, refusal)
        if column not in first:
            if text or column in conditions.REQUIRED:
                first[column], found[column] = row, value
        elif value != found[column] and (text or column in conditions.REQUIRED):
            stated = first[column]
            rule = f"differs from “{stated.text(column)}” in line {stated.line} of the same run"
            self.refusals.add(row.line, column, text, rule)
        return None

    def _empty(self, column, row):
        """What an empty cell of a run's condition means: nothing, where the method can do without."""
        method = METHODS.get(row.text("method"))
        is_condition = column in ("liquid", "drop_volume_ul")
        if column in conditions.REQUIRED and not is_condition:
            rule = "is missing; 0 means fresh" if column == "dose" else "is missing"
            raise ValueRefused(field=column, label=column, value="", rule=rule)
        if is_condition and method and column in method.conditions:
            rule = f"is missing: method “{method.title}” cannot be read without it"
            raise ValueRefused(field=column, label=column, value="", rule=rule)

    def _new(self, code, group, found):
        first = group[0]
        try:
            fields = conditions.settle(self.defaults | found, self.lookup, self.by, self.now)
        except Refusal as refusal:
            return self._refuse(first, refusal)
        typed = self._readings(group, fields["method_version"])
        if typed is None:
            return None
        try:
            run = runs.enter(by=self.by, code=code, **fields)
            runs.record(by=self.by, run=run, readings=list(typed.values()))
        except IntegrityError:
            rule = "was stored by somebody else at this moment; import the file again"
            return self.refusals.add(first.line, "run", code, rule)
        except Refusal as refusal:
            return self._refuse(first, refusal)
        self.touched.append(run)
        self.report.runs_added += 1
        self.report.readings_added += len(typed)
        return self._complete(run)

    def _known(self, run, group, found):
        first = group[0]
        for column, value in conditions.differences(run, found):
            rule = f"differs from the stored run {run.code}, which has {_shown(value)}"
            self.refusals.add(first.line, column, first.text(column), rule)
        typed = self._readings(group, run.method_version, run.readings.all())
        if typed is None:
            return None
        self.report.runs_known += 1
        self.report.readings_known += len(group) - len(typed)
        if not typed:
            return None
        if run.state != DRAFT:
            line = next(iter(typed))
            state = RUN_STATES[run.state]
            rule = f"is {state} and this reading is new: reopen the run, or enter a run of its own"
            return self.refusals.add(line, "run", run.code, rule)
        try:
            runs.record(by=self.by, run=run, readings=list(typed.values()))
        except Refusal as refusal:
            return self._refuse(first, refusal)
        self.touched.append(run)
        self.report.readings_added += len(typed)
        return self._complete(run)

    def _readings(self, group, version, stored=()):
        """Line -> typed reading of what is new in the lines of one run; None when a line was refused."""
        before, new, records, lines = len(self.refusals.lines), {}, [], []
        current = {drops.place(row): row for row in stored if row.is_current}
        ever = {drops.told(row) for row in stored}
        for row in group:
            typed = drops.typed_reading(row, version, self.refusals)
            if typed is None:
                continue
            record, there = drops.as_typed(typed, version), current.get(typed.place)
            if there is None:
                new[row.line] = typed
            elif drops.told(record) not in ever:
                rule = f"is stored as {drops.text(there)}; correct it on the run page with a reason"
                self.refusals.add(row.line, "value", row.text("value"), rule)
            records.append(drops.as_stored(there) if there else record)
            lines.append(row)
        named = {drops.place(record) for record in records}
        records += [drops.as_stored(row) for place, row in current.items() if place not in named]
        self._check(version, records, lines)
        return new if len(self.refusals.lines) == before else None

    def _check(self, version, records, lines):
        """The whole run as it would stand. A problem at a stored reading is told at its drop's line."""
        for problem in reading_problems(version.method, version.settings, records):
            at = records[problem.index]
            same_drop = [
                row
                for row, record in zip(lines, records, strict=False)
                if drops.place(record)[1:] == drops.place(at)[1:]
            ]
            row = lines[problem.index] if problem.index < len(lines) else (same_drop or lines)[0]
            self.refusals.add(row.line, problem.field, row.text(problem.field), problem.rule)

    def _complete(self, run):
        try:
            runs.complete(by=self.by, run=run)
        except ConditionMissing:
            self.report.drafts.append(run.code)

    def _refuse(self, row, refusal):
        column = _COLUMN.get(refusal.field, refusal.field)
        column = column if column in REQUIRED or column in OPTIONAL else "run"
        self.refusals.take(row.line, column, row.text(column), refusal)


def _stored(codes):
    everything = Prefetch("readings", Reading.objects.select_related("excluded_by"))
    return TestRun.objects.with_names().prefetch_related(everything, "operators__person").filter(code__in=codes)


def _order(item):
    _, _, found = item
    return bool(found["dose"][0]), METHODS[found["method"]].pair is None


def _shown(value):
    return getattr(value, "code", None) or ("nothing" if value in (None, "") else str(value))
