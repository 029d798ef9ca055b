"""The form of a recipe step kind."""

from __future__ import annotations

from dataclasses import dataclass

from labrecords import entry
from labrecords.errors import ValueRefused
from labrecords.processes.hazards import HAZARDS, cautions_of


@dataclass(frozen=True, slots=True)
class StepField:
    """One value that a step plans and records. Bounds are what is physically possible, never a suggestion."""

    key: str
    label: str
    unit: str = ""
    low: float = -1e9
    high: float = 1e9
    kind: str = "number"  # or "text"

    @property
    def title(self) -> str:
        return f"{self.label} [{self.unit}]" if self.unit else self.label

    def checked(self, value):
        """The value as it is stored; refuses text for a number and what lies outside the bounds."""
        if self.kind == "text":
            return str(value).strip()
        number = entry.number(value, field=self.key, label=self.title)
        if number is None:
            raise ValueRefused(field=self.key, label=self.title, value="", rule="is empty")
        if not self.low <= number <= self.high:
            rule = f"is outside {self.low:g} to {self.high:g} {self.unit}".rstrip()
            raise ValueRefused(field=self.key, label=self.title, value=value, rule=rule)
        return number


@dataclass(frozen=True, slots=True)
class StepKind:
    key: str
    title: str
    family: str
    fields: tuple[StepField, ...]
    hazards: tuple[str, ...] = ()  # keys of HAZARDS
    makes_texture: bool = False
    infuses: bool = False

    @property
    def cautions(self) -> list[str]:
        """One line a hazard, then the line that defers to those who know; empty for a step without hazards."""
        return cautions_of(self.hazards)

    def field(self, key: str) -> StepField:
        found = next((item for item in self.fields if item.key == key), None)
        if found is None:
            raise ValueRefused(field=key, label=self.title, value=key, rule="is not a value of this step")
        return found

    def checked_plan(self, planned: dict) -> dict:
        """Planned values as stored: {key: {"value", "tolerance"}} for numbers, {key: {"text"}} for words."""
        return {key: self._checked_entry(self.field(key), entry) for key, entry in planned.items()}

    def _checked_entry(self, field, entry):
        if field.kind == "text":
            return {"text": field.checked(entry["text"])}
        tolerance = entry.get("tolerance")
        if tolerance is not None:
            tolerance = StepField(field.key, f"Tolerance of {field.label}", field.unit, 0, 1e9).checked(tolerance)
        return {"value": field.checked(entry["value"]), "tolerance": tolerance}

    def planned_row(self, key: str, entry: dict) -> dict:
        field = self.field(key)
        if field.kind == "text":
            return {
                "key": key,
                "label": field.label,
                "unit": "",
                "text": entry["text"],
                "low": None,
                "high": None,
            }
        value, tolerance = entry["value"], entry.get("tolerance")
        text = f"{value:g}" if tolerance is None else f"{value:g} ± {tolerance:g}"
        return {
            "key": key,
            "label": field.label,
            "unit": field.unit,
            "text": text,
            "low": None if tolerance is None else value - tolerance,
            "high": None if tolerance is None else value + tolerance,
        }

    def compare(self, planned: dict, actual: dict) -> list[dict]:
        """One row a planned or actual value; `within` is None where no tolerance was planned or no value recorded."""
        rows = []
        for field in self.fields:
            if field.key not in planned and field.key not in actual:
                continue
            row = (
                self.planned_row(field.key, planned[field.key])
                if field.key in planned
                else {
                    "key": field.key,
                    "label": field.label,
                    "unit": field.unit,
                    "text": "–",
                    "low": None,
                    "high": None,
                }
            )
            done = actual.get(field.key)
            row["actual"] = done
            judged = done is not None and row["low"] is not None
            # A last-digit rounding of 97 ± 0.3 must not make 97.3 a deviation.
            slack = 1e-9 * max(1.0, abs(row["high"])) if judged else 0
            row["within"] = row["low"] - slack <= done <= row["high"] + slack if judged else None
            rows.append(row)
        return rows


KINDS: dict[str, StepKind] = {}


def register(kind: StepKind) -> StepKind:
    """Make a step kind known. A key is never used twice; every hazard tag must be declared."""
    if KINDS.get(kind.key, kind) is not kind:
        raise ValueError(f"step kind {kind.key!r} is taken")
    unknown = set(kind.hazards) - set(HAZARDS)
    if unknown:
        raise ValueError(f"undeclared hazards: {', '.join(sorted(unknown))}")
    KINDS[kind.key] = kind
    return kind


def choices():
    return [(key, kind.title) for key, kind in KINDS.items()]
