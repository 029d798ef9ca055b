"""Reference liquids and lubricants from fixtures/reference/materials.csv: every property with its source."""

import csv

from django.conf import settings

from labrecords.actions import liquids
from labrecords.models import ChallengeLiquid, Lubricant

FILE = settings.ROOT / "fixtures" / "reference" / "materials.csv"
_KINDS = {"liquid": (ChallengeLiquid, liquids.create), "lubricant": (Lubricant, liquids.create_lubricant)}


def load(*, by):
    """Add what is not there yet; rows of materials that are there are left alone."""
    with FILE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    there = {
        (owner, code)
        for owner, (model, _) in _KINDS.items()
        for code in model.objects.values_list("code", flat=True)
    }
    for row in rows:
        owner = row["owner"]
        if (owner, row["code"]) in there:
            continue
        model, create = _KINDS[owner]
        material = model.objects.filter(code=row["code"]).first() or create(
            by=by, code=row["code"], name=row["name"]
        )
        liquids.add_property(
            by=by,
            quantity=row["quantity"],
            value=float(row["value"]),
            uncertainty=float(row["uncertainty"]) if row["uncertainty"] else None,
            temperature_c=float(row["temperature_c"]) if row["temperature_c"] else None,
            against_liquid=ChallengeLiquid.objects.get(code=row["against"]) if row["against"] else None,
            source=row["source"],
            **{owner: material},
        )
