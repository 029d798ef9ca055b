"""The lab itself (one row) and the projects it works for."""

import pghistory
from django.db import models
from django.db.models import Q

from labrecords.models.record import NO_SLASH, Record, not_empty


@pghistory.track()
class Laboratory(Record):
    """Name and address as they stand on reports, and how coupon codes are made."""

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

    def __str__(self):
        return self.name


@pghistory.track()
class Project(Record):
    code = models.CharField(max_length=30, unique=True)
    title = models.CharField(max_length=200)
    customer = models.CharField(max_length=200, blank=True)
    customer_contact = models.TextField(blank=True)

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [not_empty("project_coded", "code")]

    def __str__(self):
        return f"{self.code} {self.title}"
