"""Test runs and their readings. What was measured is never overwritten: a correction is a new row."""

from datetime import timedelta

import pghistory
import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Max, Q

import analysis
from analysis import EXPOSURES, LOST, MEASURED, NOT_MOVED, QUALIFIERS
from labrecords.models.coupon import CLOSED, Coupon
from labrecords.models.instrument import Instrument, MethodVersion, in_words, setting_rows
from labrecords.models.liquid import LiquidLot, quantity_choices
from labrecords.models.record import NO_SLASH, Record, between, not_empty, one_of

DRAFT, COMPLETE, REVIEWED = "draft", "complete", "reviewed"
RUN_STATES = {DRAFT: "draft", COMPLETE: "complete", REVIEWED: "reviewed (locked)"}
# A reading belongs into the record on the day it is taken; a day and a night leave room for a long shift. Whatever is
# entered later than this after it was observed is shown as entered late.
LATE_AFTER = timedelta(hours=24)
ENTERED = "readings entered"  # the reason that an entry has by itself; a correction needs its own
DOSE_KINDS = {"": "fresh", "cycles": "cycles", "s": "s", "min": "min", "h": "h", "d": "d", "L": "L", "m": "m"}


def exposure_choices():
    return [("", "none"), *((key, exposure.title) for key, exposure in EXPOSURES.items())]


def lateness(observed_at, entered_at) -> str:
    """How long after observation something was entered, in words; nothing when that was in time."""
    delay = entered_at - observed_at
    if delay <= LATE_AFTER:
        return ""
    return f"{delay.days} d" if delay.days > 2 else f"{delay // timedelta(hours=1)} h"


class RunQuerySet(models.QuerySet):
    def with_last_entry(self):
        """`entered_last`: when the last reading was entered, corrections apart."""
        return self.annotate(entered_last=Max("readings__created_at", filter=Q(readings__replaces=None)))

    def for_batch(self, batch):
        return self.filter(coupon__memberships__batch=batch)

    def with_names(self):
        """Everything a list or a report prints, in one query."""
        return self.select_related(
            "coupon",
            "method_version",
            "liquid_lot__liquid",
            "instrument",
            "created_by",
            "completed_by",
            "reviewed_by",
        )


@pghistory.track()
class TestRun(Record):
    """One coupon read with one method, one liquid, one drop volume, at one dose of an exposure."""

    PROJECT = "coupon__project"

    __test__ = False  # pytest would take the class for a test

    code = models.CharField(max_length=60, unique=True, validators=[NO_SLASH])
    coupon = models.ForeignKey(Coupon, models.PROTECT, related_name="runs")
    method_version = models.ForeignKey(MethodVersion, models.PROTECT, related_name="runs")
    liquid_lot = models.ForeignKey(LiquidLot, models.PROTECT, null=True, blank=True, related_name="runs")
    drop_volume_ul = models.FloatField("drop volume [µL]", null=True, blank=True)
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="runs")
    room_temperature_c = models.FloatField("room temperature [°C]", null=True, blank=True)
    room_humidity_pct = models.FloatField("relative humidity [%]", null=True, blank=True)
    observed_at = models.DateTimeField()
    dose = models.FloatField(default=0)
    dose_kind = models.CharField("dose in", max_length=8, blank=True, choices=list(DOSE_KINDS.items()))
    exposure_kind = models.CharField("kind of exposure", max_length=40, blank=True, choices=exposure_choices)
    exposure_conditions = models.JSONField("conditions of the exposure", default=dict, blank=True)
    exposure = models.CharField(
        "exposure in words",
        max_length=120,
        blank=True,
        help_text="What the dose is a dose of.",
    )
    not_recorded = models.CharField(
        "why a condition was not recorded", max_length=200, blank=True, help_text="Printed under deviations."
    )
    state = models.CharField(max_length=10, choices=list(RUN_STATES.items()), default=DRAFT)
    version = models.PositiveIntegerField(default=1, editable=False)
    completed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    completed_at = models.DateTimeField(null=True, blank=True)
    reviewed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    reviewed_at = models.DateTimeField(null=True, blank=True)
    remark = models.TextField(blank=True)

    objects = RunQuerySet.as_manager()

    class Meta(Record.Meta):
        ordering = ["observed_at", "id"]
        constraints = [
            not_empty("testrun_coded", "code"),
            one_of("testrun_state_known", "state", RUN_STATES),
            one_of("testrun_dose_kind_known", "dose_kind", DOSE_KINDS),
            between("testrun_volume", "drop_volume_ul", 0.001, 1e4),
            between("testrun_dose", "dose", 0, 1e9),
            between("testrun_humidity", "room_humidity_pct", 0, 100),
            between("testrun_temperature", "room_temperature_c", -100, 200),
            models.CheckConstraint(
                name="testrun_dose_has_kind",
                condition=Q(dose=0, dose_kind="") | (Q(dose__gt=0) & ~Q(dose_kind="")),
                violation_error_message="a dose needs what it is counted in (cycles, h, L …); fresh is 0 without it",
            ),
            models.CheckConstraint(
                name="testrun_exposure_has_dose",
                condition=Q(exposure_kind="", exposure_conditions={}) | (Q(dose__gt=0) & ~Q(exposure_kind="")),
                violation_error_message="an exposure needs its dose, and its conditions need its kind",
            ),
            models.CheckConstraint(
                name="testrun_completed_by_and_at",
                condition=Q(completed_by__isnull=True, completed_at__isnull=True, state=DRAFT)
                | Q(completed_by__isnull=False, completed_at__isnull=False),
            ),
            models.CheckConstraint(
                name="testrun_reviewed_by_and_at",
                condition=Q(reviewed_by__isnull=True, reviewed_at__isnull=True) & ~Q(state=REVIEWED)
                | Q(reviewed_by__isnull=False, reviewed_at__isnull=False, state=REVIEWED),
            ),
            models.CheckConstraint(
                name="testrun_reviewed_by_another",
                condition=Q(reviewed_by__isnull=True) | ~Q(reviewed_by=models.F("completed_by")),
                violation_error_message="who completed a run does not review it",
            ),
        ]
        triggers = [
            *Record.Meta.triggers,
            pgtrigger.Protect(
                name="locked_once_reviewed",
                operation=pgtrigger.Update,
                # But for a review that is lifted: the run is a draft again.
                condition=pgtrigger.Q(old__state=REVIEWED) & ~pgtrigger.Q(new__state=DRAFT),
            ),
        ]

    def __str__(self):
        return self.code

    @property
    def method(self):
        return self.method_version.declaration

    @property
    def is_locked(self):
        return self.state == REVIEWED

    @property
    def exposure_declared(self):
        return EXPOSURES.get(self.exposure_kind)

    @property
    def exposure_rows(self):
        """(label with unit, value) of each recorded condition of the exposure."""
        return setting_rows(self.exposure_declared.conditions, self.exposure_conditions) if self.exposure_kind else []

    @property
    def exposure_text(self):
        """What the coupon went through, in one line: kind, values of its conditions, words."""
        if not self.exposure_kind:
            return self.exposure
        declared = self.exposure_declared
        said = [in_words(setting, self.exposure_conditions.get(setting.key)) for setting in declared.conditions]
        said = ", ".join(filter(None, [*said, self.exposure]))
        return f"{declared.title}: {said}" if said else declared.title

    def late_by(self, readings):
        """How late the run or the last of its readings was entered, in words; corrections are no entries."""
        entered = [self.created_at, *(row.created_at for row in readings if row.replaces_id is None)]
        return lateness(self.observed_at, max(entered))

    @property
    def dose_text(self):
        return "fresh" if not self.dose else f"{self.dose:g} {self.dose_kind}"


@pghistory.track()
class RunOperator(Record):
    PROJECT = "run__coupon__project"

    run = models.ForeignKey(TestRun, models.PROTECT, related_name="operators")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["run", "person"], name="runoperator_once")]

    def __str__(self):
        return str(self.person)


class ReadingQuerySet(models.QuerySet):
    def current(self):
        """Without the rows that a later correction replaced."""
        return self.filter(is_current=True)


# Only this module's own constants are put into the text.
# A corrected typing error is no new reading.
_OPEN_COUPON_ONLY = f"""
    IF NEW.replaces_id IS NULL AND (
        SELECT coupon.state FROM labrecords_testrun run JOIN labrecords_coupon coupon ON coupon.id = run.coupon_id
        WHERE run.id = NEW.run_id) IN ({", ".join(repr(state) for state in CLOSED)}) THEN
        RAISE EXCEPTION 'a consumed, discarded or lost coupon takes no new readings';
    END IF;
    IF (SELECT run.state FROM labrecords_testrun run WHERE run.id = NEW.run_id) = '{REVIEWED}' THEN
        RAISE EXCEPTION 'a reviewed run takes no new readings';
    END IF;
    RETURN NEW;
"""  # noqa: S608


# Who overwrites a value that was saved says why, whatever the run's state and whichever way it comes in.
_CORRECTION_HAS_REASON = f"""
    IF NEW.replaces_id IS NOT NULL AND '{ENTERED}' = coalesce(
        nullif(current_setting('pghistory.context_metadata', true), '')::jsonb ->> 'why', '{ENTERED}') THEN
        RAISE EXCEPTION 'a correction of a stored reading needs its own reason';
    END IF;
    RETURN NEW;
"""


@pghistory.track()
class Reading(Record):
    """One observed number, or the statement that the drop did not move, moved at once, or was lost."""

    PROJECT = "run__coupon__project"

    run = models.ForeignKey(TestRun, models.PROTECT, related_name="readings")
    quantity = models.CharField(max_length=40, choices=quantity_choices)
    position = models.CharField(max_length=20, default="1")
    drop = models.PositiveIntegerField(default=1)
    direction = models.CharField("direction of the drop", max_length=20, blank=True)
    value = models.FloatField(null=True, blank=True)
    typed = models.CharField("as typed", max_length=40, blank=True)
    qualifier = models.CharField(max_length=20, choices=list(QUALIFIERS.items()), default=MEASURED)
    reason = models.CharField("reason of a lost reading", max_length=200, blank=True)
    is_current = models.BooleanField(default=True)
    replaces = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")
    excluded_because = models.CharField(max_length=200, blank=True)
    excluded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    objects = ReadingQuerySet.as_manager()

    class Meta(Record.Meta):
        ordering = ["run", "position", "drop", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["run", "quantity", "position", "drop", "direction"],
                condition=Q(is_current=True),
                name="reading_once",
            ),
            one_of("reading_qualifier_known", "qualifier", QUALIFIERS),
            between("reading_value_finite", "value", -1e12, 1e12),
            between("reading_drop", "drop", 1, 10000),
            models.CheckConstraint(
                name="reading_value_or_lost",
                condition=Q(qualifier=LOST, value__isnull=True) & ~Q(reason="")
                | ~Q(qualifier=LOST) & Q(value__isnull=False),
            ),
            models.CheckConstraint(
                name="reading_angle_within_180",
                condition=~Q(quantity__endswith="_angle") | Q(value__isnull=True) | Q(value__gte=0, value__lte=180),
            ),
            models.CheckConstraint(
                name="reading_not_moved_has_limit", condition=~Q(qualifier=NOT_MOVED) | Q(value__gt=0)
            ),
            models.CheckConstraint(
                name="reading_excluded_by_and_why",
                condition=Q(excluded_by__isnull=True, excluded_because="")
                | Q(excluded_by__isnull=False) & ~Q(excluded_because=""),
            ),
        ]
        triggers = [
            *Record.Meta.triggers,
            pgtrigger.ReadOnly(
                name="as_measured",
                fields=[
                    "run", "quantity", "position", "drop", "direction", "value", "typed", "qualifier", "reason",
                    "replaces", "created_at", "created_by",
                ],
            ),
            pgtrigger.Trigger(
                name="open_coupon_and_run", when=pgtrigger.Before, operation=pgtrigger.Insert, func=_OPEN_COUPON_ONLY
            ),
            pgtrigger.Trigger(
                name="correction_has_reason",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                func=_CORRECTION_HAS_REASON,
            ),
        ]  # fmt: skip

    def __str__(self):
        return f"{self.run} {self.quantity} {self.position}/{self.drop}"

    @property
    def is_excluded(self):
        return self.excluded_by_id is not None

    def as_record(self) -> analysis.Reading:
        """The reading as the analysis takes it."""
        return analysis.Reading(
            quantity=self.quantity,
            value=self.value,
            qualifier=self.qualifier,
            position=self.position,
            drop=self.drop,
            direction=self.direction,
            excluded=self.is_excluded,
            reason=self.excluded_because or self.reason,
            excluded_by=self.excluded_by.full_name if self.excluded_by else "",
        )

    @property
    def in_order(self):
        """Sort key of the drops as they were placed: position 10 comes after 9, not after 1."""
        place = int(self.position) if self.position.isdecimal() else float("inf")
        return (place, self.position, self.drop, self.direction, self.pk)
