"""Rinsing, drying, baking, resting."""

from labrecords.processes.cleaning import AGENT, MINUTES, TEMPERATURE
from labrecords.processes.kind import StepField, StepKind, register

FAMILY = "Rinsing, drying, baking"

register(StepKind("rinse", "Rinsing", FAMILY, (AGENT, MINUTES, TEMPERATURE)))
register(StepKind("solvent_rinse", "Rinsing with solvent", FAMILY, (AGENT, MINUTES), hazards=("solvent",)))
register(StepKind("dry", "Drying", FAMILY, (StepField("way", "Way", kind="text"), MINUTES, TEMPERATURE)))
register(
    StepKind(
        "bake",
        "Baking or curing",
        FAMILY,
        (MINUTES, TEMPERATURE, StepField("oven", "Oven", kind="text")),
        hazards=("hot_surface",),
    )
)
register(
    StepKind(
        "anneal",
        "Annealing",
        FAMILY,
        (MINUTES, TEMPERATURE, StepField("atmosphere", "Atmosphere", kind="text")),
        hazards=("hot_surface",),
    )
)
register(StepKind("rest", "Resting or conditioning", FAMILY,
    (StepField("duration_h", "Duration", "h", 0, 1e6), TEMPERATURE,
     StepField("humidity_pct", "Relative humidity", "%", 0, 100))))  # fmt: skip
