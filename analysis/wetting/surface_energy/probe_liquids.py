"""Probe liquids with the parts of their tension: which set of numbers was used decides what comes out.

The same two angles give 38.5 to 42.7 mN/m on one polymer, depending on how the tension of the liquids is split.
A set is therefore named, stored with the result, and never mixed with another one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

READ = "read in a source"
RECALLED = "from memory"
SPLIT_TOLERANCE = 0.1  # mN/m: published parts are rounded to 0.01 or 0.1
HIGHEST_APOLAR = 55.0  # mN/m: diiodomethane, 50.8, has the highest tension of the apolar probe liquids
DIIODOMETHANE = ("diiodomethane", "methylene iodide", "75-11-6")


@dataclass(frozen=True, slots=True)
class ProbeLiquid:
    """A probe liquid whose tension is split into a dispersive and a polar part [mN/m]."""

    name: str
    total: float
    dispersive: float
    polar: float
    set_key: str
    status: str = RECALLED
    source: str = "from_memory"

    def __post_init__(self) -> None:
        _require_positive(self.name, total=self.total, dispersive=self.dispersive)
        if not self.polar >= 0:
            raise ValueError(f"{self.name}: the polar part must be at least 0 mN/m, not {self.polar}")
        if not abs(self.dispersive + self.polar - self.total) <= SPLIT_TOLERANCE:
            raise ValueError(f"{self.name}: parts {self.dispersive} + {self.polar} mN/m do not add up to {self.total}")
        _refuse_handbook_diiodomethane(self.name, self.total, is_apolar=self.polar == 0)

    @property
    def is_apolar(self) -> bool:
        return self.polar == 0


@dataclass(frozen=True, slots=True)
class AcidBaseLiquid:
    """A probe liquid split into the apolar part and electron acceptor (acid) and donor (base) numbers [mN/m]."""

    name: str
    total: float
    apolar: float
    acid: float
    base: float
    set_key: str
    status: str = RECALLED
    source: str = "from_memory"

    def __post_init__(self) -> None:
        _require_positive(self.name, total=self.total, apolar=self.apolar)
        if not (self.acid >= 0 and self.base >= 0):
            raise ValueError(f"{self.name}: acid and base numbers must be at least 0 mN/m")
        together = self.apolar + 2 * (self.acid * self.base) ** 0.5
        if not abs(together - self.total) <= SPLIT_TOLERANCE:
            raise ValueError(f"{self.name}: the parts add up to {together:.2f} mN/m, not to {self.total}")
        _refuse_handbook_diiodomethane(self.name, self.total, is_apolar=self.acid == self.base == 0)


def _require_positive(name: str, **parts: float) -> None:
    for part, value in parts.items():
        if not 0 < value < float("inf"):
            raise ValueError(f"{name}: the {part} tension must be above 0 mN/m, not {value}")


def _refuse_handbook_diiodomethane(name: str, total: float, *, is_apolar: bool) -> None:
    if total > HIGHEST_APOLAR and (is_apolar or name.strip().lower().replace("_", " ") in DIIODOMETHANE):
        raise ValueError(
            f"{name}: {total} mN/m is above {HIGHEST_APOLAR} mN/m for an apolar probe liquid; handbook correlations "
            "give diiodomethane 67, but every component set has 50.8: mixing them raises a result by a third"
        )


# set -> (source, liquid -> (total, dispersive, polar, status)); 20 °C unless the key says otherwise [mN/m]
_SPLIT = {
    "set_a": ("probe_liquids_a", {
        "water": (72.8, 21.8, 51.0, READ),
        "diiodomethane": (50.8, 50.8, 0.0, RECALLED),
        "ethylene_glycol": (48.0, 29.0, 19.0, RECALLED),
        "formamide": (58.0, 39.0, 19.0, RECALLED),
        "glycerol": (64.0, 34.0, 30.0, RECALLED),
        "1-bromonaphthalene": (44.4, 44.4, 0.0, RECALLED),
        "hexadecane": (27.5, 27.5, 0.0, READ),
        "dimethyl_sulfoxide": (44.0, 36.0, 8.0, READ),
        "ethanol": (21.4, 18.8, 2.6, READ),
        "toluene": (28.5, 28.5, 0.0, READ),
    }),
    "set_b": ("probe_liquids_b", {
        "water": (72.8, 21.8, 51.0, RECALLED),
        "diiodomethane": (50.8, 49.5, 1.3, RECALLED),
    }),
    "set_c": ("probe_liquids_c", {
        "water": (72.8, 21.8, 51.0, READ),
        "diiodomethane": (50.8, 48.5, 2.3, READ),
    }),
    "set_d": ("probe_liquids_d", {
        "water": (72.8, 29.1, 43.7, READ),
        "diiodomethane": (50.0, 47.4, 2.6, READ),
        "ethylene_glycol": (47.7, 26.4, 21.3, READ),
    }),
    "set_e_20c": ("probe_liquids_e", {
        "water": (72.8, 27.19, 45.61, READ),
        "diiodomethane": (50.8, 50.8, 0.0, READ),
        "glycerol": (64.0, 36.34, 27.66, READ),
        "formamide": (58.0, 45.18, 12.82, READ),
        "ethylene_glycol": (48.0, 29.81, 18.19, READ),
        "ethanol": (23.2, 21.19, 2.01, READ),
    }),
    "set_e_20c_second_water": ("probe_liquids_e", {
        "water": (72.8, 26.25, 46.55, READ),
        "diiodomethane": (50.8, 50.8, 0.0, READ),
        "glycerol": (64.0, 36.34, 27.66, READ),
        "formamide": (58.0, 45.18, 12.82, READ),
        "ethylene_glycol": (48.0, 29.81, 18.19, READ),
        "ethanol": (23.2, 21.19, 2.01, READ),
    }),
    "set_e_30c": ("probe_liquids_e", {"water": (71.29, 27.29, 44.00, READ)}),
    "set_e_40c": ("probe_liquids_e", {"water": (69.77, 27.35, 42.42, READ)}),
    "set_wu": ("wu_1971", {
        "water": (72.8, 22.1, 50.7, RECALLED),
        "diiodomethane": (50.8, 44.1, 6.7, RECALLED),
    }),
}  # fmt: skip

# set -> liquid -> (total, apolar, acid, base, status) [mN/m]
_ACID_BASE_COMMON = {
    "water": (72.8, 21.8, 25.5, 25.5, READ),
    "formamide": (58.0, 39.0, 2.28, 39.6, RECALLED),
    "diiodomethane": (50.8, 50.8, 0.0, 0.0, RECALLED),
    "1-bromonaphthalene": (44.4, 44.4, 0.0, 0.0, RECALLED),
    "glycerol": (64.0, 34.0, 3.92, 57.4, RECALLED),
    "dimethyl_sulfoxide": (44.0, 36.0, 0.5, 32.0, READ),
}
_ACID_BASE = {
    "set_van_oss": {**_ACID_BASE_COMMON, "ethylene_glycol": (48.0, 29.0, 1.92, 47.0, RECALLED)},
    "set_van_oss_newer_glycol": {**_ACID_BASE_COMMON, "ethylene_glycol": (48.0, 29.0, 3.0, 30.1, RECALLED)},
}

PROBE_LIQUIDS: dict[str, dict[str, ProbeLiquid]] = {
    key: {name: ProbeLiquid(name, *row[:3], key, row[3], source) for name, row in rows.items()}
    for key, (source, rows) in _SPLIT.items()
}
ACID_BASE_LIQUIDS: dict[str, dict[str, AcidBaseLiquid]] = {
    key: {name: AcidBaseLiquid(name, *row[:4], key, row[4], "van_oss_1988") for name, row in rows.items()}
    for key, rows in _ACID_BASE.items()
}


def probe_liquids(set_key: str, *names: str) -> tuple[ProbeLiquid, ...]:
    """Liquids of one component set by name, for Owens–Wendt, Wu, Fowkes and Neumann.

    Parameters
    ----------
    set_key : str
        Key of `PROBE_LIQUIDS`: "set_a" is the one most used; "set_e_30c" and "set_e_40c" hold water alone.
    *names : str
        Liquids; none means all of the set.

    Returns
    -------
    tuple of ProbeLiquid
        In the order asked for; total, dispersive and polar part [mN/m], with source and status.

    Raises
    ------
    ValueError
        For an unknown set or liquid; the message lists what there is.

    Source: `probe_liquids_a`, `probe_liquids_b`, `probe_liquids_c`, `probe_liquids_d`,
    `probe_liquids_e`, `wu_1971`.

    >>> [liquid.polar for liquid in probe_liquids("set_a", "water", "diiodomethane")]
    [51.0, 0.0]
    """
    return _named(PROBE_LIQUIDS, set_key, names)


def acid_base_liquids(set_key: str, *names: str) -> tuple[AcidBaseLiquid, ...]:
    """Liquids of one component set by name, for van Oss–Chaudhury–Good.

    Parameters
    ----------
    set_key : str
        "set_van_oss", or "set_van_oss_newer_glycol" with other numbers for ethylene glycol.
    *names : str
        Liquids; none means all of the set.

    Returns
    -------
    tuple of AcidBaseLiquid
        In the order asked for [mN/m].

    Raises
    ------
    ValueError
        For an unknown set or liquid.

    Source: `van_oss_1988`.

    >>> acid_base_liquids("set_van_oss", "water")[0].base
    25.5
    """
    return _named(ACID_BASE_LIQUIDS, set_key, names)


def set_of(liquids: Sequence[ProbeLiquid | AcidBaseLiquid]) -> str:
    """The set that all these liquids belong to.

    Parameters
    ----------
    liquids : sequence
        Probe liquids of a fit.

    Returns
    -------
    str
        Key of the set.

    Raises
    ------
    ValueError
        For no liquid, liquids of different sets, or the same liquid twice.

    Source: `common_practice`.

    >>> set_of(probe_liquids("set_b", "water", "diiodomethane"))
    'set_b'
    """
    keys, names = {liquid.set_key for liquid in liquids}, [liquid.name for liquid in liquids]
    if len(keys) != 1:
        raise ValueError(f"liquids must come from one component set, not from {sorted(keys) or 'none'}")
    if len(set(names)) < len(names):
        raise ValueError(f"each liquid may stand once, not {names}: take the mean of its angles")
    return keys.pop()


def recalled_note(liquids: Sequence[ProbeLiquid | AcidBaseLiquid]) -> list[str]:
    """One sentence that names the liquids whose parts are from memory; empty when all were read.

    Source: `common_practice`.

    >>> recalled_note(probe_liquids("set_a", "water", "diiodomethane"))
    ['parts of the tension from memory: diiodomethane']
    """
    names = [liquid.name for liquid in liquids if liquid.status == RECALLED]
    return [f"parts of the tension from memory: {', '.join(names)}"] if names else []


def _named(sets: dict, set_key: str, names: Sequence[str]) -> tuple:
    if set_key not in sets:
        raise ValueError(f"no component set {set_key!r}; there are {', '.join(sets)}")
    liquids = sets[set_key]
    for name in names:
        if name not in liquids:
            raise ValueError(f"{set_key} has no {name!r}; it has {', '.join(liquids)}")
    return tuple(liquids[name] for name in names or liquids)
