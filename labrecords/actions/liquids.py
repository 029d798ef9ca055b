"""Challenge liquids, lubricants, baths, their lots and their properties."""

from analysis import QUANTITIES
from labrecords.actions import analyses
from labrecords.actions.hazards import declared
from labrecords.actions.rows import write
from labrecords.errors import ValueRefused
from labrecords.models import BathLot, ChallengeLiquid, LiquidLot, Lubricant, LubricantLot, Property, TestRun
from labrecords.trail import verb

_USED = "coupon__processed__process__lots__lubricant_lot"
# Owner of a property -> how a run comes to rest on it.
_RESTS_ON = {
    "liquid": "liquid_lot__liquid",
    "liquid_lot": "liquid_lot",
    "lubricant": f"{_USED}__lubricant",
    "lubricant_lot": _USED,
    "recipe": "coupon__memberships__batch__recipe_revision__recipe",
}


@verb
def create(*, by, why="new challenge liquid", code, name, is_newtonian=True, hazards=()):
    return write(ChallengeLiquid(code=code, name=name, is_newtonian=is_newtonian, hazards=declared(hazards)), by)


@verb
def create_lubricant(*, by, why="new lubricant", code, name, family="", is_pfas=None, hazards=()):
    return write(Lubricant(code=code, name=name, family=family, is_pfas=is_pfas, hazards=declared(hazards)), by)


@verb
def log_lot(*, by, why="liquid prepared or opened", liquid, **fields):
    return write(LiquidLot(liquid=liquid, **fields), by)


@verb
def log_lubricant_lot(*, by, why="lubricant received or opened", lubricant, **fields):
    return write(LubricantLot(lubricant=lubricant, **fields), by)


@verb
def log_bath_lot(*, by, why="bath made up", hazards=(), **fields):
    return write(BathLot(hazards=declared(hazards), **fields), by)


@verb
def add_property(*, by, why="property recorded", quantity, value, source, **fields):
    """A property of a liquid, a lubricant, a lot or a recipe's surface; unit and bounds are the quantity's."""
    known = QUANTITIES.get(quantity)
    if known is None:
        raise ValueRefused(field="quantity", label="Quantity", value=quantity, rule="is not known")
    if (known.low is not None and value < known.low) or (known.high is not None and value > known.high):
        raise ValueRefused(field="value", label=known.label, value=value, rule="is outside what is possible")
    row = write(Property(quantity=quantity, value=value, source=source, **fields), by)
    [(owner, path)] = [(owner, path) for owner, path in _RESTS_ON.items() if getattr(row, f"{owner}_id")]
    analyses.refresh(by=by, runs=TestRun.objects.filter(**{path: getattr(row, f"{owner}_id")}))
    return row
