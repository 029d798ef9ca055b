"""Test plates: each has a code that is never reused, a parent, and a state with a history."""

import pghistory
import pgtrigger
from django.db import models
from django.db.models import F, Q

from labrecords.models.laboratory import Project
from labrecords.models.material import SubstrateLot
from labrecords.models.record import Record, between, one_of

STATES = {
    "in_stock": "in stock",
    "in_process": "in process",
    "ready": "ready",
    "in_test": "in test",
    "exposed": "exposed",
    "consumed": "consumed",
    "retained": "retained",
    "discarded": "discarded",
    "lost": "lost",
}
# A coupon in one of these takes no new readings; "lost" can be found again, the other two are final.
CLOSED = ("consumed", "discarded", "lost")
MOVES = {
    "in_stock": {"in_process", "ready", "in_test", "exposed", "consumed", "retained", "discarded", "lost"},
    "in_process": {"in_stock", "ready", "in_test", "consumed", "retained", "discarded", "lost"},
    "ready": {"in_process", "in_test", "exposed", "consumed", "retained", "discarded", "lost"},
    "in_test": {"ready", "in_process", "exposed", "consumed", "retained", "discarded", "lost"},
    "exposed": {"in_process", "in_test", "ready", "consumed", "retained", "discarded", "lost"},
    "retained": {"in_test", "exposed", "consumed", "discarded", "lost"},
    "lost": {"in_stock", "ready", "in_test", "retained", "discarded"},
    "consumed": set(),
    "discarded": set(),
}


class CouponQuerySet(models.QuerySet):
    def open(self):
        return self.exclude(state__in=CLOSED)

    def found_by(self, words):
        """Coupons whose code, mark, place, lot or material holds every word."""
        found = self
        for word in words.split():
            found = found.filter(
                Q(code__icontains=word)
                | Q(mark__icontains=word)
                | Q(place__icontains=word)
                | Q(lot__code__icontains=word)
                | Q(lot__material__icontains=word)
            )
        return found


@pghistory.track()
class Coupon(Record):
    PROJECT = "project"

    code = models.CharField(max_length=60, unique=True, editable=False)
    number = models.PositiveIntegerField(unique=True, editable=False)
    mark = models.CharField("mark on the coupon", max_length=20, blank=True, help_text="What is engraved or stamped.")
    lot = models.ForeignKey(SubstrateLot, models.PROTECT, related_name="coupons", verbose_name="substrate lot")
    project = models.ForeignKey(Project, models.PROTECT, null=True, blank=True, related_name="coupons")
    parent = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="children")
    position = models.CharField("position in the sheet or parent", max_length=40, blank=True)
    orientation = models.CharField("orientation to the rolling or warp direction", max_length=40, blank=True)
    length_mm = models.FloatField("length [mm]", null=True, blank=True)
    width_mm = models.FloatField("width [mm]", null=True, blank=True)
    exposed_area_mm2 = models.FloatField("exposed area [mm²]", null=True, blank=True)
    marked_face = models.CharField(max_length=40, blank=True)
    place = models.CharField(max_length=80, blank=True, help_text="Box, rack slot, cabinet.")
    state = models.CharField(max_length=12, choices=list(STATES.items()), default="in_stock")
    remark = models.TextField(blank=True)

    objects = CouponQuerySet.as_manager()

    class Meta(Record.Meta):
        ordering = ["number"]
        constraints = [
            one_of("coupon_state_known", "state", STATES),
            between("coupon_length", "length_mm", 0.01, 1e5),
            between("coupon_width", "width_mm", 0.01, 1e5),
            between("coupon_area", "exposed_area_mm2", 0.01, 1e9),
            models.CheckConstraint(name="coupon_not_its_own_parent", condition=~Q(parent=F("id"))),
            models.CheckConstraint(name="coupon_code_readable", condition=Q(code__regex=r"^[0-9A-Z-]{4,}$")),
        ]
        # What is engraved, printed and reported stays: a code is never changed, so none comes free for another coupon.
        triggers = [*Record.Meta.triggers, pgtrigger.ReadOnly(name="code_stays", fields=["code", "number"])]

    def __str__(self):
        return f"{self.code} ({self.mark})" if self.mark else self.code

    @property
    def is_closed(self):
        return self.state in CLOSED
