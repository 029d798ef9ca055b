"""The whole life of a record as rules for Hypothesis, beside a model of it in plain Python."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

from django.db import DatabaseError, connection, transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from labrecords import trail
from labrecords.actions import coupons, requests, runs
from labrecords.errors import (
    ConditionMissing,
    CouponConsumed,
    KeyReused,
    NotFromThisState,
    ReasonMissing,
    Refusal,
    RunLocked,
    SavedByOther,
    ValueRefused,
)
from labrecords.exchange.readings import import_file
from labrecords.models import Analysis, Coupon, Reading, TestRun
from labrecords.models.coupon import CLOSED, MOVES
from tests import factories

DROPS = st.integers(1, 4)
VALUES = st.integers(10, 290).map(lambda tenths: tenths / 10)
PICK = st.integers(0, 9)
_unique = itertools.count(1)


@dataclass
class Cell:
    """One drop of a run: every value it ever had, and why it is left out."""

    values: list
    excluded: str = ""


@dataclass
class RunModel:
    row: TestRun
    coupon: CouponModel
    state: str = "draft"
    version: int = 1
    cells: dict = field(default_factory=dict)


@dataclass
class CouponModel:
    row: Coupon
    state: str = "in_stock"
    runs: list = field(default_factory=list)


class Materials:
    """What all lives share: made once."""

    def __init__(self):
        self.people = [factories.make_person(role) for role in ("operator", "quality", "quality")]
        self.by = self.people[1]
        self.version = factories.make_method_version(self.by)
        self.lot, self.rig = factories.make_liquid_lot(self.by), factories.make_instrument(self.by)
        self.sheet = factories.make_lot(self.by)


class Life(RuleBasedStateMachine):
    materials: Materials  # set by whoever runs it

    @initialize()
    def begin(self):
        self.coupons, self.runs, self.touched = [], [], None
        self.log(0)

    # What people do -----------------------------------------------------------------------------------------

    @rule(who=PICK)
    def log(self, who):
        by, why = self._acting(who)
        [row] = coupons.log(by=by, why=why, lot=self.materials.sheet, exposed_area_mm2=1600.0)
        assert row.code not in {coupon.row.code for coupon in self.coupons}
        self.coupons.append(CouponModel(row))
        self._traced(row, by, why)

    @rule(pick=PICK, who=PICK)
    def open_run(self, pick, who):
        coupon, (by, why) = self._of(self.coupons, pick), self._acting(who)
        if coupon.state in CLOSED:
            self._refused(CouponConsumed, lambda: self._enter(coupon, by, why))
            return
        row = self._enter(coupon, by, why)
        self._took(coupon)
        self._add(RunModel(row, coupon))
        self._traced(row, by, why)

    @precondition(lambda self: self.runs)
    @rule(pick=PICK, who=PICK, drop=DROPS, value=VALUES, gives_reason=st.booleans(), is_stale=st.booleans())
    def enter(self, pick, who, drop, value, gives_reason, is_stale):
        run, (by, why) = self._of(self.runs, pick), self._acting(who)
        said = {"why": why} if gives_reason else {}
        version = run.version - 1 if is_stale else run.version

        def save():
            return runs.record(by=by, run=run.row, readings=_typed({drop: value}), version=version, **said)

        changes = run.cells[drop].values[-1] != value if drop in run.cells else True
        refusal = self._refusal_of_entry(run, drop, changes, gives_reason, is_stale)
        if refusal:
            self._refused(refusal, save, run)
            return
        saved = save()
        if changes:
            self._keep(run, drop, value)
            self._traced(_current(run, drop), by, why if gives_reason else "readings entered")
        assert saved.version == run.version

    @precondition(lambda self: self.runs)
    @rule(pick=PICK, who=PICK, drop=DROPS, is_blank=st.booleans())
    def exclude(self, pick, who, drop, is_blank):
        run, (by, why) = self._of(self.runs, pick), self._acting(who)
        if drop not in run.cells:
            return
        reading = _current(run, drop)
        if is_blank or run.state == "reviewed" or run.cells[drop].excluded:
            refusal = ReasonMissing if is_blank else RunLocked if run.state == "reviewed" else ValueRefused
            self._refused(refusal, lambda: runs.exclude(by=by, why=" " if is_blank else why, reading=reading), run)
            return
        runs.exclude(by=by, why=why, reading=reading)
        run.cells[drop].excluded, run.version = why, run.version + 1
        self._traced(reading, by, why)

    @precondition(lambda self: self.runs)
    @rule(pick=PICK, who=PICK, drop=DROPS)
    def include(self, pick, who, drop):
        run, (by, why) = self._of(self.runs, pick), self._acting(who)
        if drop not in run.cells:
            return
        reading = _current(run, drop)
        if run.state == "reviewed" or not run.cells[drop].excluded:
            refusal = RunLocked if run.state == "reviewed" else ValueRefused
            self._refused(refusal, lambda: runs.include(by=by, why=why, reading=reading), run)
            return
        runs.include(by=by, why=why, reading=reading)
        run.cells[drop].excluded, run.version = "", run.version + 1
        self._traced(reading, by, why)

    @precondition(lambda self: self.runs)
    @rule(pick=PICK, who=PICK)
    def complete(self, pick, who):
        refusals = {"reviewed": RunLocked, "complete": NotFromThisState}
        run, (by, why) = self._of(self.runs, pick), self._acting(who)
        refusal = refusals.get(run.state) or (None if run.cells else ConditionMissing)
        self._step(run, by, why, runs.complete, refusal, "complete")

    @precondition(lambda self: self.runs)
    @rule(pick=PICK, who=PICK)
    def reopen(self, pick, who):
        run, (by, why) = self._of(self.runs, pick), self._acting(who)
        refusal = {"reviewed": RunLocked, "draft": NotFromThisState}.get(run.state)
        self._step(run, by, why, runs.reopen, refusal, "draft")

    @precondition(lambda self: any(run.state == "complete" for run in self.runs))
    @rule(pick=PICK, who=PICK)
    def review(self, pick, who):
        waiting = [run for run in self.runs if run.state == "complete"]
        run, (by, why) = self._of(waiting, pick), self._acting(who)
        took_part = by.username in {run.row.completed, *run.row.names}
        if by.role != "quality":
            self._refused(Refusal, lambda: runs.review(by=by, why=why, run=run.row), run)
            return
        self._step(run, by, why, runs.review, ValueRefused if took_part else None, "reviewed")

    @rule(pick=PICK, who=PICK, count=st.integers(0, 2))
    def split(self, pick, who, count):
        coupon, (by, why) = self._of(self.coupons, pick), self._acting(who)
        pieces = [{"mark": str(number)} for number in range(count)]
        if coupon.state in CLOSED or not count:
            refusal = NotFromThisState if coupon.state in CLOSED else ValueRefused
            self._refused(refusal, lambda: coupons.split(by=by, why=why, coupon=coupon.row, pieces=pieces))
            return
        children = coupons.split(by=by, why=why, coupon=coupon.row, pieces=pieces)
        assert len(children) == count
        assert {child.parent_id for child in children} == {coupon.row.pk}
        coupon.state = "consumed"
        self.coupons += [CouponModel(child) for child in children]
        self._traced(coupon.row, by, why)

    @rule(pick=PICK, who=PICK, state=st.sampled_from(["ready", "in_test", "retained", "lost", "discarded", "in_stock"]))
    def move(self, pick, who, state):
        coupon, (by, why) = self._of(self.coupons, pick), self._acting(who)
        if state not in MOVES[coupon.state]:
            self._refused(NotFromThisState, lambda: coupons.move(by=by, why=why, coupon=coupon.row, state=state))
            return
        coupons.move(by=by, why=why, coupon=coupon.row, state=state)
        coupon.state = state
        self._traced(coupon.row, by, why)

    @rule(pick=PICK, who=PICK, values=st.lists(VALUES, min_size=1, max_size=3))
    def import_twice(self, pick, who, values):
        """A file with a run; the second time everything in it is known."""
        coupon, (by, why) = self._of(self.coupons, pick), self._acting(who)
        code = f"L-{next(_unique)}-{coupon.row.pk}"
        file = self._file(code, coupon, values)

        def store():
            return import_file(by=by, data=file, name="rig.csv", why=why)

        if coupon.state in CLOSED:
            self._refused(Refusal, store)
            return
        assert (store().runs_added, store().readings_known) == (1, len(values))
        self._took(coupon)
        run = RunModel(TestRun.objects.get(code=code), coupon, state="complete", version=3)
        run.cells = {drop: Cell([value]) for drop, value in enumerate(values, 1)}
        self._add(run)
        self._traced(run.row, by, why)

    @precondition(lambda self: self.runs)
    @rule(pick=PICK, who=PICK, drop=DROPS, value=VALUES)
    def send_twice(self, pick, who, drop, value):
        """The same request with the same key is done once; with the key, another one is refused."""
        run, (by, why) = self._of(self.runs, pick), self._acting(who)
        changes = run.cells[drop].values[-1] != value if drop in run.cells else True
        if self._refusal_of_entry(run, drop, changes, True, False) or not changes:
            return
        key, done = f"key-{next(_unique)}", 0
        for _ in range(2):
            with requests.once(by=by, key=key, digest="one") as claim:
                if not claim.is_answered:
                    runs.record(by=by, why=why, run=run.row, readings=_typed({drop: value}), version=run.version)
                    claim.status, done = 200, done + 1
        assert done == 1, "a request that was sent again was done again"
        self._keep(run, drop, value)
        try:
            with requests.once(by=by, key=key, digest="another"):
                raise AssertionError("a key was taken for another request")
        except KeyReused:
            pass

    @precondition(lambda self: any(run.cells for run in self.runs))
    @rule(pick=PICK, attack=st.sampled_from(["value", "delete", "unlock", "nameless"]))
    def tamper(self, pick, attack):
        """Past the actions; the database itself refuses."""
        run = self._of([run for run in self.runs if run.cells], pick)
        rows = Reading.objects.filter(run=run.row)
        attempts = {
            "value": lambda: rows.update(value=1.25),
            "delete": lambda: rows._raw_delete("default"),
            "unlock": lambda: TestRun.objects.filter(pk=run.row.pk).update(remark="altered"),
            "nameless": lambda: rows.update(is_current=False),
        }
        if attack == "unlock" and run.state != "reviewed":
            return
        try:
            if attack == "nameless":
                with transaction.atomic():
                    attempts[attack]()
            else:
                with trail.recorded("intruder", "tampering"):
                    attempts[attack]()
        except DatabaseError:
            return
        raise AssertionError(f"the database let through: {attack}")

    # What always holds ---------------------------------------------------------------------------------------

    @invariant()
    def nothing_measured_has_changed_or_gone(self):
        run = self.touched
        if run is None:
            return
        found, current = {}, {}
        for row in Reading.objects.filter(run=run.row).order_by("id"):
            found.setdefault(row.drop, []).append(row.value)
            if row.is_current:
                assert row.drop not in current
                current[row.drop] = (row.value, row.excluded_because)
                assert bool(row.excluded_by_id) == bool(row.excluded_because)
        assert found == {drop: cell.values for drop, cell in run.cells.items()}
        assert current == {drop: (cell.values[-1], cell.excluded) for drop, cell in run.cells.items()}

    @invariant()
    def state_and_version_are_as_told(self):
        if self.touched is not None:
            row = TestRun.objects.get(pk=self.touched.row.pk)
            assert (row.state, row.version) == (self.touched.state, self.touched.version)

    @invariant()
    def states_of_coupons_are_as_told(self):
        if getattr(self, "coupons", None):
            stored = dict(Coupon.objects.filter(pk__in=[one.row.pk for one in self.coupons]).values_list("pk", "state"))
            assert stored == {one.row.pk: one.state for one in self.coupons}

    @invariant()
    def result_counts_what_is_stored(self):
        run = self.touched
        if run is None or not run.cells:
            return
        [content] = Analysis.objects.filter(run=run.row, is_current=True).values_list("content", flat=True)
        excluded = sum(bool(cell.excluded) for cell in run.cells.values())
        assert (content["n_readings"], content["n_excluded"]) == (len(run.cells), excluded)

    # How the rules are written ------------------------------------------------------------------------------

    def _acting(self, who):
        people = self.materials.people
        return people[who % len(people)], f"because of {next(_unique)}"

    def _of(self, rows, pick):
        row = rows[pick % len(rows)]
        if isinstance(row, RunModel):
            self.touched = row
        return row

    def _add(self, run):
        run.row.names = list(run.row.operators.values_list("person__username", flat=True))
        run.row.completed = run.row.completed_by.username if run.row.completed_by_id else ""
        self.runs.append(run)
        self.touched = run

    def _enter(self, coupon, by, why):
        return factories.make_run(
            by,
            coupon=coupon.row,
            method_version=self.materials.version,
            liquid_lot=self.materials.lot,
            instrument=self.materials.rig,
            why=why,
        )

    def _took(self, coupon):
        if coupon.state in ("ready", "in_stock"):
            coupon.state = "in_test"

    def _keep(self, run, drop, value):
        run.cells.setdefault(drop, Cell([])).values.append(value)
        run.version += 1

    def _refusal_of_entry(self, run, drop, changes, gives_reason, is_stale):
        if run.state == "reviewed":
            return RunLocked
        if is_stale:
            return SavedByOther
        if run.coupon.state in CLOSED and changes and drop not in run.cells:
            return CouponConsumed
        if drop in run.cells and changes and not gives_reason:
            return ReasonMissing
        return None

    def _step(self, run, by, why, verb, refusal, state):
        if refusal:
            self._refused(refusal, lambda: verb(by=by, why=why, run=run.row), run)
            return
        verb(by=by, why=why, run=run.row)
        run.state, run.version = state, run.version + 1
        run.row.completed = {"complete": by.username, "draft": ""}.get(state, run.row.completed)
        self._traced(run.row, by, why)

    def _refused(self, refusal, attempt, run=None):
        """Refused in this way, and nothing of it is in the trail."""
        before = _entries(run)
        try:
            attempt()
        except refusal:
            assert _entries(run) == before
            return
        raise AssertionError(f"{refusal.__name__} was due")

    def _traced(self, row, by, why):
        """The newest entry of the row says who and why."""
        said = row.events.select_related("pgh_context").order_by("-pgh_id").first().pgh_context.metadata
        assert (said["who"], said["why"]) == (by.username, why)

    def _file(self, code, coupon, values):
        shared = {
            "run": code,
            "coupon": coupon.row.code,
            "method": "sliding_angle",
            "method_version": self.materials.version.number,
            "liquid": self.materials.lot.code,
            "drop_volume_ul": 10,
            "instrument": self.materials.rig.code,
            "room_temperature_c": 23,
            "room_humidity_pct": 50,
            "observed_at": "2026-03-02T10:00:00+00:00",
            "dose": 0,
            "position": 1,
            "quantity": "sliding_angle",
            "qualifier": "measured",
        }
        lines = [",".join([*shared, "drop", "value"])]
        lines += [",".join(map(str, [*shared.values(), drop, value])) for drop, value in enumerate(values, 1)]
        return ("\n".join(lines) + "\n").encode()


def _typed(values):
    return [runs.Typed(quantity="sliding_angle", drop=drop, value=value) for drop, value in values.items()]


def _current(run, drop):
    return Reading.objects.get(run=run.row, drop=drop, is_current=True)


def _entries(run):
    if run is None:
        return 0
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT (SELECT count(*) FROM labrecords_testrunevent WHERE pgh_obj_id = %s),"
            " (SELECT count(*) FROM labrecords_readingevent WHERE run_id = %s)",
            [run.row.pk, run.row.pk],
        )
        return cursor.fetchone()
