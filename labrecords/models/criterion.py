"""Specifications: criterion sets in numbered, frozen revisions."""

import pghistory
from django.db import models
from django.db.models import Q

from analysis import CRITERION_KINDS, ROLES
from labrecords.models.laboratory import Project
from labrecords.models.liquid import ChallengeLiquid, quantity_choices
from labrecords.models.record import NO_SLASH, Record, between, frozen, not_empty, one_of
from labrecords.models.run import DOSE_KINDS

SIDES = {"at_most": "at most", "at_least": "at least"}


def criterion_kind_choices():
    return [(key, kind.title) for key, kind in CRITERION_KINDS.items()]


@pghistory.track()
class CriterionSet(Record):
    PROJECT = "project"

    code = models.CharField(max_length=40, unique=True, validators=[NO_SLASH])
    title = models.CharField(max_length=200)
    project = models.ForeignKey(Project, models.PROTECT, null=True, blank=True, related_name="criterion_sets")

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [not_empty("criterionset_coded", "code")]

    def __str__(self):
        return f"{self.code} {self.title}"


@pghistory.track()
class CriterionRevision(Record):
    PROJECT = "criterion_set__project"

    criterion_set = models.ForeignKey(CriterionSet, models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    fixed_on = models.DateField("fixed on", help_text="The day from which it may be used; tests should start later.")
    when_inconclusive = models.TextField("what an inconclusive outcome leads to")
    note = models.TextField("what changed and why", blank=True)

    class Meta(Record.Meta):
        ordering = ["criterion_set__code", "number"]
        constraints = [
            models.UniqueConstraint(fields=["criterion_set", "number"], name="criterionrevision_numbered_once"),
            between("criterionrevision_number", "number", 1, 1e6),
            not_empty("criterionrevision_inconclusive", "when_inconclusive"),
        ]
        triggers = [*Record.Meta.triggers, frozen()]

    def __str__(self):
        return f"{self.criterion_set.code} revision {self.number}"


@pghistory.track()
class Criterion(Record):
    PROJECT = "revision__criterion_set__project"

    revision = models.ForeignKey(CriterionRevision, models.PROTECT, related_name="criteria")
    order = models.PositiveIntegerField()
    label = models.CharField(max_length=20)
    kind = models.CharField(max_length=40, choices=criterion_kind_choices)
    quantity = models.CharField(max_length=40, choices=quantity_choices)
    side = models.CharField(max_length=10, choices=list(SIDES.items()), default="at_most")
    limit = models.FloatField()
    parameters = models.JSONField(default=dict, blank=True)
    liquid = models.ForeignKey(ChallengeLiquid, models.PROTECT, null=True, blank=True, related_name="+")
    drop_volume_ul = models.FloatField("drop volume [µL]", null=True, blank=True)
    role = models.CharField(max_length=12, choices=list(ROLES.items()), default="treated")
    dose = models.FloatField(default=0)
    dose_kind = models.CharField(max_length=8, blank=True, choices=list(DOSE_KINDS.items()))
    wording = models.CharField(max_length=300, blank=True)

    class Meta(Record.Meta):
        ordering = ["revision", "order"]
        verbose_name_plural = "criteria"
        constraints = [
            models.UniqueConstraint(fields=["revision", "label"], name="criterion_labelled_once"),
            models.UniqueConstraint(fields=["revision", "order"], name="criterion_ordered_once"),
            one_of("criterion_side_known", "side", SIDES),
            between("criterion_limit_finite", "limit", -1e12, 1e12),
            models.CheckConstraint(
                name="criterion_dose_has_kind",
                condition=Q(dose=0, dose_kind="") | (Q(dose__gt=0) & ~Q(dose_kind="")),
                violation_error_message="a dose needs what it is counted in (cycles, h, L …); fresh is 0 without it",
            ),
        ]
        triggers = [*Record.Meta.triggers, frozen()]

    def __str__(self):
        return self.label
