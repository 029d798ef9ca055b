"""Coating: spraying, dipping, brushing, padding."""

from labrecords.processes.cleaning import AGENT, MINUTES, TEMPERATURE
from labrecords.processes.kind import StepField, StepKind, register

FAMILY = "Coating"

register(
    StepKind(
        "spray_coat",
        "Spray coating",
        FAMILY,
        (
            AGENT,
            StepField("nozzle_mm", "Nozzle", "mm", 0, 20),
            StepField("pressure_bar", "Air pressure", "bar", 0, 300),
            StepField("distance_cm", "Distance", "cm", 0, 500),
            StepField("passes", "Passes", "", 0, 1000),
            StepField("add_on_g_m2", "Add-on", "g/m²", 0, 1e5),
        ),
        hazards=("nanoparticle_spray", "solvent"),
        makes_texture=True,
    )
)
register(
    StepKind(
        "dip_coat",
        "Dip coating",
        FAMILY,
        (
            AGENT,
            MINUTES,
            StepField("withdrawal_mm_s", "Withdrawal speed", "mm/s", 0, 1e4),
            StepField("dips", "Dips", "", 0, 1000),
        ),
        hazards=("solvent",),
    )
)
register(
    StepKind(
        "pad_coat",
        "Padding of fabric",
        FAMILY,
        (
            AGENT,
            StepField("wet_pick_up_pct", "Wet pick-up", "%", 0, 1000),
            StepField("nip_pressure_bar", "Nip pressure", "bar", 0, 300),
        ),
        hazards=("solvent",),
    )
)
register(
    StepKind(
        "layer_by_layer",
        "Layer by layer",
        FAMILY,
        (AGENT, StepField("bilayers", "Bilayers", "", 0, 1e4), MINUTES, TEMPERATURE),
        makes_texture=True,
    )
)
register(StepKind("brush_coat", "Brushing or painting", FAMILY,
    (AGENT, StepField("coats", "Coats", "", 0, 100), StepField("wet_thickness_um", "Wet thickness", "µm", 0, 1e5)),
    hazards=("solvent",)))  # fmt: skip
