"""What a run says about its lubricant film: the numbers the film criteria need, with their uncertainties.

Where a value carries no uncertainty one is assumed, and the sentence of the check says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from analysis.film.cloaking import ASSUMED_INTERFACIAL_HALF_WIDTH, estimated_interfacial_tension
from analysis.film.stability import Estimate
from analysis.records import Material, Run, Value

WATER_TENSION = (69.0, 76.0)  # mN/m: only water and dilute salt solutions lie here at room temperature
ESTIMATED = "fowkes_1964"
_LABELS = {
    "roughness": "roughness factor of the texture",
    "liquid_tension": "surface tension of the liquid [mN/m]",
    "lubricant_tension": "surface tension of the lubricant [mN/m]",
    "interfacial_tension": "interfacial tension of lubricant and liquid [mN/m]",
    "liquid_angle_deg": "angle of the liquid on the smooth solid [°]",
    "lubricant_angle_deg": "angle of the lubricant on the smooth solid [°]",
}
# Half-widths taken where none is stated; a rectangular distribution makes the standard uncertainty
# half-width/√3. The interfacial one is what an estimate is known to at best; the others are from memory of
# the trade.
_ASSUMED = {
    "roughness": 0.2,  # of the value
    "liquid_tension": 1.0,
    "lubricant_tension": 1.0,
    "interfacial_tension": ASSUMED_INTERFACIAL_HALF_WIDTH,
    "liquid_angle_deg": 3.0,
    "lubricant_angle_deg": 3.0,
}


@dataclass(frozen=True, slots=True)
class FilmInputs:
    """Value and standard uncertainty of each input found; what is missing; what had to be assumed."""

    estimates: dict[str, Estimate]
    missing: tuple[str, ...]
    assumed: dict[str, str]  # input -> half-width taken, and why

    def only(self, *names: str) -> FilmInputs:
        """The same, for some of the inputs."""
        labels = {_bare(name) for name in names}
        return replace(
            self,
            estimates={name: value for name, value in self.estimates.items() if name in names},
            missing=tuple(label for label in self.missing if label in labels),
            assumed={name: text for name, text in self.assumed.items() if name in names},
        )

    def numbers(self) -> dict[str, str]:
        return {_LABELS[name]: f"{value:g} ± {u:.2g}" for name, (value, u) in self.estimates.items()}

    def sentence(self) -> str:
        if not self.assumed:
            return ""
        taken = "; ".join(f"{_bare(name)} {text}" for name, text in self.assumed.items())
        return f" Assumed for want of a stated uncertainty: {taken}."


def film_inputs(run: Run) -> FilmInputs:
    """Collect the inputs of the film criteria from a run.

    Parameters
    ----------
    run : Run
        With liquid, lubricant, roughness factor and angles on the smooth functionalised solid.

    Returns
    -------
    FilmInputs
        The interfacial tension is, in this order: the lubricant's `interfacial_tension`, measured against the
        run's own liquid; its `interfacial_tension_water` where the liquid is water (69 to 76 mN/m); an
        estimate from the dispersive parts of both, known to ±5 mN/m at best.

    Source: `wong_2011`, `fowkes_1964`.

    >>> film_inputs(Run("R1", "C1", "sliding_angle", ())).missing[0]
    'roughness factor of the texture'
    """
    found = {
        "roughness": run.roughness_factor,
        "liquid_tension": _property(run.liquid, "surface_tension"),
        "lubricant_tension": _property(run.lubricant, "surface_tension"),
        "interfacial_tension": _interfacial(run.liquid, run.lubricant),
        "liquid_angle_deg": run.solid_angles.get("liquid"),
        "lubricant_angle_deg": run.solid_angles.get("lubricant"),
    }
    known = {name: value for name, value in found.items() if value is not None}
    return FilmInputs(
        {name: (value.value, _standard(name, value)) for name, value in known.items()},
        tuple(_bare(name) for name in found if name not in known),
        {name: _assumption(name, value) for name, value in known.items() if _is_assumed(value)},
    )


def _interfacial(liquid: Material | None, lubricant: Material | None) -> Value | None:
    stated = _property(lubricant, "interfacial_tension")  # given for this very liquid
    if stated is not None:
        return stated
    tension = _property(liquid, "surface_tension")
    if tension is not None and WATER_TENSION[0] <= tension.value <= WATER_TENSION[1]:
        to_water = _property(lubricant, "interfacial_tension_water")
        if to_water is not None:
            return to_water
    parts = [_property(material, key) for material in (liquid, lubricant) for key in _TENSIONS]
    if None in parts or any(part.value > whole.value for whole, part in (parts[:2], parts[2:])):
        return None  # a dispersive part above its tension is a mistake on record, and gives no estimate
    value, uncertainty = estimated_interfacial_tension(*(part.value for part in parts))
    return Value(value, "mN/m", ESTIMATED, uncertainty)


_TENSIONS = ("surface_tension", "dispersive_tension")


def _property(material: Material | None, key: str) -> Value | None:
    return material.properties.get(key) if material else None


def _bare(name: str) -> str:
    return _LABELS[name].split(" [")[0]


def _is_assumed(value: Value) -> bool:
    return value.uncertainty is None or value.source == ESTIMATED


def _standard(name: str, value: Value) -> float:
    if value.uncertainty is not None:
        return value.uncertainty
    return _half_width(name, value) / math.sqrt(3)


def _half_width(name: str, value: Value) -> float:
    return _ASSUMED[name] * value.value if name == "roughness" else _ASSUMED[name]


def _assumption(name: str, value: Value) -> str:
    if value.source == ESTIMATED:
        return f"±{ASSUMED_INTERFACIAL_HALF_WIDTH:g} at best, estimated from dispersive parts"
    return f"±{_half_width(name, value):g}"
