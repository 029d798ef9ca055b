"""Stored results: analyses of runs and batches, and qualifications with the file that was issued."""

import pghistory
from django.conf import settings
from django.db import models
from django.db.models import F, Func, Q, Value

from labrecords.models.batch import Batch
from labrecords.models.criterion import CriterionRevision
from labrecords.models.record import Record, frozen, one_of
from labrecords.models.run import TestRun

VERDICTS = {"pass": "pass", "fail": "fail", "inconclusive": "inconclusive"}


# The content is derived from the readings, which carry their own trail.
@pghistory.track(exclude=["content"])
class Analysis(Record):
    """What a run's or a batch's readings mean, with the digest of what it was computed from."""

    PROJECT = ("run__coupon__project", "batch__project")

    run = models.ForeignKey(TestRun, models.PROTECT, null=True, blank=True, related_name="analyses")
    batch = models.ForeignKey(Batch, models.PROTECT, null=True, blank=True, related_name="analyses")
    content = models.JSONField()
    inputs_digest = models.CharField(max_length=64)
    code_version = models.CharField(max_length=40)
    is_current = models.BooleanField(default=True)

    class Meta(Record.Meta):
        ordering = ["id"]
        verbose_name_plural = "analyses"
        constraints = [
            models.CheckConstraint(
                name="analysis_of_run_or_batch",
                condition=Q(run__isnull=True, batch__isnull=False) | Q(run__isnull=False, batch__isnull=True),
            ),
            models.UniqueConstraint(fields=["run"], condition=Q(is_current=True), name="analysis_one_current_a_run"),
            models.UniqueConstraint(
                fields=["batch"], condition=Q(is_current=True), name="analysis_one_current_a_batch"
            ),
        ]

    def __str__(self):
        return f"analysis of {self.run or self.batch}"


def _sha256_of_file():
    return Func(Func(F("file"), function="sha256"), Value("hex"), function="encode", output_field=models.CharField())


# The file itself is kept once; its SHA-256 stands in the trail.
@pghistory.track(exclude=["file", "evidence"])
class Qualification(Record):
    """A batch held against a criterion revision, with the report exactly as it was issued."""

    PROJECT = "batch__project"
    IS_FOR_CUSTOMERS = True

    report_number = models.CharField(max_length=40, unique=True)
    batch = models.ForeignKey(Batch, models.PROTECT, related_name="qualifications")
    criterion_revision = models.ForeignKey(CriterionRevision, models.PROTECT, related_name="qualifications")
    verdict = models.CharField(max_length=12, choices=list(VERDICTS.items()))
    outcomes = models.JSONField()
    evidence = models.JSONField()  # everything the report prints, as it was on issue
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    file = models.BinaryField()
    sha256 = models.CharField(max_length=64)

    class Meta(Record.Meta):
        ordering = ["-issued_at", "-id"]
        constraints = [
            one_of("qualification_verdict_known", "verdict", VERDICTS),
            models.CheckConstraint(name="qualification_file_matches_sha256", condition=Q(sha256=_sha256_of_file())),
        ]
        triggers = [*Record.Meta.triggers, frozen()]

    def __str__(self):
        return self.report_number
