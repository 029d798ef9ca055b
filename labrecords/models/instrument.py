"""Instruments with their calibrations, and the lab's own versions of the declared test methods."""

import pghistory
from django.db import models
from django.db.models import F, Q

from analysis import METHODS
from labrecords.models.liquid import ChallengeLiquid
from labrecords.models.record import Record, between, frozen, not_empty


def setting_rows(declared, stored):
    """(label with unit, value) of each stored setting, in the order in which they are declared; choices in words."""
    rows = []
    for setting in declared:
        value = stored.get(setting.key)
        if value not in (None, ""):
            label = f"{setting.label} [{setting.unit}]" if setting.unit else setting.label
            rows.append((label, dict(setting.choices).get(value, value)))
    return rows


def in_words(setting, value):
    """One stored setting as short text with its unit; empty when there is none."""
    if value in (None, ""):
        return ""
    text = f"{value:g}".replace("-", "−") if isinstance(value, int | float) else dict(setting.choices).get(value, value)
    return f"{text}{setting.unit if setting.unit == '°' else f' {setting.unit}'}".rstrip()


def method_choices():
    return [(key, method.title) for key, method in METHODS.items()]


@pghistory.track()
class Instrument(Record):
    PROJECT = None

    code = models.CharField(max_length=40, unique=True)
    title = models.CharField(max_length=120)
    model = models.CharField("type", max_length=120, blank=True)
    serial_number = models.CharField(max_length=80, blank=True)
    software = models.CharField("software and firmware version", max_length=120, blank=True)
    place = models.CharField(max_length=80, blank=True)
    is_in_service = models.BooleanField(default=True)
    in_doubt_from = models.DateField(
        "readings in doubt from",
        null=True,
        blank=True,
        help_text="The day after which the instrument is not known to have been right: usually its last good check.",
    )

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [
            not_empty("instrument_coded", "code"),
            models.CheckConstraint(
                name="instrument_out_of_service_since",
                condition=Q(is_in_service=True) | Q(in_doubt_from__isnull=False),
                violation_error_message="what is taken out of service says from when its readings are in doubt",
            ),
        ]

    def __str__(self):
        return f"{self.code} {self.title}"


@pghistory.track()
class Calibration(Record):
    PROJECT = None

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="calibrations")
    done_on = models.DateField()
    due_on = models.DateField()
    result = models.TextField()
    certificate = models.CharField(max_length=120, blank=True)

    class Meta(Record.Meta):
        ordering = ["done_on"]
        constraints = [
            models.CheckConstraint(
                name="calibration_dates",
                condition=Q(due_on__gte=F("done_on")),
                violation_error_message="it cannot be due before it was done",
            ),
            models.UniqueConstraint(fields=["instrument", "done_on"], name="calibration_once_a_day"),
        ]
        triggers = [*Record.Meta.triggers, frozen()]

    def __str__(self):
        return f"{self.instrument.code} {self.done_on} (due {self.due_on})"


@pghistory.track()
class MethodVersion(Record):
    """The lab's settings of a declared method, numbered and frozen."""

    PROJECT = None

    method = models.CharField(max_length=40, choices=method_choices)
    number = models.PositiveIntegerField()
    liquid = models.ForeignKey(ChallengeLiquid, models.PROTECT, null=True, blank=True, related_name="+")
    drop_volume_ul = models.FloatField("drop volume [µL]", null=True, blank=True)
    settings = models.JSONField(default=dict, blank=True)
    note = models.TextField("what changed and why", blank=True)

    class Meta(Record.Meta):
        ordering = ["method", "number"]
        constraints = [
            models.UniqueConstraint(fields=["method", "number"], name="methodversion_numbered_once"),
            between("methodversion_volume", "drop_volume_ul", 0.001, 1e4),
        ]
        triggers = [*Record.Meta.triggers, frozen()]

    def __str__(self):
        return f"{self.declaration.title}, version {self.number}"

    @property
    def declaration(self):
        return METHODS[self.method]

    @property
    def setting_rows(self):
        """(label with unit, value) of each setting, in the declaration's order."""
        return setting_rows(self.declaration.settings, self.settings)

    @property
    def stage_limit(self):
        return self.settings.get(self.declaration.stage_limit_setting)
