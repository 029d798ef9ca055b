"""Safety data sheets by which the lab works: where each lies and the date printed on it."""

import pghistory
import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Lower
from django.utils import timezone

from labrecords.models.record import Record, not_empty

OLD_AFTER_YEARS = 3  # when to ask for a newer edition: common practice, no source


class DataSheetQuerySet(models.QuerySet):
    def in_force(self):
        """The newest sheet of each material; one that was withdrawn takes those recorded before it along."""
        newer = DataSheet.objects.filter(material__iexact=OuterRef("material"), revised_on__gt=OuterRef("revised_on"))
        hides = newer.filter(Q(withdrawn_by=None) | Q(pk__gt=OuterRef("pk")))
        return self.filter(~Exists(hides), withdrawn_by=None)


@pghistory.track()
class DataSheet(Record):
    """One edition of the safety data sheet of a material; earlier editions stay to be seen."""

    PROJECT = None

    material = models.CharField(max_length=120, help_text="As it stands on the sheet, with the concentration.")
    hazards = models.JSONField(help_text="Cautions that it belongs to: its link is shown beside them.")
    place = models.CharField(
        "where it lies", max_length=300, help_text="An address that begins with https://, or a folder, shelf or number."
    )
    revised_on = models.DateField("date on the sheet", help_text="Of its edition or last revision.")
    withdrawn_because = models.CharField(max_length=200, blank=True)
    withdrawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    objects = DataSheetQuerySet.as_manager()

    class Meta(Record.Meta):
        ordering = [Lower("material"), "-revised_on"]
        constraints = [
            not_empty("datasheet_of_a_material", "material"),
            not_empty("datasheet_lies_somewhere", "place"),
            models.CheckConstraint(
                name="datasheet_has_hazards",
                condition=~Q(hazards=[]),
            ),
            models.UniqueConstraint(
                Lower("material"),
                "revised_on",
                name="datasheet_edition_once",
                condition=Q(withdrawn_by__isnull=True),
                violation_error_message="this edition is recorded already",
            ),
            models.CheckConstraint(
                name="datasheet_withdrawn_by_and_why",
                condition=Q(withdrawn_by__isnull=True, withdrawn_because="")
                | Q(withdrawn_by__isnull=False) & ~Q(withdrawn_because=""),
            ),
        ]
        triggers = [
            *Record.Meta.triggers,
            pgtrigger.ReadOnly(
                name="as_recorded",
                fields=["material", "hazards", "place", "revised_on", "created_at", "created_by"],
            ),
            pgtrigger.Protect(
                name="withdrawn_for_good",
                operation=pgtrigger.Update,
                condition=pgtrigger.Q(old__withdrawn_by__isnull=False),
            ),
        ]

    def __str__(self):
        return f"{self.material}, sheet of {self.revised_on}"

    @property
    def is_link(self) -> bool:
        return self.place.startswith(("https://", "http://"))

    @property
    def is_old(self) -> bool:
        """Whether it is time to ask for a newer edition; the sheet stays in force until there is one."""
        today = timezone.localdate()
        return (today.year - self.revised_on.year, today.month, today.day) > (
            OLD_AFTER_YEARS, self.revised_on.month, self.revised_on.day,
        )  # fmt: skip
