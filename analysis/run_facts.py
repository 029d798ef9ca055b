"""The facts of a run by name, each with value, unit and source: what an explanation says went in."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from analysis.methods import METHODS
from analysis.quantities import QUANTITIES, Quantity
from analysis.records import LOST, MEASURED, MOVED_ON_PLACING, NOT_MOVED, Reading, Run, Value
from analysis.sources import SOURCES, citation


@dataclass(frozen=True, slots=True)
class Input:
    """One thing that went in: what it is, its value as text, its unit, and where it comes from."""

    what: str
    value: str
    unit: str = ""
    source: str = ""
    run: str = ""  # code of the run, where these are its readings: a document that prints them anyway may refer to it


def in_words(value: float | str | None, decimals: int, unit: str, limit: str = "stage limit") -> str:
    """A number with its unit; what cannot be given is a dash, infinity lies beyond the limit.

    >>> in_words(1.966, 2, "°")
    '1.97°'
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return "–"
    if math.isinf(value):
        return f"beyond the {limit}"
    return f"{value:.{decimals}f}{unit if unit in ('', '°') else f' {unit}'}".replace("-", "−")


_ATTRIBUTES = {
    "drop_volume_ul": ("drop volume", "µL"),
    "room_temperature_c": ("room temperature", "°C"),
    "room_humidity_pct": ("relative humidity", "%"),
    "coupon_area_mm2": ("exposed area of the coupon", "mm²"),
    "observed_at": ("read at", ""),
    "calibration_due": ("calibration due on", ""),
    "dose": ("dose", ""),
}


def facts_of(run: Run, needs: Sequence[str]) -> Iterator[Input]:
    """The facts of a run by name: a quantity that was read, liquid.density, setting.fit, an attribute …"""
    for need in needs:
        owner, _, name = need.partition(".")
        if need in QUANTITIES and need != "roughness_factor":
            yield from _read(run, QUANTITIES[need])
        elif owner in ("liquid", "lubricant"):
            material = getattr(run, owner)
            of = f"of {material.name}" if material else f"of the {owner}"
            yield _property(QUANTITIES[name], material.properties.get(name) if material else None, of)
        elif owner == "smooth_angle":
            yield _property(QUANTITIES["smooth_angle"], run.solid_angles.get(name), f"of the {name}")
        elif owner == "setting":
            yield _setting(run, name)
        elif need == "companion":
            for quantity in ("advancing_angle", "receding_angle"):
                yield from _read(run.companion, QUANTITIES[quantity]) if run.companion else ()
        elif need == "roughness_factor":
            yield _property(QUANTITIES["roughness_factor"], run.roughness_factor, "of the texture")
        else:
            label, unit = _ATTRIBUTES[need]
            value = getattr(run, need)
            yield Input(label, "not recorded" if value is None else plain_text(value), unit, f"run {run.code}")


def _read(run: Run, quantity: Quantity) -> Iterator[Input]:
    rows = [item for item in run.readings if item.quantity == quantity.key]
    used = [_reading(item, quantity) for item in rows if not item.excluded and item.qualifier != LOST]
    where = f"run {run.code}, coupon {run.coupon}, as read"
    yield Input(f"{quantity.title}, {len(used)} readings", "; ".join(used) or "none", quantity.unit, where, run.code)
    for item in rows:
        if item.excluded or item.qualifier == LOST:
            state = "excluded" if item.excluded else "lost"
            who = f", by {item.excluded_by}" if item.excluded_by else ""
            place = f"position {item.position}, drop {item.drop}"
            what = f"{quantity.title}, {state}, left out of every number"
            yield Input(what, _reading(item, quantity), quantity.unit, f"{place}: {item.reason}{who}")


def _reading(item: Reading, quantity: Quantity) -> str:
    if item.value is None or item.qualifier == LOST:
        return "lost"
    number = f"{item.value:.{quantity.decimals}f}"
    marks = {MEASURED: "{}", NOT_MOVED: f"> {{}} ({quantity.beyond})", MOVED_ON_PLACING: "moved on placing"}
    return marks[item.qualifier].format(number)


def _property(quantity: Quantity, value: Value | None, of: str) -> Input:
    what = f"{quantity.title} {of}"
    if value is None:
        return Input(what, "not recorded", quantity.unit)
    spread = "" if value.uncertainty is None else f" ± {value.uncertainty:g} (standard uncertainty)"
    at = "" if value.temperature_c is None else f" at {value.temperature_c:g} °C"
    return Input(what, f"{value.value:g}{spread}{at}", quantity.unit, sourced(value.source))


def _setting(run: Run, name: str) -> Input:
    declared = METHODS[run.method].setting(name)
    version = f"method version {run.method_version}" if run.method_version else "settings of the method"
    value = run.settings.get(name)
    told = "not recorded" if value is None else plain_text(dict(declared.choices).get(value, value))
    return Input(declared.label, told, declared.unit, version)


def sourced(key: str) -> str:
    return citation(key) if key in SOURCES else key


def plain_text(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.6g}".replace("-", "−").replace("inf", "infinite")
    return value.isoformat(sep=" ") if hasattr(value, "hour") else str(value)
