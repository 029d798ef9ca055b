"""Contact angles of several probe liquids on one coupon, and the surface free energy that follows."""

from __future__ import annotations

from collections.abc import Callable
from statistics import fmean, stdev

from analysis import checks
from analysis.method import Derived, Method, ReadingKind, Setting
from analysis.records import Run
from analysis.reduction import values_of
from analysis.wetting.surface_energy import PROBE_LIQUIDS, SurfaceEnergy, owens_wendt, probe_liquids, wu

LIQUIDS = ("water", "diiodomethane", "ethylene_glycol", "formamide", "hexadecane")
READ = tuple(f"{name}_probe_angle" for name in LIQUIDS)
SETS = tuple(
    (key, f"{key.removeprefix('set_').replace('_', ' ')} ({', '.join(name for name in LIQUIDS if name in liquids)})")
    for key, liquids in PROBE_LIQUIDS.items()
    if len(set(LIQUIDS) & set(liquids)) > 1
)
MODELS = {"owrk": ("Owens–Wendt–Rabel–Kaelble", owens_wendt), "wu": ("Wu, harmonic means", wu)}


def surface_energy(run: Run) -> SurfaceEnergy | None:
    """Surface energy of the coupon from the mean angle of each liquid; None where it cannot be given."""
    liquids = [name for name in LIQUIDS if values_of(run, f"{name}_probe_angle")]
    chosen = run.settings.get("component_set"), MODELS.get(run.settings.get("model"))
    if len(liquids) < 2 or None in chosen:
        return None
    angles = [values_of(run, f"{name}_probe_angle") for name in liquids]
    has_spread = all(len(values) > 1 for values in angles)
    spread = [stdev(values) for values in angles] if has_spread else None
    surface = "infused" if run.lubricant else "textured" if run.is_textured else "not_stated"
    try:
        named = probe_liquids(chosen[0], *liquids)
        means, counts = [fmean(values) for values in angles], [len(values) for values in angles]
        return chosen[1][1](means, named, angle_sd_deg=spread, replicates=counts, surface=surface)
    except (ValueError, KeyError):  # a liquid that the set lacks, or angles that the model cannot describe
        return None


def _part(name: str) -> Callable[[Run], list[float]]:
    def values(run: Run) -> list[float]:
        found = surface_energy(run)
        value = getattr(found, name) if found else None
        return [] if value is None else [float(value)]

    return values


def _formula(run: Run) -> str:
    chosen = MODELS.get(run.settings.get("model"), MODELS["owrk"])[1]
    return chosen.formula.key


def _notes(run: Run) -> list[str]:
    found = surface_energy(run)
    if found is None:
        return ["No surface energy: it needs two liquids of the chosen component set, and angles that the model fits."]
    return [note for note in (found.caution, *found.notes) if note]


_NEEDS = (*READ, "setting.component_set", "setting.model")
METHOD = Method(
    key="probe_liquid_angles",
    title="Contact angles of probe liquids, for the surface energy",
    purpose="Surface free energy of a smooth solid from the angles of at least one polar and one apolar liquid.",
    readings=tuple(ReadingKind(key, is_required=key.startswith(("water", "diiodo"))) for key in READ),
    settings=(
        Setting("component_set", "Set of liquid components", kind="choice", choices=SETS),
        Setting(
            "model",
            "Model",
            kind="choice",
            choices=tuple((key, title) for key, (title, _) in MODELS.items()),
            usual="owrk",
        ),
        Setting("volume_ul", "Drop volume", "µL", 0.1, 100),
        Setting("wait_s", "Time from placing to reading", "s", 0, 600),
        Setting(
            "angle_kind",
            "Resting or advancing angle",
            kind="choice",
            choices=(("resting", "resting"), ("advancing", "advancing")),
        ),
        Setting("fit", "Fit of the outline", kind="text"),
    ),
    conditions=("room_temperature_c", "room_humidity_pct", "instrument"),
    derived=tuple(
        Derived(quantity, _part(part), _formula, _NEEDS)
        for quantity, part in (
            ("surface_energy", "total"),
            ("surface_energy_dispersive", "dispersive"),
            ("surface_energy_polar", "polar"),
        )
    ),
    notes=_notes,
    replicate_plan="five drops of each liquid a coupon, fresh places; at least three coupons",
    checks=(
        checks.angles_possible,
        *checks.over(READ[0], checks.drift_over_drops, checks.outliers),
        checks.smooth_for_energy,
        checks.calibration,
    ),
    coupon_statistics=("surface_energy_mean", "water_probe_angle_mean", "diiodomethane_probe_angle_mean"),
    standards=("iso_19403_2", "astm_d7490", "en_828"),
    hazards=("probe_liquid",),
    provenance="Settings from memory of the trade; no conformity with a standard is claimed.",
)
