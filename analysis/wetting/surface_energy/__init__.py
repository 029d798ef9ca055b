"""Surface free energy from the angles of probe liquids: the front door of its models."""

from analysis.wetting.surface_energy.acid_base import (
    acid_base,
    acid_base_angle,
    acid_base_roots,
    condition_number,
)
from analysis.wetting.surface_energy.envelope import wetting_envelope
from analysis.wetting.surface_energy.one_liquid import (
    NEUMANN_B,
    fowkes,
    fowkes_energy,
    neumann,
    neumann_energy,
)
from analysis.wetting.surface_energy.owens_wendt import (
    OwensWendtLine,
    owens_wendt,
    owens_wendt_angle,
    owens_wendt_line,
)
from analysis.wetting.surface_energy.probe_liquids import (
    ACID_BASE_LIQUIDS,
    PROBE_LIQUIDS,
    AcidBaseLiquid,
    ProbeLiquid,
    acid_base_liquids,
    probe_liquids,
)
from analysis.wetting.surface_energy.result import (
    FROM_ANGLES,
    FROM_RESIDUALS,
    NOT_RESOLVED,
    SURFACES,
    PartUncertainty,
    SurfaceEnergy,
    surface_caution,
)
from analysis.wetting.surface_energy.wu import wu
from analysis.wetting.surface_energy.zisman import CriticalTension, critical_tension

__all__ = [
    "ACID_BASE_LIQUIDS",
    "FROM_ANGLES",
    "FROM_RESIDUALS",
    "NEUMANN_B",
    "NOT_RESOLVED",
    "PROBE_LIQUIDS",
    "SURFACES",
    "AcidBaseLiquid",
    "CriticalTension",
    "OwensWendtLine",
    "PartUncertainty",
    "ProbeLiquid",
    "SurfaceEnergy",
    "acid_base",
    "acid_base_angle",
    "acid_base_liquids",
    "acid_base_roots",
    "condition_number",
    "critical_tension",
    "fowkes",
    "fowkes_energy",
    "neumann",
    "neumann_energy",
    "owens_wendt",
    "owens_wendt_angle",
    "owens_wendt_line",
    "probe_liquids",
    "surface_caution",
    "wetting_envelope",
    "wu",
]
