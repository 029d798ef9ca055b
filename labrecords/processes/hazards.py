"""Hazards that steps and lots are tagged with: published GHS codes and one line of caution.

Codes are those of the pure or usual supplied substance; a mixture needs its own safety data sheet.
"""

from __future__ import annotations

from dataclasses import dataclass

DEFER = "Defer to the current safety data sheet, local rules and a qualified person."


@dataclass(frozen=True, slots=True)
class Hazard:
    tag: str
    title: str
    codes: str  # published GHS codes; "" where the hazard is physical or biological
    caution: str
    status: str  # where the codes come from
    has_sheet: bool | None = None  # a substance with a safety data sheet is behind it; unless said, where it has codes

    @property
    def is_of_substance(self) -> bool:
        """Whether a substance is behind it, for which a safety data sheet is due."""
        return bool(self.codes) if self.has_sheet is None else self.has_sheet

    @property
    def line(self) -> str:
        codes = f" ({self.codes})" if self.codes else ""
        return f"{self.title}{codes}: {self.caution}"


_READ = "codes read in published substance data"
_MEMORY = "codes from memory; check the sheet"

_ALL = [
    Hazard("hydrofluoric_acid", "Hydrofluoric acid", "H300 H310 H330 H314 EUH071",
           "fatal by all routes and pain may be delayed; never alone, antidote and medical plan in place.", _READ),
    Hazard("fluoride_salt", "Fluoride salts", "H301 H314", "give hydrofluoric acid with acid or water: treat as such.",
           _MEMORY),
    Hazard("mineral_acid", "Mineral acid", "H290 H314", "severe burns and eye damage; with metals it gives hydrogen.",
           _MEMORY),
    Hazard("nitric_acid", "Nitric acid", "H272 H290 H331 H314 EUH071",
           "toxic nitrous gases with delayed lung damage; oxidiser, keep from organics and metals.", _READ),
    Hazard("peroxide_acid", "Peroxide with sulphuric acid", "H271 H302 H332 H314",
           "explodes with organics; never in a closed container; use only if no safer cleaner serves.", _READ),
    Hazard("caustic", "Caustic solution", "H290 H314", "severe eye damage; on aluminium it gives heat and hydrogen.",
           _MEMORY),
    Hazard("chromic_acid", "Chromic acid", "H271 H301 H311 H330 H314 H317 H334 H340 H350 H361f H372 H410",
           "carcinogen, mutagen and sensitiser; authorisation duty in the EU; substitute first.", _READ),
    Hazard("metal_salt", "Metal salt etchant", "H302 H314 H410", "corrosive and toxic to water life; collect the waste.",
           _MEMORY),
    Hazard("dc_bath", "Bath under direct current", "H314 H290 H220",
           "electric shock and arcing, hydrogen (explosive from about 4 % in air), acid mist: interlock, exhaust, "
           "no work on live parts.", "hydrogen limit read; codes from memory"),
    Hazard("hot_water", "Hot or boiling water and steam", "", "scald and splash; pressure if closed.", _MEMORY),
    Hazard("hot_surface", "Oven and hot parts", "", "burns; vapours of the coating need an exhaust.", _MEMORY),
    Hazard("pressure_vessel", "Closed heated vessel", "", "pressure; only vessels rated for it, opened cold.", _MEMORY),
    Hazard("chlorosilane", "Chlorosilanes, where used", "H314 EUH014 H225 H301 H331",
           "give hydrogen chloride with moisture; dry handling, exhaust.", "small one read; rest from memory"),
    Hazard("solvent", "Solvent vapour", "H225 H304 H319 H336", "flash fire and narcosis; no ignition source, exhaust.",
           _MEMORY),
    Hazard("fluorinated", "Fluorinated lubricant or silane, where used", "",
           "persistent; toxic fumes when overheated; contain the waste and check its legal status.", _MEMORY, has_sheet=True),
    Hazard("nanoparticle_spray", "Sprayed particles", "H222 H229",
           "inhalation; enclosure and exhaust first, respirator by local rules.", _READ),
    Hazard("laser", "Laser radiation", "", "eye and skin injury, fume; closed housing and laser safety officer.", _MEMORY),
    Hazard("abrasive_dust", "Abrasive and metal dust", "", "eye and lung injury, fine metal dust can ignite; enclosure and "
           "extraction, eye protection.", _MEMORY),
    Hazard("vacuum_vessel", "Vessel under vacuum", "", "implosion; only vessels made for it, with a shield.", _MEMORY),
    Hazard("spinning", "Fast turning part", "", "a coupon or liquid can be thrown off; closed lid.", _MEMORY),
    Hazard("plasma", "Plasma and ozone", "H270 H330", "ozone and ultraviolet; interlock and exhaust.", _MEMORY, has_sheet=False),
    Hazard("ultrasonic_solvent", "Solvent in an ultrasonic bath", "H225",
           "heated vapour above an electrical device; only baths made for it.", _MEMORY, has_sheet=False),
    Hazard("immersion_liquid", "Liquid of the bath or flow", "", "its own safety data sheet decides on gloves, exhaust "
           "and waste; acids, bases and solvents by qualified people only.", _MEMORY),
    Hazard("probe_liquid", "Organic probe liquids", "H302 H315 H319 H360",
           "toxic by skin and vapour, formamide may harm the unborn child: exhaust, gloves, smallest vessels.", _MEMORY),
    Hazard("cold_surface", "Deep cold parts", "", "burns by cold; gloves and eye protection, air exchange where gases "
           "evaporate.", _MEMORY),
    Hazard("sharp_blade", "Blades and tips", "", "cuts; cut away from the hand, box for used blades.", _MEMORY),
    Hazard("moving_load", "Driven or loaded part", "", "pinching and flying ice or splinters; guard and eye "
           "protection.", _MEMORY),
    Hazard("blood", "Blood, plasma or serum", "", "treat all human blood as infectious; containment and vaccination "
           "offer by local rules.", _READ),
    Hazard("bacteria", "Bacteria", "", "trained microbiology staff only; decontaminate coupons and waste.", _READ),
]  # fmt: skip

HAZARDS: dict[str, Hazard] = {hazard.tag: hazard for hazard in _ALL}


def cautions_of(tags) -> list[str]:
    """One line a hazard, then the line that defers to those who know; empty without hazards."""
    lines = [HAZARDS[tag].line for tag in tags]
    return [*lines, DEFER] if lines else []
