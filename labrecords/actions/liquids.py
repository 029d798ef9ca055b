"""Challenge liquids, lubricants, baths, their lots and their properties."""

from analysis import QUANTITIES
from labrecords.actions.rows import write
from labrecords.errors import ValueRefused
from labrecords.models import BathLot, ChallengeLiquid, LiquidLot, Lubricant, LubricantLot, Property
from labrecords.processes import HAZARDS
from labrecords.trail import verb


@verb
def create(*, by, why="new challenge liquid", code, name, is_newtonian=True, hazards=()):
    return write(ChallengeLiquid(code=code, name=name, is_newtonian=is_newtonian, hazards=_tags(hazards)), by)


@verb
def create_lubricant(*, by, why="new lubricant", code, name, family="", is_pfas=None, hazards=()):
    return write(Lubricant(code=code, name=name, family=family, is_pfas=is_pfas, hazards=_tags(hazards)), by)


@verb
def log_lot(*, by, why="liquid prepared or opened", liquid, **fields):
    return write(LiquidLot(liquid=liquid, **fields), by)


@verb
def log_lubricant_lot(*, by, why="lubricant received or opened", lubricant, **fields):
    return write(LubricantLot(lubricant=lubricant, **fields), by)


@verb
def log_bath_lot(*, by, why="bath made up", hazards=(), **fields):
    return write(BathLot(hazards=_tags(hazards), **fields), by)


@verb
def add_property(*, by, why="property recorded", quantity, value, source, **fields):
    """A property of a liquid, a lubricant, a lot or a recipe's surface; unit and bounds are the quantity's."""
    known = QUANTITIES.get(quantity)
    if known is None:
        raise ValueRefused(field="quantity", label="Quantity", value=quantity, rule="is not known")
    if (known.low is not None and value < known.low) or (known.high is not None and value > known.high):
        raise ValueRefused(field="value", label=known.label, value=value, rule="is outside what is possible")
    return write(Property(quantity=quantity, value=value, source=source, **fields), by)


def _tags(hazards):
    unknown = [tag for tag in hazards if tag not in HAZARDS]
    if unknown:
        raise ValueRefused(field="hazards", label="Hazard", value=unknown[0], rule="is not declared")
    return list(hazards)
