"""A batch held against a criterion revision on its way to a report, and each version of its content."""

import pghistory
import pgtrigger
from django.db import models
from django.db.models import Q

from labrecords.models.batch import Batch
from labrecords.models.criterion import CriterionRevision
from labrecords.models.qualification import AMENDMENTS, VERDICTS, Qualification
from labrecords.models.record import Record, between, frozen, one_of

DRAFT, COMPLETE, REVIEWED, APPROVED, ISSUED, WITHDRAWN = (
    "draft", "complete", "reviewed", "approved", "issued", "withdrawn",
)  # fmt: skip
STATES = {state: state for state in (DRAFT, COMPLETE, REVIEWED, APPROVED, ISSUED, WITHDRAWN)}
OPEN = (DRAFT, COMPLETE, REVIEWED, APPROVED)
# What a signature means, in the order in which they are given, and the step that it takes.
AUTHOR, REVIEW, APPROVAL = "author", "review", "approval"
STEP_OF = {AUTHOR: (DRAFT, COMPLETE), REVIEW: (COMPLETE, REVIEWED), APPROVAL: (REVIEWED, APPROVED)}

# Only this module's own constants are put into the texts.
_STARTS = f"""
    IF NEW.state <> '{DRAFT}' OR NEW.version <> 1 THEN
        RAISE EXCEPTION 'an assessment starts as the draft of version 1';
    END IF;
    RETURN NEW;
"""
_ALLOWED = ", ".join(f"('{before}', '{after}', '{meaning}')" for meaning, (before, after) in STEP_OF.items())
_STEPS = f"""
    IF NEW.state = OLD.state AND NEW.version = OLD.version THEN
        RETURN NEW;
    END IF;
    IF OLD.state IN ('{ISSUED}', '{WITHDRAWN}') THEN
        RAISE EXCEPTION 'an issued or withdrawn assessment does not change';
    END IF;
    IF NEW.state <> '{ISSUED}' AND EXISTS (
        SELECT 1 FROM labrecords_qualification report WHERE report.assessment_id = OLD.id) THEN
        RAISE EXCEPTION 'the report of this assessment is issued';
    END IF;
    IF NEW.version <> OLD.version + (NEW.state = '{DRAFT}')::int THEN
        RAISE EXCEPTION 'only an assessment that is prepared anew gets a new version, the next one';
    END IF;
    IF NEW.state IN ('{DRAFT}', '{WITHDRAWN}') THEN
        RETURN NEW;
    END IF;
    IF NEW.state = '{ISSUED}' AND OLD.state = '{APPROVED}' THEN
        IF NOT EXISTS (SELECT 1 FROM labrecords_qualification report WHERE report.assessment_id = OLD.id) THEN
            RAISE EXCEPTION 'an assessment is issued with its report only';
        END IF;
        RETURN NEW;
    END IF;
    SELECT step.meaning INTO needed FROM (VALUES {_ALLOWED}) AS step(old, new, meaning)
    WHERE step.old = OLD.state AND step.new = NEW.state;
    IF needed IS NULL THEN
        RAISE EXCEPTION 'an assessment does not go from % to %', OLD.state, NEW.state;
    END IF;
    IF NOT EXISTS (
        SELECT 1 FROM labrecords_signature signature
        WHERE signature.assessment_id = OLD.id AND signature.version = NEW.version AND signature.meaning = needed) THEN
        RAISE EXCEPTION 'an assessment becomes % by a signature only', NEW.state;
    END IF;
    RETURN NEW;
"""  # noqa: S608
_OF_THE_DRAFT = f"""
    IF NOT EXISTS (
        SELECT 1 FROM labrecords_assessment assessment
        WHERE assessment.id = NEW.assessment_id AND assessment.version = NEW.number
        AND assessment.state = '{DRAFT}') THEN
        RAISE EXCEPTION 'content is stored with the draft of its version only';
    END IF;
    RETURN NEW;
"""  # noqa: S608


@pghistory.track()
class Assessment(Record):
    """The way from a tested batch to its report: who stands for it so far, and what comes next."""

    PROJECT = "batch__project"

    batch = models.ForeignKey(Batch, models.PROTECT, related_name="assessments")
    criterion_revision = models.ForeignKey(CriterionRevision, models.PROTECT, related_name="assessments")
    state = models.CharField(max_length=10, choices=list(STATES.items()), default=DRAFT)
    version = models.PositiveIntegerField(default=1, editable=False)
    amends = models.ForeignKey(
        Qualification, models.PROTECT, null=True, blank=True, related_name="amending", verbose_name="issued report"
    )
    amendment = models.CharField(
        "what the new report is to it", max_length=8, blank=True, choices=list(AMENDMENTS.items())
    )
    amendment_reason = models.TextField("what changes and why", blank=True)

    class Meta(Record.Meta):
        ordering = ["-id"]
        constraints = [
            one_of("assessment_state_known", "state", STATES),
            between("assessment_version", "version", 1, 1e6),
            models.CheckConstraint(
                name="assessment_amends_with_reason",
                condition=Q(amends__isnull=True, amendment="", amendment_reason="")
                | Q(amends__isnull=False, amendment__in=sorted(AMENDMENTS)) & ~Q(amendment_reason=""),
                violation_error_message="an amendment names the report, whether it amends or replaces it, and why",
            ),
            models.UniqueConstraint(
                fields=["batch", "criterion_revision"],
                condition=Q(state__in=OPEN),
                name="assessment_one_on_its_way",
                violation_error_message="this batch is on its way to a report by this specification already",
            ),
        ]
        triggers = [
            *Record.Meta.triggers,
            pgtrigger.ReadOnly(
                name="as_begun",
                fields=[
                    "batch", "criterion_revision", "amends", "amendment", "amendment_reason",
                    "created_at", "created_by",
                ],
            ),
            pgtrigger.Trigger(name="starts_as_draft", when=pgtrigger.Before, operation=pgtrigger.Insert, func=_STARTS),
            pgtrigger.Trigger(
                name="step_by_step",
                when=pgtrigger.Before,
                operation=pgtrigger.Update,
                declare=[("needed", "text")],
                func=_STEPS,
            ),
        ]  # fmt: skip

    def __str__(self):
        return f"assessment {self.pk}"

    @property
    def content(self):
        """The content as it is now: the version that counts."""
        return self.versions.get(number=self.version)

    @property
    def is_open(self):
        return self.state in OPEN


# The content itself is kept once; its SHA-256 stands in the trail.
@pghistory.track(exclude=["evidence"])
class AssessmentVersion(Record):
    """What is signed, whole and frozen. What is prepared anew is another version; earlier ones stay."""

    PROJECT = "assessment__batch__project"

    assessment = models.ForeignKey(Assessment, models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    evidence = models.JSONField()  # everything the report will print, but for number, date and signatures
    content_sha256 = models.CharField(max_length=64)
    verdict = models.CharField(max_length=12, choices=list(VERDICTS.items()))

    class Meta(Record.Meta):
        ordering = ["assessment", "number"]
        constraints = [
            models.UniqueConstraint(fields=["assessment", "number"], name="assessmentversion_numbered_once"),
            one_of("assessmentversion_verdict_known", "verdict", VERDICTS),
        ]
        triggers = [
            *Record.Meta.triggers,
            frozen(),
            pgtrigger.Trigger(
                name="of_the_draft", when=pgtrigger.Before, operation=pgtrigger.Insert, func=_OF_THE_DRAFT
            ),
        ]

    def __str__(self):
        return f"version {self.number} of {self.assessment}"
