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
    beyond: str = "not moved"  # what a reading is called that was not reached up to its limit
    limit: str = "stage limit"  # what that limit is called

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
    Quantity("water_probe_angle", "Contact angle of the probe liquid water", "θ(water)", "°", 0, 180, 1,
             "of a resting drop on a smooth solid, for its surface energy"),
    Quantity("diiodomethane_probe_angle", "Contact angle of the probe liquid diiodomethane", "θ(diiodomethane)",
             "°", 0, 180, 1, "of a resting drop on a smooth solid, for its surface energy"),
    Quantity("ethylene_glycol_probe_angle", "Contact angle of the probe liquid ethylene glycol",
             "θ(ethylene glycol)", "°", 0, 180, 1, "of a resting drop on a smooth solid, for its surface energy"),
    Quantity("formamide_probe_angle", "Contact angle of the probe liquid formamide", "θ(formamide)", "°", 0, 180, 1,
             "of a resting drop on a smooth solid, for its surface energy"),
    Quantity("hexadecane_probe_angle", "Contact angle of the probe liquid hexadecane", "θ(hexadecane)", "°", 0, 180,
             1, "of a resting drop on a smooth solid, for its surface energy"),
    Quantity("surface_energy", "Surface free energy of the solid", "γS", "mN/m", 0, 500, 1,
             "from the angles of several probe liquids with one set of their components"),
    Quantity("surface_energy_dispersive", "Dispersive part of the surface free energy", "γS,d", "mN/m", 0, 500, 1, ""),
    Quantity("surface_energy_polar", "Polar part of the surface free energy", "γS,p", "mN/m", 0, 500, 1, ""),
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
    Quantity("track_length", "Length of the timed track", "s", "mm", 0, None, 1,
             "path over which the drop was timed, after it moved evenly"),
    Quantity("track_time", "Time over the track", "t", "s", 0, None, 3, "taken by the drop for the timed track"),
    Quantity("drop_speed", "Drop speed", "v", "mm/s", 0, None, 1, "mean over the timed track"),
    Quantity("rebound_height", "Rebound height", "h", "mm", 0, None, 2,
             "highest point of the drop's underside after its first contact; 0 when it stays"),
    Quantity("contact_time", "Contact time", "tc", "ms", 0, None, 2,
             "from first touch to leaving the surface", beyond="not lifted off", limit="end of the observation"),
    Quantity("bounces", "Number of bounces", "n", "", 0, None, 0, "until the drop stays"),
    Quantity("restitution", "Coefficient of restitution", "e", "", 0, None, 3,
             "speed after the first contact over speed before it"),
    Quantity("freezing_delay", "Freezing delay", "tf", "s", 0, None, 1,
             "from reaching the set temperature until the drop freezes", beyond="not frozen",
             limit="end of the observation"),
    Quantity("peak_force", "Peak force", "F", "N", 0, None, 2, "largest force before the ice comes off",
             beyond="not detached", limit="end of the load range"),
    Quantity("ice_adhesion", "Ice adhesion strength", "τ", "kPa", 0, None, 1,
             "peak force over the iced area; comparable within one method only", beyond="not detached",
             limit="end of the load range"),
    Quantity("incident_light", "Incident light, no specimen (T1)", "T1", "", 0, None, 2, "signal of the instrument"),
    Quantity("transmitted_light", "Light through the specimen (T2)", "T2", "", 0, None, 2, "signal of the instrument"),
    Quantity("instrument_scatter", "Light scattered by the instrument (T3)", "T3", "", 0, None, 2,
             "signal of the instrument without specimen"),
    Quantity("specimen_scatter", "Light scattered by instrument and specimen (T4)", "T4", "", 0, None, 2,
             "signal of the instrument"),
    Quantity("total_transmittance", "Total transmittance", "Tt", "%", 0, None, 2, "all light that passes"),
    Quantity("diffuse_transmittance", "Diffuse transmittance", "Td", "%", None, None, 2,
             "light scattered out of its direction; small values below 0 are noise and stay as they are"),
    Quantity("haze", "Haze", "H", "%", None, None, 2,
             "diffuse over total transmittance; above 30 % the method does not apply"),
    Quantity("lightness", "Lightness", "L*", "", 0, 120, 2, "CIE 1976, illuminant and observer as set"),
    Quantity("green_red", "Green–red coordinate", "a*", "", -200, 200, 2, "CIE 1976, negative towards green"),
    Quantity("blue_yellow", "Blue–yellow coordinate", "b*", "", -200, 200, 2, "CIE 1976, negative towards blue"),
    Quantity("film_thickness", "Film thickness", "d", "nm", 0, None, 1, "of an oxide or coating"),
    Quantity("mean_height", "Arithmetical mean height", "Sa", "µm", 0, None, 3, "of the measured field, as filtered"),
    Quantity("developed_area", "Developed interfacial area ratio", "Sdr", "%", 0, None, 2,
             "true area beyond the projected one, as a share of the projected one"),
    Quantity("texture_depth", "Texture depth", "h", "µm", 0, None, 3, "from tops to valleys, as stated by the rule"),
    Quantity("lost_lattice", "Share of the lattice lost", "A", "%", 0, 100, 1,
             "area of the cut lattice from which the coating came off"),
    Quantity("cross_cut_class", "Cross-cut class", "class", "", 0, 5, 0, "0 nothing lost, 5 the worst"),
    Quantity("covered_share", "Share of the area covered by fouling", "C", "%", 0, 100, 1, ""),
    Quantity("count_before", "Count before release", "N0", "1/cm²", 0, None, 0, "organisms or colonies per area"),
    Quantity("count_after", "Count after release", "N", "1/cm²", 0, None, 0,
             "organisms or colonies per area; 0 means none seen"),
    Quantity("removal", "Removal", "R", "%", None, 100, 1, "share of what was there before that came off"),
    Quantity("log_reduction", "Log reduction", "LR", "", None, None, 2,
             "decimal logarithm of the count before over the count after", beyond="none seen",
             limit="detection limit"),
    Quantity("water_break_time", "Time until the water film breaks", "t", "s", 0, None, 1,
             "of the draining film after the coupon is withdrawn", beyond="unbroken",
             limit="end of the observation"),
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


def quantity_of(statistic: str) -> Quantity:
    """The quantity that the key of a statistic begins with: the longest one, since keys may begin alike.

    >>> quantity_of("hysteresis_cosine_mean").key
    'hysteresis_cosine'
    """
    found = [known for known in QUANTITIES if statistic == known or statistic.startswith(f"{known}_")]
    return QUANTITIES[max(found, key=len)]
