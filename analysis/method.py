"""The form of a test method: what is read, under which conditions, how it is reduced, which checks apply.

A method is one file in `analysis/methods/` with a constant METHOD, an exposure between runs one with a constant
EXPOSURE. Forms, API fields, the import, the report and the list of choices follow from it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from analysis.records import Run


@dataclass(frozen=True, slots=True)
class ReadingKind:
    """One quantity that is read at each drop (or once a coupon)."""

    quantity: str  # key of analysis.quantities
    can_be_not_moved: bool = False  # offers "not moved up to the stage limit"
    can_move_on_placing: bool = False
    is_required: bool = True  # each drop needs it before the run can be completed


@dataclass(frozen=True, slots=True)
class Setting:
    """One local setting of the method, fixed by the lab in a numbered version."""

    key: str  # tilt_rate_deg_per_s
    label: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    kind: str = "number"  # or "text", or "choice"
    is_required: bool = True
    limits_quantity: str = ""  # quantity whose readings may not exceed this setting (the stage limit)
    usual: float | str | None = None  # what the trade often takes, from memory; a form starts with it, the lab decides
    choices: tuple[tuple[str, str], ...] = ()  # of kind "choice": (key, words)


@dataclass(frozen=True, slots=True)
class Derived:
    """A quantity that follows from the readings of a run, one value a drop (or one a coupon)."""

    quantity: str  # key of analysis.quantities
    values: Callable  # (Run) -> sequence of float; empty where something it needs is missing
    formula: str | Callable  # key of analysis.formula.FORMULAS; (Run) -> key where a setting chooses the formula
    needs: tuple[str, ...] = ()  # what it is computed from, as `analysis.explanation` names the facts of a run
    beyond: Callable | None = None  # (Run) -> sequence of bool, one a value: only known to lie above it

    def formula_of(self, run: Run) -> str:
        return self.formula(run) if callable(self.formula) else self.formula


@dataclass(frozen=True, slots=True)
class Method:
    """A test method as declared; the lab adds its own settings in numbered versions."""

    key: str
    title: str
    purpose: str  # one sentence
    readings: tuple[ReadingKind, ...]
    settings: tuple[Setting, ...]
    conditions: tuple[str, ...]  # fields of a run that are mandatory: liquid, drop_volume_ul, …
    replicate_plan: str
    checks: tuple[Callable, ...]  # each (Run, baseline: Run | None) -> Check | None; None = does not apply
    coupon_statistics: tuple[str, ...]  # statistic keys that stand for the coupon in a batch
    standards: tuple[str, ...] = ()  # keys of analysis.sources, with what they do and do not cover
    provenance: str = "from memory"  # where the settings come from
    derived: tuple[Derived, ...] = ()
    notes: Callable | None = None  # (Run) -> sentences to be read with the statistics: what they are not
    pair: tuple[str, str] | None = None  # (advancing, receding): the two form a pair a drop
    per_drop: bool = True  # False: one reading a coupon (a mass)
    hazards: tuple[str, ...] = ()  # tags: the record system shows the caution of each
    stage_limit_setting: str = ""  # key of the setting that holds the stage limit

    def setting(self, key: str) -> Setting | None:
        return next((item for item in self.settings if item.key == key), None)

    def reading(self, quantity: str) -> ReadingKind | None:
        return next((item for item in self.readings if item.quantity == quantity), None)


@dataclass(frozen=True, slots=True)
class Exposure:
    """What is done to a coupon between two runs: a dose of wear, heat, flow or time under stated conditions."""

    key: str
    title: str
    purpose: str  # one sentence
    dose_kinds: tuple[str, ...]  # what a dose may be counted in: cycles, h, L …
    conditions: tuple[Setting, ...]  # recorded with each run after a dose
    hazards: tuple[str, ...] = ()  # tags: the record system shows the caution of each
    standards: tuple[str, ...] = ()  # keys of analysis.sources, with what they do and do not cover
    provenance: str = "from memory"

    def condition(self, key: str) -> Setting | None:
        return next((item for item in self.conditions if item.key == key), None)
