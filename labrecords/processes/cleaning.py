"""Cleaning and pre-treatment."""

from labrecords.processes.kind import StepField, StepKind, register

FAMILY = "Cleaning"
MINUTES = StepField("duration_min", "Duration", "min", 0, 1e5)
TEMPERATURE = StepField("temperature_c", "Temperature", "°C", -50, 1500)
AGENT = StepField("agent", "Agent as labelled", kind="text")

register(
    StepKind(
        "solvent_clean",
        "Solvent or detergent cleaning",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE, StepField("agitation", "Agitation", kind="text")),
        hazards=("solvent", "ultrasonic_solvent"),
    )
)
register(StepKind("alkaline_clean", "Alkaline cleaning", FAMILY, (AGENT, MINUTES, TEMPERATURE), hazards=("caustic",)))
register(
    StepKind(
        "desmut",
        "Acid desmutting or pickling",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE),
        hazards=("nitric_acid", "mineral_acid"),
    )
)
register(
    StepKind(
        "plasma_clean",
        "Plasma or UV-ozone cleaning",
        FAMILY,
        (MINUTES, StepField("power_w", "Power", "W", 0, 1e5), StepField("gas", "Gas", kind="text")),
        hazards=("plasma",),
    )
)
register(StepKind("water_break", "Water-break check", FAMILY,
    (StepField("result", "Result", kind="text"),)))  # fmt: skip
