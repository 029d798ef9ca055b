"""Other measures: ice, freezing, moving and bouncing drops, cross-cut, fouling, removal, haze."""

from analysis.measures.bounce import (
    contact_time,
    impact_speed,
    inertia_capillary_time,
    restitution_from_heights,
    restitution_from_speeds,
    weber_number,
)
from analysis.measures.cross_cut import CrossCut, cross_cut, cross_cut_class
from analysis.measures.drop_speed import DropSpeed, capillary_number, drop_speed, terminal_speed
from analysis.measures.fouling import MeanCover, cover_percent, mean_cover
from analysis.measures.freezing import (
    FreezingDelay,
    freezing_delay,
    nucleation_rate_per_area,
    nucleation_rate_per_volume,
)
from analysis.measures.haze import (
    Transmittance,
    diffuse_transmittance,
    haze_percent,
    total_transmittance,
    transmittance_and_haze,
)
from analysis.measures.ice_adhesion import (
    AdhesionReduction,
    adhesion_reduction_factor,
    ice_adhesion_reduction,
    ice_adhesion_strength,
    receding_work_factor,
    smooth_ice_adhesion,
)
from analysis.measures.log_ratio import LogRatio, log_ratio
from analysis.measures.removal import (
    AGAINST_CONTROL,
    BEFORE_AFTER,
    CensoredReduction,
    LogReduction,
    log10_reduction,
    log_reduction,
    reduction_percent,
    removal_percent,
)

__all__ = [
    "AGAINST_CONTROL",
    "BEFORE_AFTER",
    "AdhesionReduction",
    "CensoredReduction",
    "CrossCut",
    "DropSpeed",
    "FreezingDelay",
    "LogRatio",
    "LogReduction",
    "MeanCover",
    "Transmittance",
    "adhesion_reduction_factor",
    "capillary_number",
    "contact_time",
    "cover_percent",
    "cross_cut",
    "cross_cut_class",
    "diffuse_transmittance",
    "drop_speed",
    "freezing_delay",
    "haze_percent",
    "ice_adhesion_reduction",
    "ice_adhesion_strength",
    "impact_speed",
    "inertia_capillary_time",
    "log10_reduction",
    "log_ratio",
    "log_reduction",
    "mean_cover",
    "nucleation_rate_per_area",
    "nucleation_rate_per_volume",
    "receding_work_factor",
    "reduction_percent",
    "removal_percent",
    "restitution_from_heights",
    "restitution_from_speeds",
    "smooth_ice_adhesion",
    "terminal_speed",
    "total_transmittance",
    "transmittance_and_haze",
    "weber_number",
]
