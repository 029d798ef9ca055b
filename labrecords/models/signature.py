"""Signatures: who stands for which content as what. The database fills in everything that could be forged."""

import pghistory
import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from labrecords import content
from labrecords.access import ROLES
from labrecords.models.assessment import APPROVAL, AUTHOR, REVIEW, STEP_OF, Assessment
from labrecords.models.digest import digest_in_sql
from labrecords.models.record import Record, frozen, one_of

MEANINGS = {AUTHOR: "author", REVIEW: "review", APPROVAL: "approval"}


# Only this project's own constants are put into the text.
_SIGNED = f"""
    SELECT * INTO signed FROM labrecords_assessment WHERE id = NEW.assessment_id FOR UPDATE;
    SELECT version.content_sha256 INTO NEW.content_sha256 FROM labrecords_assessmentversion version
    WHERE version.assessment_id = signed.id AND version.number = signed.version;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'there is no content to be signed';
    END IF;
    SELECT person.username, person.full_name, person.role INTO NEW.username, NEW.printed_name, NEW.role
    FROM labrecords_person person WHERE person.id = NEW.person_id AND person.is_active;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'a disabled person does not sign';
    END IF;
    IF (signed.state, NEW.meaning) NOT IN ({", ".join(f"('{old}', '{key}')" for key, (old, _) in STEP_OF.items())}) THEN
        RAISE EXCEPTION 'an assessment that is % takes no signature as %', signed.state, NEW.meaning;
    END IF;
    IF NEW.meaning <> '{AUTHOR}' AND EXISTS (
        SELECT 1 FROM labrecords_signature earlier
        WHERE earlier.assessment_id = signed.id AND earlier.version = signed.version
        AND earlier.meaning = '{AUTHOR}' AND earlier.person_id = NEW.person_id) THEN
        RAISE EXCEPTION 'who signed as author neither reviews nor approves';
    END IF;
    NEW.version := signed.version;
    NEW.signed_at := clock_timestamp();
    NEW.digest := {digest_in_sql("NEW")};
    RETURN NEW;
"""  # noqa: S608


@pghistory.track()
class Signature(Record):
    """One person's signature under one version of an assessment. Frozen; a wrong one is overtaken, never taken back."""

    PROJECT = "assessment__batch__project"

    assessment = models.ForeignKey(Assessment, models.PROTECT, related_name="signatures")
    version = models.PositiveIntegerField(default=0, editable=False)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    username = models.CharField("sign-in name", max_length=60, blank=True, editable=False)
    printed_name = models.CharField("name", max_length=120, blank=True, editable=False)
    role = models.CharField(max_length=20, blank=True, editable=False)
    meaning = models.CharField(max_length=10, choices=list(MEANINGS.items()))
    signed_at = models.DateTimeField(db_default=Now(), editable=False)
    content_sha256 = models.CharField(max_length=64, blank=True, editable=False)
    digest = models.CharField(max_length=64, blank=True, editable=False)

    class Meta(Record.Meta):
        ordering = ["assessment", "version", "id"]
        constraints = [
            one_of("signature_meaning_known", "meaning", MEANINGS),
            models.UniqueConstraint(fields=["assessment", "version", "meaning"], name="signature_once"),
            models.CheckConstraint(name="signature_by_who_signs", condition=Q(created_by=F("person"))),
        ]
        triggers = [
            *Record.Meta.triggers,
            frozen(),
            pgtrigger.Trigger(
                name="as_it_is_given",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                declare=[("signed", "labrecords_assessment%ROWTYPE")],
                func=_SIGNED,
            ),
        ]

    def __str__(self):
        return f"{self.get_meaning_display()} of {self.printed_name}, version {self.version} of {self.assessment}"

    @property
    def role_title(self):
        return ROLES.get(self.role, self.role)

    @property
    def facts(self) -> dict:
        """What the digest covers, in the words of `labrecords.content`."""
        return {
            "assessment": self.assessment_id,
            "version": self.version,
            "content_sha256": self.content_sha256,
            "person": self.person_id,
            "username": self.username,
            "name": self.printed_name,
            "role": self.role,
            "meaning": self.meaning,
            "signed_at": content.instant(self.signed_at),
        }
