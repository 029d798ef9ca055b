"""Batches, what was really done to their coupons, and the deviations on the way."""

import pghistory
from django.conf import settings
from django.db import models
from django.db.models import F, Q

from analysis import ROLES
from labrecords.models.coupon import Coupon
from labrecords.models.laboratory import Project
from labrecords.models.liquid import BathLot, LubricantLot, _exactly_one
from labrecords.models.material import SubstrateLot
from labrecords.models.recipe import RecipeRevision, RecipeStep
from labrecords.models.record import NO_SLASH, Record, between, not_empty, one_of


@pghistory.track()
class Batch(Record):
    """Coupons that share substrate lot, recipe revision and treatment, with their control and reference coupons."""

    PROJECT = "project"

    code = models.CharField(max_length=40, unique=True, validators=[NO_SLASH])
    title = models.CharField(max_length=200, blank=True)
    project = models.ForeignKey(Project, models.PROTECT, null=True, blank=True, related_name="batches")
    recipe_revision = models.ForeignKey(RecipeRevision, models.PROTECT, related_name="batches")
    lot = models.ForeignKey(SubstrateLot, models.PROTECT, related_name="batches", verbose_name="substrate lot")
    treatment = models.CharField(max_length=200, blank=True)
    sampling = models.TextField("sampling plan", blank=True)
    remark = models.TextField(blank=True)

    class Meta(Record.Meta):
        ordering = ["code"]
        verbose_name_plural = "batches"
        constraints = [not_empty("batch_coded", "code")]

    def __str__(self):
        return self.code


@pghistory.track()
class BatchMember(Record):
    PROJECT = "batch__project"

    batch = models.ForeignKey(Batch, models.PROTECT, related_name="members")
    coupon = models.ForeignKey(Coupon, models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=12, choices=list(ROLES.items()), default="treated")

    class Meta(Record.Meta):
        ordering = ["batch", "coupon__number"]
        constraints = [
            models.UniqueConstraint(fields=["batch", "coupon"], name="batchmember_once"),
            models.UniqueConstraint(
                fields=["coupon"],
                condition=Q(role="treated"),
                name="batchmember_treated_in_one_batch",
                violation_error_message="a coupon is treated in one batch only",
            ),
            one_of("batchmember_role_known", "role", ROLES),
        ]

    def __str__(self):
        return f"{self.coupon} in {self.batch}"


@pghistory.track()
class ProcessRecord(Record):
    """One recipe step as it was really done to coupons of a batch."""

    PROJECT = "batch__project"

    batch = models.ForeignKey(Batch, models.PROTECT, related_name="process_records")
    step = models.ForeignKey(RecipeStep, models.PROTECT, related_name="process_records")
    operator = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    actual = models.JSONField(default=dict, blank=True)  # {field key: number or text}
    remark = models.TextField(blank=True)

    class Meta(Record.Meta):
        ordering = ["started_at", "id"]
        constraints = [
            models.CheckConstraint(
                name="processrecord_times",
                condition=Q(finished_at__gte=F("started_at")),
                violation_error_message="a step cannot end before it began",
            ),
        ]

    def __str__(self):
        return f"{self.batch} step {self.step}"

    @property
    def rows(self):
        """One row a value: label, unit, planned, actual, whether it lies within tolerance."""
        return self.step.declaration.compare(self.step.planned, self.actual)


@pghistory.track()
class ProcessedCoupon(Record):
    PROJECT = "process__batch__project"

    process = models.ForeignKey(ProcessRecord, models.PROTECT, related_name="processed")
    coupon = models.ForeignKey(Coupon, models.PROTECT, related_name="processed")
    mass_before_mg = models.FloatField("mass before [mg]", null=True, blank=True)
    mass_after_mg = models.FloatField("mass after [mg]", null=True, blank=True)
    rack_position = models.CharField(max_length=20, blank=True)

    class Meta(Record.Meta):
        ordering = ["process", "coupon__number"]
        constraints = [
            models.UniqueConstraint(fields=["process", "coupon"], name="processedcoupon_once"),
            between("processedcoupon_mass_before", "mass_before_mg", 0, 1e9),
            between("processedcoupon_mass_after", "mass_after_mg", 0, 1e9),
        ]

    def __str__(self):
        return f"{self.coupon}: {self.process}"


@pghistory.track()
class ProcessLot(Record):
    """A bath or lubricant lot that a step used."""

    PROJECT = "process__batch__project"

    process = models.ForeignKey(ProcessRecord, models.PROTECT, related_name="lots")
    bath_lot = models.ForeignKey(BathLot, models.PROTECT, null=True, blank=True, related_name="uses")
    lubricant_lot = models.ForeignKey(LubricantLot, models.PROTECT, null=True, blank=True, related_name="uses")

    class Meta(Record.Meta):
        constraints = [
            models.CheckConstraint(name="processlot_is_one_lot", condition=_exactly_one(["bath_lot", "lubricant_lot"]))
        ]

    def __str__(self):
        return str(self.bath_lot or self.lubricant_lot)


@pghistory.track()
class Deviation(Record):
    """What was not as planned, with its reason; it is printed in the report."""

    PROJECT = "batch__project"

    batch = models.ForeignKey(Batch, models.PROTECT, related_name="deviations")
    process = models.ForeignKey(ProcessRecord, models.PROTECT, null=True, blank=True, related_name="deviations")
    what = models.TextField()
    reason = models.TextField()
    impact = models.TextField(blank=True)

    class Meta(Record.Meta):
        ordering = ["id"]
        constraints = [not_empty("deviation_described", "what"), not_empty("deviation_explained", "reason")]

    def __str__(self):
        return self.what
