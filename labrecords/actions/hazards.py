"""Hazard tags as people give them."""

from labrecords.errors import ValueRefused
from labrecords.processes import HAZARDS


def declared(tags) -> list[str]:
    """The tags, each once; refused where one of them is not declared."""
    unknown = [tag for tag in tags if tag not in HAZARDS]
    if unknown:
        raise ValueRefused(field="hazards", label="Hazard", value=unknown[0], rule="is not declared")
    return list(dict.fromkeys(tags))
