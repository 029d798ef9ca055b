"""Making the texture: etching, boiling, anodising and further ways."""

from labrecords.processes.cleaning import AGENT, MINUTES, TEMPERATURE
from labrecords.processes.kind import StepField, StepKind, register

FAMILY = "Texturing"
CONDUCTIVITY = StepField("conductivity_us_cm", "Water conductivity", "µS/cm", 0, 1e6)
VOLTAGE = StepField("voltage_v", "Voltage", "V", 0, 2000)
CURRENT = StepField("current_density_a_dm2", "Current density", "A/dm²", 0, 1000)
CHARGE = StepField("charge_c", "Charge", "C", 0, 1e9)
SECONDS = StepField("duration_s", "Duration", "s", 0, 1e7)
MASS_LOSS = StepField("mass_loss_mg_cm2", "Mass loss per area", "mg/cm²", 0, 1e4)

register(
    StepKind(
        "acid_etch",
        "Etching, acid",
        FAMILY,
        (AGENT, SECONDS, TEMPERATURE, MASS_LOSS),
        hazards=("mineral_acid",),
        makes_texture=True,
    )
)
register(
    StepKind(
        "fluoride_etch",
        "Etching, fluoride bath",
        FAMILY,
        (AGENT, SECONDS, TEMPERATURE, MASS_LOSS),
        hazards=("hydrofluoric_acid", "fluoride_salt"),
        makes_texture=True,
    )
)
register(
    StepKind(
        "alkaline_etch",
        "Etching, alkaline",
        FAMILY,
        (AGENT, SECONDS, TEMPERATURE, MASS_LOSS),
        hazards=("caustic",),
        makes_texture=True,
    )
)
register(
    StepKind(
        "salt_etch",
        "Etching, metal salt",
        FAMILY,
        (AGENT, SECONDS, TEMPERATURE, MASS_LOSS),
        hazards=("metal_salt",),
        makes_texture=True,
    )
)
register(
    StepKind(
        "electrochemical_etch",
        "Etching, electrochemical",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE, VOLTAGE, CURRENT),
        hazards=("dc_bath",),
        makes_texture=True,
    )
)
register(
    StepKind(
        "boiling",
        "Boiling in water",
        FAMILY,
        (
            MINUTES,
            TEMPERATURE,
            CONDUCTIVITY,
            StepField("ph", "pH", "", 0, 14),
            StepField("water", "Water", kind="text"),
        ),
        hazards=("hot_water",),
        makes_texture=True,
    )
)
register(
    StepKind(
        "anodising",
        "Anodising",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE, VOLTAGE, CURRENT, CHARGE, StepField("cathode", "Cathode", kind="text")),
        hazards=("dc_bath", "mineral_acid"),
        makes_texture=True,
    )
)
register(
    StepKind(
        "anodising_fluoride",
        "Anodising, fluoride electrolyte",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE, VOLTAGE, CHARGE),
        hazards=("dc_bath", "hydrofluoric_acid", "fluoride_salt"),
        makes_texture=True,
    )
)
register(
    StepKind(
        "pore_widening",
        "Pore widening",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE),
        hazards=("mineral_acid",),
        makes_texture=True,
    )
)
register(
    StepKind(
        "electrodeposition",
        "Electrodeposition",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE, VOLTAGE, CURRENT, CHARGE),
        hazards=("dc_bath", "metal_salt"),
        makes_texture=True,
    )
)
register(
    StepKind(
        "hydrothermal",
        "Hydrothermal growth",
        FAMILY,
        (AGENT, MINUTES, TEMPERATURE, StepField("vessel", "Vessel", kind="text")),
        hazards=("pressure_vessel", "hot_surface"),
        makes_texture=True,
    )
)
register(
    StepKind(
        "laser_texture",
        "Laser texturing",
        FAMILY,
        (
            StepField("wavelength_nm", "Wavelength", "nm", 100, 20000),
            StepField("fluence_j_cm2", "Fluence", "J/cm²", 0, 1e5),
            StepField("pitch_um", "Line pitch", "µm", 0, 1e5),
            StepField("passes", "Passes", "", 0, 1e6),
        ),
        hazards=("laser",),
        makes_texture=True,
    )
)
register(StepKind("blasting", "Blasting or grinding", FAMILY,
    (StepField("abrasive", "Abrasive", kind="text"), StepField("pressure_kpa", "Pressure", "kPa", 0, 1e5)),
    hazards=("abrasive_dust",), makes_texture=True))  # fmt: skip
