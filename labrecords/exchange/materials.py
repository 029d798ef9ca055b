"""Reference liquids and lubricants from fixtures/reference/materials.csv: every property with its source."""

import csv

from django.conf import settings

from labrecords.actions import liquids
from labrecords.models import ChallengeLiquid, Lubricant

FILE = settings.ROOT / "fixtures" / "reference" / "materials.csv"


def load(*, by):
    """Add what is not there yet; materials that are there are left alone."""
    with FILE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    made = {}
    for row in rows:
        key = (row["owner"], row["code"])
        if key not in made:
            made[key] = _create(by, row)
        if made[key] is not None:
            _add_property(by, row, made[key])


def _create(by, row):
    """The new liquid or lubricant; None when its code is there already."""
    model = {"liquid": ChallengeLiquid, "lubricant": Lubricant}[row["owner"]]
    if model.objects.filter(code=row["code"]).exists():
        return None
    if model is ChallengeLiquid:
        return liquids.create(by=by, code=row["code"], name=row["name"])
    is_pfas = {"yes": True, "no": False}.get(row["is_pfas"])
    return liquids.create_lubricant(by=by, code=row["code"], name=row["name"], family=row["family"], is_pfas=is_pfas)


def _add_property(by, row, material):
    liquids.add_property(
        by=by,
        quantity=row["quantity"],
        value=float(row["value"]),
        uncertainty=float(row["uncertainty"]) if row["uncertainty"] else None,
        temperature_c=float(row["temperature_c"]) if row["temperature_c"] else None,
        against_liquid=ChallengeLiquid.objects.get(code=row["against"]) if row["against"] else None,
        source=row["source"],
        **{row["owner"]: material},
    )
