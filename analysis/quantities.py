"""Every measured or derived quantity once: key, symbol, unit, bounds, decimals, meaning."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measured or derived quantity; labels, bounds, decimals and axes everywhere come from here."""

    key: str
    title: str
    symbol: str
    unit: str
    low: float | None
    high: float | None
    decimals: int
    meaning: str

    @property
    def label(self) -> str:
        return f"{self.title} [{self.unit}]" if self.unit else self.title


_ALL = [
    Quantity("advancing_angle", "Advancing contact angle", "θa", "°", 0, 180, 1,
             "largest angle before the contact line moves outwards"),
    Quantity("receding_angle", "Receding contact angle", "θr", "°", 0, 180, 1,
             "smallest angle before the contact line moves inwards"),
    Quantity("static_angle", "Static contact angle", "θ", "°", 0, 180, 1,
             "angle of a resting drop; says nothing about mobility"),
    Quantity("sliding_angle", "Sliding angle", "α", "°", 0, 90, 1,
             "tilt at which a drop of stated volume moves by the stated rule"),
    Quantity("hysteresis", "Contact angle hysteresis", "Δθ", "°", 0, 180, 2,
             "advancing minus receding angle of one drop"),
    Quantity("hysteresis_cosine", "Hysteresis in cosines", "Δcos θ", "", 0, 2, 4,
             "cos θr − cos θa of one drop"),
    Quantity("hysteresis_percent", "Hysteresis percent", "H", "%", 0, 100, 2,
             "(cos θr − cos θa)/2 of one drop"),
    Quantity("retention_per_width", "Retention force per width", "F/w", "mN/m", 0, None, 2,
             "γ(cos θr − cos θa) of one drop"),
    Quantity("lubricant_mass", "Lubricant mass", "m", "mg", 0, None, 2,
             "mass of the coupon less its mass before infusing"),
    Quantity("retained_share", "Lubricant retained", "R", "%", 0, None, 1,
             "lubricant mass after a dose as a share of the mass at dose 0"),
    Quantity("lubricant_per_area", "Lubricant per area", "V/A", "µL/cm²", 0, None, 2,
             "lubricant volume over the exposed area"),
    Quantity("surface_tension", "Surface tension", "γ", "mN/m", 0, 500, 2, "against air"),
    Quantity("interfacial_tension_water", "Interfacial tension to water", "γow", "mN/m", 0, 500, 2,
             "of the lubricant against water"),
    Quantity("interfacial_tension", "Interfacial tension", "γow", "mN/m", 0, 500, 2,
             "of the lubricant against the stated challenge liquid"),
    Quantity("smooth_angle", "Contact angle on the smooth functionalised solid", "θ", "°", 0, 180, 1,
             "of a witness without texture; the film criteria need it"),
    Quantity("dispersive_tension", "Dispersive part of the surface tension", "γd", "mN/m", 0, 500, 2, ""),
    Quantity("polar_tension", "Polar part of the surface tension", "γp", "mN/m", 0, 500, 2, ""),
    Quantity("density", "Density", "ρ", "kg/m³", 0, 25000, 1, ""),
    Quantity("viscosity", "Dynamic viscosity", "η", "mPa·s", 0, None, 3, ""),
    Quantity("kinematic_viscosity", "Kinematic viscosity", "ν", "mm²/s", 0, None, 2, ""),
    Quantity("refractive_index", "Refractive index", "n", "", 1, 5, 4, "at the sodium D line"),
    Quantity("vapour_pressure", "Vapour pressure", "p", "Pa", 0, None, 3, ""),
    Quantity("conductivity", "Electrical conductivity", "κ", "µS/cm", 0, None, 2, ""),
    Quantity("roughness_factor", "Roughness factor", "r", "", 1, 1000, 2, "true over projected area"),
]  # fmt: skip

QUANTITIES: dict[str, Quantity] = {quantity.key: quantity for quantity in _ALL}
