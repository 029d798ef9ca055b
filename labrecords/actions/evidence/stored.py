"""The rows that a report rests on, loaded with a fixed number of queries whatever the number of coupons."""

from __future__ import annotations

from functools import cached_property

from django.db.models import Q
from django.utils import timezone

import analysis
from analysis import METHODS, ROLES
from labrecords.actions import analyses
from labrecords.actions.analyses import baseline
from labrecords.models import ProcessRecord, Property, TestRun


class Analysed:
    """What follows from analysis records alone, wherever they came from: rows, or the files attached to a report."""

    def __init__(self, records, rules, marks):
        self.records = records
        self.rules = rules  # analysis.Criterion, in the order of the specification
        self.marks = marks  # code of a coupon -> what people call it

    @cached_property
    def results(self):
        """One RunResult a run, by its code, computed as of now from the readings."""
        return {record.code: analysis.analyse_run(record, baseline(record, self.records)) for record in self.records}

    @cached_property
    def groups(self):
        """Treated coupons first, then controls, then references."""
        order = list(analysis.ROLES)
        return sorted(analysis.analyse_batch(self.records).groups, key=lambda group: order.index(group.role))


class Stored(Analysed):
    """A batch and a criterion revision (or none yet) with everything that belongs to them."""

    def __init__(self, batch, revision):
        self.batch, self.revision = batch, revision
        order = list(analysis.ROLES)
        members = batch.members.select_related("coupon__lot", "coupon__parent")
        self.members = sorted(members, key=lambda member: (order.index(member.role), member.coupon.number))
        self.coupons = {member.coupon_id: member.coupon for member in self.members}
        self.roles = {member.coupon_id: member.role for member in self.members}

    @cached_property
    def criteria(self):
        return list(self.revision.criteria.select_related("liquid")) if self.revision else []

    @cached_property
    def all_runs(self):
        runs = TestRun.objects.filter(coupon__in=self.coupons).with_names()
        runs = runs.select_related("method_version__liquid")
        return list(
            runs.prefetch_related(
                "readings__excluded_by",
                "readings__created_by",
                "operators__person",
                "instrument__calibrations",
                "instrument__events",
            )
        )

    @property
    def runs(self):
        return [run for run in self.all_runs if run.state != "draft"]

    @cached_property
    def records(self):
        return analyses.batch_records(self.batch)

    @cached_property
    def rules(self):
        return [record_for(row) for row in self.criteria]

    @cached_property
    def marks(self):
        return {coupon.code: coupon.mark or coupon.code for coupon in self.coupons.values()}

    @cached_property
    def steps(self):
        return list(self.batch.recipe_revision.steps.all())

    @cached_property
    def processes(self):
        rows = ProcessRecord.objects.filter(batch=self.batch).select_related("step", "operator")
        return list(rows.prefetch_related("processed", "lots__bath_lot", "lots__lubricant_lot__lubricant"))

    @cached_property
    def lots(self):
        """Bath and lubricant lots used, each once: (kind, row), in the order of use."""
        found = {}
        for process in self.processes:
            for use in process.lots.all():
                row = use.bath_lot or use.lubricant_lot
                found.setdefault((type(row).__name__, row.pk), row)
        return [(kind, row) for (kind, _), row in found.items()]

    @cached_property
    def properties(self):
        """Of the challenge liquids, lubricants, their lots and the recipe's surface: newest last."""
        liquid_lots = [run.liquid_lot for run in self.runs if run.liquid_lot_id]
        lubricants = [row for kind, row in self.lots if kind == "LubricantLot"]
        wanted = (
            Q(liquid__in={lot.liquid_id for lot in liquid_lots})
            | Q(liquid_lot__in={lot.pk for lot in liquid_lots})
            | Q(lubricant__in={lot.lubricant_id for lot in lubricants})
            | Q(lubricant_lot__in={lot.pk for lot in lubricants})
            | Q(recipe=self.batch.recipe_revision.recipe_id)
        )
        rows = Property.objects.filter(wanted)
        return list(
            rows.select_related(
                "liquid", "liquid_lot", "lubricant", "lubricant_lot", "against_liquid", "against_lubricant"
            )
        )

    def name(self, coupon_id) -> str:
        """The coupon as people call it: its mark with the code."""
        return str(self.coupons[coupon_id])

    def names(self, coupon_ids) -> str:
        wanted = set(coupon_ids)
        return ", ".join(str(coupon) for pk, coupon in self.coupons.items() if pk in wanted)


def record_for(criterion) -> analysis.Criterion:
    """The stored criterion as the analysis takes it."""
    return analysis.Criterion(
        label=criterion.label,
        kind=criterion.kind,
        quantity=criterion.quantity,
        limit=criterion.limit,
        parameters=criterion.parameters,
        side=criterion.side,
        liquid=criterion.liquid.code if criterion.liquid else "",
        drop_volume_ul=criterion.drop_volume_ul,
        role=criterion.role,
        dose=criterion.dose,
        dose_kind=criterion.dose_kind,
        wording=criterion.wording,
    )


def title_of(group) -> str:
    """The group in words: role, method, liquid, volume, dose."""
    parts = [METHODS[group.method].title, group.liquid]
    parts.append(f"{group.drop_volume_ul:g} µL" if group.drop_volume_ul is not None else "")
    parts.append(f"after {group.dose:g} {group.dose_kind}" if group.dose else "fresh")
    parts.append(group.exposure)
    return f"{ROLES[group.role].capitalize()} coupons: {', '.join(part for part in parts if part)}"


def moment(value) -> str:
    """A time as the report prints it, in the zone that the report names; empty when there is none."""
    return f"{timezone.localtime(value):%Y-%m-%d %H:%M}" if value else ""


def day(value) -> str:
    return value.isoformat() if value else ""


def number(value, unit="") -> str:
    return "" if value is None else f"{value:g} {unit}".rstrip()
