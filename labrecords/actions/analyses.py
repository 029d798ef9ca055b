"""What is stored, handed to the analysis; what the analysis says, stored with what it was computed from."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from operator import attrgetter

from django.db.models import Exists, OuterRef, Prefetch
from django.utils import timezone

import analysis
from analysis import Material, Run, Value
from labrecords.actions.rows import hold
from labrecords.models import Analysis, Calibration, ProcessedCoupon, ProcessLot, Property, TestRun

FILLINGS = ProcessLot.objects.filter(process=OuterRef("process"), lubricant_lot__isnull=False)


def redo(*, by, run):
    """Analyse a run anew, and whatever else of its coupon rests on it (the fresh run of a trend, the angles beside
    sliding angles). Called inside the action that changed it; a result whose inputs are the same is kept.
    """
    _redo(by, TestRun.objects.filter(coupon=run.coupon_id))


def refresh(*, by, runs):
    """Analyse runs anew after something else changed that they rest on: a property, a calibration, a treatment."""
    coupons = hold(runs.order_by().values("coupon"))
    if coupons:
        _redo(by, TestRun.objects.filter(coupon__in=coupons))


def _redo(by, runs):
    pairs = records_with_baselines(runs)
    current = {
        row.run_id: row for row in Analysis.objects.filter(run__in=[item.pk for item, _, _ in pairs], is_current=True)
    }
    for item, record, baseline in pairs:
        if record.readings:
            _store(
                by,
                current.get(item.pk),
                [record, baseline],
                lambda pair: analysis.analyse_run(*pair),
                run=item,
            )


def batch_records(batch) -> list[Run]:
    """Every completed run of the batch's coupons as analysis records, with the coupon's role in this batch."""
    roles = dict(batch.members.values_list("coupon_id", "role"))
    runs = _complete(TestRun.objects.filter(coupon__in=roles))
    return Records(runs, roles=roles, batch=batch).all()


def batch_result(batch):
    return analysis.analyse_batch(batch_records(batch))


def records_with_baselines(runs):
    """(run, record, baseline) of each run: the baseline is the same coupon's fresh run with the same method, liquid
    and volume; None for a fresh run and where there is none.
    """
    runs = list(_with_everything(runs))
    records = Records(runs).all()
    return [(item, record, baseline(record, records)) for item, record in zip(runs, records, strict=True)]


def baseline(record, records):
    """For a run after a dose: the coupon's own fresh run, same method, same liquid, same volume."""
    if not record.dose:
        return None
    fresh = [
        other
        for other in records
        if not other.dose
        and (other.coupon, other.method, other.drop_volume_ul) == (record.coupon, record.method, record.drop_volume_ul)
        and (other.liquid and other.liquid.code) == (record.liquid and record.liquid.code)
    ]
    return fresh[-1] if fresh else None


class Records:
    """Stored runs turned into analysis records with a fixed number of queries, however many runs there are."""

    def __init__(self, runs, *, roles=None, batch=None):
        self.runs = list(runs)
        self.roles = roles or {}
        self.batch = batch
        self._properties = self._load_properties()
        self._due = self._load_due_dates()

    def all(self) -> list[Run]:
        plain = [self._record(run) for run in self.runs]
        return [self._with_companion(run, record, plain) for run, record in zip(self.runs, plain, strict=True)]

    def _load_properties(self):
        found = {}
        for row in Property.objects.all():
            for owner in ("liquid_id", "liquid_lot_id", "lubricant_id", "lubricant_lot_id", "recipe_id"):
                if getattr(row, owner):
                    found.setdefault((owner, getattr(row, owner)), []).append(row)
        return found

    def _load_due_dates(self):
        due = {}
        for row in Calibration.objects.filter(instrument__in={run.instrument_id for run in self.runs}):
            due.setdefault(row.instrument_id, []).append(row)
        return due

    def _record(self, run) -> Run:
        recipe_id, lubricant_lot = self._treatment(run)
        liquid = run.liquid_lot and self._liquid(run.liquid_lot)
        return Run(
            code=run.code,
            coupon=run.coupon.code,
            method=run.method_version.method,
            readings=tuple(
                row.as_record() for row in sorted(run.readings.all(), key=attrgetter("in_order")) if row.is_current
            ),
            settings=run.method_version.settings,
            method_version=str(run.method_version.number),
            role=self.roles.get(run.coupon_id) or self._role(run),
            liquid=liquid,
            drop_volume_ul=run.drop_volume_ul,
            dose=run.dose,
            dose_kind=run.dose_kind,
            exposure=run.exposure_text,
            room_temperature_c=run.room_temperature_c,
            room_humidity_pct=run.room_humidity_pct,
            observed_at=timezone.localtime(run.observed_at),  # days are those of the lab, not of UTC
            calibration_due=self._calibration_due(run),
            instrument=run.instrument.code if run.instrument else "",
            coupon_area_mm2=run.coupon.exposed_area_mm2,
            roughness_factor=self._of_recipe(recipe_id, "roughness_factor"),
            solid_angles=self._solid_angles(recipe_id, run, lubricant_lot),
            lubricant=lubricant_lot and self._lubricant(lubricant_lot, run),
            is_textured=self._is_textured(run),
        )

    def _with_companion(self, run, record, plain):
        """The angles of the same coupon, liquid, volume and dose, for checks that need them beside sliding angles."""
        if analysis.METHODS[record.method].pair:
            return record
        for other_run, other in zip(self.runs, plain, strict=True):
            same = (other_run.coupon_id, other.dose, other.dose_kind) == (
                run.coupon_id,
                record.dose,
                record.dose_kind,
            )
            if same and analysis.METHODS[other.method].pair and _liquid_of(other_run) == _liquid_of(run):
                return replace(record, companion=other)
        return record

    def _memberships(self, run):
        rows = run.coupon.memberships.all()
        return [row for row in rows if row.batch_id == self.batch.pk] if self.batch else list(rows)

    def _role(self, run):
        rows = self._memberships(run)
        return rows[0].role if rows else analysis.TREATED

    def _treatment(self, run):
        """Recipe and lubricant lot of a treated coupon: an untreated control has neither."""
        for row in self._memberships(run):
            if row.role == analysis.TREATED:
                lots = [
                    lot.lubricant_lot
                    for done in run.coupon.filled
                    for lot in done.process.lots.all()
                    if lot.lubricant_lot_id
                ]
                return row.batch.recipe_revision.recipe_id, lots[-1] if lots else None
        return None, None

    def _is_textured(self, run):
        return any(
            row.role == analysis.TREATED and row.batch.recipe_revision.is_textured for row in self._memberships(run)
        )

    def _of_recipe(self, recipe_id, quantity):
        rows = [row for row in self._properties.get(("recipe_id", recipe_id), []) if row.quantity == quantity]
        return _value(rows[-1]) if rows else None

    def _solid_angles(self, recipe_id, run, lubricant_lot):
        """Angles on the smooth functionalised solid, of this run's liquid and of the lubricant."""
        angles = {}
        for row in self._properties.get(("recipe_id", recipe_id), []):
            if row.quantity != "smooth_angle":
                continue
            if run.liquid_lot and row.against_liquid_id == run.liquid_lot.liquid_id:
                angles["liquid"] = _value(row)
            if lubricant_lot and row.against_lubricant_id == lubricant_lot.lubricant_id:
                angles["lubricant"] = _value(row)
        return angles

    def _liquid(self, lot):
        return Material(
            lot.liquid.code,
            lot.liquid.name,
            self._merged(("liquid_id", lot.liquid_id), ("liquid_lot_id", lot.pk)),
        )

    def _lubricant(self, lot, run):
        """The lubricant's properties; its interfacial tension only where it is known to the run's own liquid."""
        owners = (("lubricant_id", lot.lubricant_id), ("lubricant_lot_id", lot.pk))
        properties = self._merged(*owners, liquid_id=run.liquid_lot and run.liquid_lot.liquid_id)
        return Material(lot.lubricant.code, lot.lubricant.name, properties)

    def _merged(self, *owners, liquid_id=None):
        """Newest value of each quantity; a lot's own goes before its liquid's."""
        merged = {}
        for owner in owners:
            for row in self._properties.get(owner, []):
                if row.against_liquid_id in (None, liquid_id):
                    merged[row.quantity] = _value(row)
        return merged

    def _calibration_due(self, run):
        day = timezone.localtime(run.observed_at).date()
        done = [row for row in self._due.get(run.instrument_id, []) if row.done_on <= day]
        return done[-1].due_on if done else None


def _value(row):
    unit = analysis.QUANTITIES[row.quantity].unit or "1"
    return Value(row.value, unit, row.source, uncertainty=row.uncertainty, temperature_c=row.temperature_c)


def _liquid_of(run):
    return run.liquid_lot.liquid_id if run.liquid_lot else None


def _complete(runs):
    return _with_everything(runs.exclude(state="draft"))


def _with_everything(runs):
    return runs.select_related("method_version", "liquid_lot__liquid", "instrument").prefetch_related(
        "readings__excluded_by",
        # One coupon object for all of its runs, so that what belongs to it is attached once.
        "coupon__memberships__batch__recipe_revision__steps",
        # Of a dozen steps a coupon went through, the few that put a lubricant on it.
        Prefetch("coupon__processed", ProcessedCoupon.objects.filter(Exists(FILLINGS)), to_attr="filled"),
        "coupon__filled__process__lots__lubricant_lot__lubricant",
    )


def _store(by, current, inputs, analyse, **owner):
    digest = hashlib.sha256(json.dumps(analysis.as_data(inputs), sort_keys=True).encode()).hexdigest()
    if current and (current.inputs_digest, current.code_version) == (digest, analysis.CODE_VERSION):
        return current
    if current:
        Analysis.objects.filter(pk=current.pk).update(is_current=False)
    content = analysis.as_data(analyse(inputs))
    return Analysis.objects.create(
        content=content, inputs_digest=digest, code_version=analysis.CODE_VERSION, created_by=by, **owner
    )
