"""Kinds of recipe step as declarations: what is planned and recorded, bounds, cautions.

A new kind is one `StepKind` in one of these modules; forms, bounds checks, cautions and report lines follow from it.
"""

from labrecords.processes.hazards import DEFER, HAZARDS, Hazard, cautions_of
from labrecords.processes.kind import KINDS, StepField, StepKind, choices, register

# Importing a module registers its kinds.
from labrecords.processes import cleaning, coating, finishing, functionalising, infusing, texturing  # isort: skip

FAMILIES = {
    module.__name__.rsplit(".", 1)[-1]: module.FAMILY
    for module in (cleaning, texturing, functionalising, coating, infusing, finishing)
}

__all__ = [
    "DEFER",
    "FAMILIES",
    "HAZARDS",
    "KINDS",
    "Hazard",
    "StepField",
    "StepKind",
    "cautions_of",
    "choices",
    "register",
]
