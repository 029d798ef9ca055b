"""Baths, lubricants and challenge liquids, their lots, and their properties with unit and source."""

import pghistory
from django.db import models
from django.db.models import F, Q

from analysis import QUANTITIES
from labrecords.models.record import Record, frozen, not_empty


def quantity_choices():
    return [(key, quantity.label) for key, quantity in QUANTITIES.items()]


def _lot_dates(name):
    return models.CheckConstraint(
        name=name,
        condition=Q(expires_on__gte=F("prepared_on")),
        violation_error_message="it cannot expire before it was prepared",
    )


@pghistory.track()
class BathLot(Record):
    """A bath or solution as it was made up."""

    PROJECT = None

    code = models.CharField(max_length=40, unique=True)
    title = models.CharField(max_length=120)
    composition = models.TextField(blank=True, help_text="What was used, from the label; the system proposes nothing.")
    prepared_on = models.DateField()
    expires_on = models.DateField("discard after", null=True, blank=True)
    ph = models.FloatField("pH", null=True, blank=True)
    conductivity_us_cm = models.FloatField("conductivity [µS/cm]", null=True, blank=True)
    hazards = models.JSONField(default=list, blank=True)
    remark = models.TextField(blank=True)

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [not_empty("bathlot_coded", "code"), _lot_dates("bathlot_dates")]

    def __str__(self):
        return f"{self.code} {self.title}"


@pghistory.track()
class Lubricant(Record):
    PROJECT = None

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    family = models.CharField(max_length=80, blank=True, help_text="Silicone oil, perfluoropolyether, mineral oil …")
    is_pfas = models.BooleanField("belongs to the PFAS", null=True, blank=True)
    hazards = models.JSONField(default=list, blank=True)

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [not_empty("lubricant_coded", "code")]

    def __str__(self):
        return self.name


@pghistory.track()
class LubricantLot(Record):
    PROJECT = None

    code = models.CharField(max_length=40, unique=True)
    lubricant = models.ForeignKey(Lubricant, models.PROTECT, related_name="lots")
    supplier_lot = models.CharField(max_length=80, blank=True)
    prepared_on = models.DateField("received or opened")
    expires_on = models.DateField(null=True, blank=True)

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [not_empty("lubricantlot_coded", "code"), _lot_dates("lubricantlot_dates")]

    def __str__(self):
        return f"{self.code} · {self.lubricant}"


@pghistory.track()
class ChallengeLiquid(Record):
    """A liquid that is to be repelled."""

    PROJECT = None

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    is_newtonian = models.BooleanField(default=True)
    hazards = models.JSONField(default=list, blank=True)

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [not_empty("challengeliquid_coded", "code")]

    def __str__(self):
        return self.name


@pghistory.track()
class LiquidLot(Record):
    PROJECT = None

    code = models.CharField(max_length=40, unique=True)
    liquid = models.ForeignKey(ChallengeLiquid, models.PROTECT, related_name="lots")
    prepared_on = models.DateField()
    expires_on = models.DateField(null=True, blank=True)
    remark = models.TextField(blank=True)

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [not_empty("liquidlot_coded", "code"), _lot_dates("liquidlot_dates")]

    def __str__(self):
        return f"{self.code} · {self.liquid}"


OWNERS = ["liquid", "liquid_lot", "lubricant", "lubricant_lot", "recipe"]


def _exactly_one(fields):
    condition = Q()
    for owner in fields:
        condition |= Q(**{f"{name}__isnull": name != owner for name in fields})
    return condition


@pghistory.track()
class Property(Record):
    """One property of a liquid, a lubricant, a lot of either, or of a recipe's surface: never without its source.

    A lot's own value goes before its liquid's. The newest row of a quantity counts; older rows stay.
    """

    PROJECT = "recipe__project"

    liquid = models.ForeignKey(ChallengeLiquid, models.PROTECT, null=True, blank=True, related_name="properties")
    liquid_lot = models.ForeignKey(LiquidLot, models.PROTECT, null=True, blank=True, related_name="properties")
    lubricant = models.ForeignKey(Lubricant, models.PROTECT, null=True, blank=True, related_name="properties")
    lubricant_lot = models.ForeignKey(LubricantLot, models.PROTECT, null=True, blank=True, related_name="properties")
    recipe = models.ForeignKey("Recipe", models.PROTECT, null=True, blank=True, related_name="properties")
    # What the value is "to" or "of": the tension of a lubricant to this liquid, the angle of this liquid on a recipe.
    against_liquid = models.ForeignKey(ChallengeLiquid, models.PROTECT, null=True, blank=True, related_name="+")
    against_lubricant = models.ForeignKey(Lubricant, models.PROTECT, null=True, blank=True, related_name="+")
    quantity = models.CharField(max_length=40, choices=quantity_choices)
    value = models.FloatField()
    uncertainty = models.FloatField("standard uncertainty", null=True, blank=True)
    temperature_c = models.FloatField("temperature [°C]", null=True, blank=True)
    source = models.CharField(max_length=300)

    class Meta(Record.Meta):
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(name="property_has_one_owner", condition=_exactly_one(OWNERS)),
            models.CheckConstraint(name="property_value_finite", condition=Q(value__gte=-1e15, value__lte=1e15)),
            models.CheckConstraint(name="property_uncertainty", condition=Q(uncertainty__gte=0, uncertainty__lte=1e15)),
            not_empty("property_sourced", "source"),
        ]
        triggers = [*Record.Meta.triggers, frozen()]

    def __str__(self):
        return f"{self.quantity} {self.value}"
