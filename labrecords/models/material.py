"""What coupons are cut from."""

import pghistory
from django.db import models

from labrecords.models.record import Record, between, not_empty


@pghistory.track()
class SubstrateLot(Record):
    PROJECT = None

    FORMS = ["plate", "sheet", "foil", "tube", "lens", "mesh", "fabric", "film", "block"]

    code = models.CharField(max_length=40, unique=True)
    material = models.CharField(max_length=80, help_text="Aluminium, polycarbonate, polyester …")
    grade = models.CharField("grade and temper", max_length=80, blank=True)
    form = models.CharField(max_length=20, choices=[(form, form) for form in FORMS])
    thickness_mm = models.FloatField("thickness [mm]", null=True, blank=True)
    supplier_lot = models.CharField(max_length=80, blank=True)
    roughness_ra_um = models.FloatField("roughness Ra as received [µm]", null=True, blank=True)
    direction = models.CharField("rolling or warp direction", max_length=80, blank=True)
    received_on = models.DateField(null=True, blank=True)
    remark = models.TextField(blank=True)

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [
            not_empty("substratelot_coded", "code"),
            between("substratelot_thickness", "thickness_mm", 0.0001, 1e5),
            between("substratelot_roughness", "roughness_ra_um", 0, 1e5),
        ]

    def __str__(self):
        return f"{self.code} · {self.material} {self.grade}".rstrip()
