"""Making the surface water-repellent."""

from labrecords.processes.cleaning import AGENT, MINUTES, TEMPERATURE
from labrecords.processes.kind import StepField, StepKind, register

FAMILY = "Functionalising"
HUMIDITY = StepField("humidity_pct", "Relative humidity", "%", 0, 100)

register(
    StepKind(
        "silane_vapour",
        "Silane from vapour",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE, HUMIDITY, StepField("pressure_mbar", "Pressure", "mbar", 0, 1e5)),
        hazards=("chlorosilane",),
    )
)
register(
    StepKind(
        "silane_solution",
        "Silane from solution",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE, HUMIDITY),
        hazards=("chlorosilane", "solvent"),
    )
)
register(
    StepKind(
        "fluorinated_silane",
        "Fluorinated silane",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE, HUMIDITY),
        hazards=("chlorosilane", "fluorinated"),
    )
)
register(
    StepKind(
        "phosphonic_acid",
        "Phosphonic acid from solution",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE, StepField("concentration_mmol_l", "Concentration", "mmol/L", 0, 1e4)),
        hazards=("solvent",),
    )
)
register(StepKind("fatty_acid", "Fatty acid from solution", FAMILY,
    (AGENT, MINUTES, TEMPERATURE, StepField("concentration_mmol_l", "Concentration", "mmol/L", 0, 1e4)),
    hazards=("solvent",)))  # fmt: skip
