"""Stored results: analyses of runs and batches, and qualifications with the file that was issued."""

import pghistory
import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import F, Func, Q, Value

from labrecords.models.batch import Batch
from labrecords.models.criterion import CriterionRevision
from labrecords.models.digest import digest_in_sql
from labrecords.models.record import Record, frozen, one_of
from labrecords.models.run import TestRun

VERDICTS = {"pass": "pass", "fail": "fail", "inconclusive": "inconclusive"}
# ISO/IEC 17025:2017, 7.8.8: a further document beside the issued report, or a new report in its place.
AMENDMENTS = {"amends": "amends it", "replaces": "replaces it"}


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
        # The trail does not hold the content: so it stays as it was computed.
        triggers = [*Record.Meta.triggers, pgtrigger.ReadOnly(name="as_computed", exclude=["is_current"])]

    def __str__(self):
        return f"analysis of {self.run or self.batch}"


# Only this project's own constants are put into the text. Reports of before there were signatures have no assessment;
# a new one always has.
_SIGNED_FOR = f"""
    SELECT * INTO way FROM labrecords_assessment WHERE id = NEW.assessment_id FOR UPDATE;
    SELECT * INTO content FROM labrecords_assessmentversion version
    WHERE version.assessment_id = way.id AND version.number = way.version;
    IF NOT FOUND OR way.state <> 'approved' THEN
        RAISE EXCEPTION 'a report is issued from an approved assessment only';
    END IF;
    IF ROW(NEW.batch_id, NEW.criterion_revision_id, NEW.amends_id, NEW.verdict)
        IS DISTINCT FROM ROW(way.batch_id, way.criterion_revision_id, way.amends_id, content.verdict)
        OR (NEW.evidence - 'report') IS DISTINCT FROM (content.evidence - 'report')
        OR (NEW.evidence #> '{{report,amends}}') IS DISTINCT FROM (content.evidence #> '{{report,amends}}') THEN
        RAISE EXCEPTION 'a report says what was approved and nothing else';
    END IF;
    SELECT count(*) INTO valid FROM labrecords_signature signature
    WHERE signature.assessment_id = way.id AND signature.version = way.version
    AND signature.meaning IN ('author', 'review', 'approval')
    AND signature.content_sha256 = content.content_sha256 AND signature.digest = {digest_in_sql("signature")};
    IF valid <> 3 THEN
        RAISE EXCEPTION 'a report needs the valid signatures of author, review and approval';
    END IF;
    IF NEW.amends_id IS NOT NULL AND NEW.batch_id <> (
        SELECT report.batch_id FROM labrecords_qualification report WHERE report.id = NEW.amends_id) THEN
        RAISE EXCEPTION 'a report amends one of the same batch';
    END IF;
    RETURN NEW;
"""  # noqa: S608


def _sha256_of_file():
    return Func(Func(F("file"), function="sha256"), Value("hex"), function="encode", output_field=models.CharField())


class QualificationQuerySet(models.QuerySet):
    def listed(self):
        """What lists need: without file, evidence and outcomes, with what amends or replaces each."""
        large = ("file", "evidence", "outcomes")
        return self.defer(*large).prefetch_related(
            models.Prefetch("amended_by", Qualification.objects.defer(*large)),
        )


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
    assessment = models.OneToOneField(
        "labrecords.Assessment", models.PROTECT, null=True, blank=True, editable=False, related_name="report"
    )
    amends = models.ForeignKey("self", models.PROTECT, null=True, blank=True, editable=False, related_name="amended_by")

    objects = QualificationQuerySet.as_manager()

    class Meta(Record.Meta):
        ordering = ["-issued_at", "-id"]
        constraints = [
            one_of("qualification_verdict_known", "verdict", VERDICTS),
            models.CheckConstraint(name="qualification_file_matches_sha256", condition=Q(sha256=_sha256_of_file())),
            models.UniqueConstraint(
                fields=["amends"],
                name="qualification_amended_once",
                violation_error_message="the report that it amends was amended already: amend the newest",
            ),
        ]
        triggers = [
            *Record.Meta.triggers,
            frozen(),
            pgtrigger.Trigger(
                name="signed_for",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                declare=[
                    ("way", "labrecords_assessment%ROWTYPE"),
                    ("content", "labrecords_assessmentversion%ROWTYPE"),
                    ("valid", "int"),
                ],
                func=_SIGNED_FOR,
            ),
        ]

    def __str__(self):
        return self.report_number

    @property
    def successor(self):
        """The report that amends or replaces this one, or None while this one stands."""
        return next(iter(self.amended_by.all()), None)
