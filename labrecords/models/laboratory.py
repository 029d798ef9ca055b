"""The lab itself (one row) and the projects it works for."""

import pghistory
import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Q

from labrecords.models.record import NO_SLASH, Record, not_empty


@pghistory.track()
class Laboratory(Record):
    """Name and address as they stand on reports, and how coupon codes are made."""

    PROJECT = None

    name = models.CharField(max_length=200)
    address = models.TextField()
    site = models.CharField(
        max_length=8, validators=[NO_SLASH], help_text="Short site code; it starts every coupon code."
    )
    coupon_scheme = models.CharField(
        max_length=80,
        validators=[NO_SLASH],
        default="{site}-{year:02d}-{number:04d}",
        help_text="Made of {site}, {year} and {number}; a check character is added at the end.",
    )
    last_coupon_number = models.PositiveIntegerField(default=0, editable=False)

    class Meta(Record.Meta):
        constraints = [
            models.CheckConstraint(name="laboratory_is_one_row", condition=Q(id=1)),
            models.CheckConstraint(name="laboratory_scheme_has_number", condition=Q(coupon_scheme__contains="{number")),
        ]
        triggers = [
            *Record.Meta.triggers,
            # A number that was given to a coupon is never given again.
            pgtrigger.Protect(
                name="coupon_numbers_only_grow",
                operation=pgtrigger.Update,
                condition=pgtrigger.Q(new__last_coupon_number__lt=pgtrigger.F("old__last_coupon_number")),
            ),
        ]

    def __str__(self):
        return self.name


@pghistory.track()
class Project(Record):
    PROJECT = "pk"

    code = models.CharField(max_length=30, unique=True)
    title = models.CharField(max_length=200)
    customer = models.CharField(max_length=200, blank=True)
    customer_contact = models.TextField(blank=True)
    members_only = models.BooleanField(
        "for members only", default=False, help_text="Its records are then not there for anybody who is no member."
    )

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [not_empty("project_coded", "code")]

    def __str__(self):
        return f"{self.code} {self.title}"


@pghistory.track()
class ProjectMember(Record):
    """A person who belongs to a project. The membership ends by a mark; the row stays, and another may follow."""

    PROJECT = "project"

    project = models.ForeignKey(Project, models.PROTECT, related_name="members")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="memberships")
    is_current = models.BooleanField(default=True)

    class Meta(Record.Meta):
        ordering = ["project", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "person"],
                condition=Q(is_current=True),
                name="projectmember_once",
                violation_error_message="this person is a member already",
            ),
        ]
        triggers = [
            *Record.Meta.triggers,
            pgtrigger.ReadOnly(name="who_and_where_stay", fields=["project", "person", "created_at", "created_by"]),
            pgtrigger.Protect(
                name="ended_once", operation=pgtrigger.Update, condition=pgtrigger.Q(old__is_current=False)
            ),
        ]

    def __str__(self):
        return f"{self.person} in {self.project.code}"
