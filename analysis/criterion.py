"""The form of an acceptance rule: its declaration, its parameters, and one criterion before its coupons."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from analysis.quantities import QUANTITIES, Quantity
from analysis.records import ROLES, BatchGroup, CouponValue, Criterion, Outcome
from analysis.sources import citation

SIDES = {"at_most": "at most", "at_least": "at least"}
DECISION = f"The rule is stated with the result ({citation('iso_17025_7_8_6')})."


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number or choice that a criterion of this kind carries."""

    key: str
    label: str
    default: float | str
    unit: str = ""
    low: float | None = None  # both bounds are allowed values
    high: float | None = None
    choices: tuple[tuple[str, str], ...] = ()  # (key, label); empty = a number

    def accept(self, value) -> float | str:
        """The value if it is allowed, else ValueError with the name of the parameter."""
        if self.choices:
            if value not in dict(self.choices):
                raise ValueError(f"{self.label}: one of {', '.join(dict(self.choices))}, not {value!r}")
            return value
        number = float(value)
        low = -math.inf if self.low is None else self.low
        high = math.inf if self.high is None else self.high
        if not low <= number <= high:
            raise ValueError(f"{self.label}: {low:g} to {high:g}, not {value}")
        return number


@dataclass(frozen=True, slots=True)
class CriterionKind:
    """A kind of acceptance rule as declared; forms and lists follow from it."""

    key: str
    title: str
    what: str  # one sentence
    statistic: str  # key of the coupon values that it needs, with {quantity} and {parameter}s filled in
    decide: Callable  # (Case) -> Outcome
    parameters: tuple[Parameter, ...] = ()
    subject: str = ""  # what is held against the limit, with the same fillings
    quantity: str = ""  # the only quantity that it judges; "" = any
    unit: str | None = None  # of the limit, where it is not the unit of the quantity
    decimals: int | None = None
    formulas: tuple[str, ...] = ()  # keys of analysis.formula, in the order in which they are used


CRITERION_KINDS: dict[str, CriterionKind] = {}


def criterion_kind(key: str, title: str, what: str, statistic: str, **facts) -> Callable:
    """Declare the function below as a kind of acceptance rule."""

    def declare(decide: Callable) -> Callable:
        if key in CRITERION_KINDS:
            raise ValueError(f"criterion kind {key!r} is taken")
        CRITERION_KINDS[key] = CriterionKind(key, title, what, statistic, decide, **facts)
        return decide

    return declare


@dataclass(frozen=True, slots=True)
class Case:
    """One criterion before the coupons that it applies to: all that a kind needs to decide."""

    criterion: Criterion
    kind: CriterionKind
    parameters: Mapping[str, float | str]
    group: BatchGroup
    values: tuple[CouponValue, ...]

    @property
    def known(self) -> list[float]:
        return [item.value for item in self.values if item.value is not None]

    @property
    def quantity(self) -> Quantity:
        return QUANTITIES[quantity_key(self.criterion, self.kind)]

    def meets(self, value: float) -> bool:
        """Whether a value lies on the wanted side of the limit, the limit itself included."""
        limit = self.criterion.limit
        return value <= limit if self.criterion.side == "at_most" else value >= limit

    def is_known_beyond(self, item: CouponValue) -> bool:
        """Whether a coupon is known to lie beyond the limit; a median past the stage limit is, if that is."""
        if item.value is None:
            return False
        if not math.isinf(item.value):
            return not self.meets(item.value)
        at_most = self.criterion.side == "at_most"
        return at_most and item.stage_limit is not None and item.stage_limit >= self.criterion.limit

    def is_undecided(self, item: CouponValue) -> bool:
        """Whether a coupon lies beyond a stage limit from which the limit cannot be judged."""
        if item.value is None or not math.isinf(item.value):
            return False
        return item.stage_limit is None or item.stage_limit < self.criterion.limit

    def text(self, value: float) -> str:
        """A value with its unit, with as many digits as it takes to tell it from the limit."""
        _, unit, decimals = scale(self.criterion, self.kind)
        decimals = telling_decimals(value, self.criterion.limit, decimals)
        return as_text(value, unit, decimals, self.quantity.limit)

    def outcome(self, verdict: str, why: str, rule: str, **numbers) -> Outcome:
        return dataclasses.replace(
            blank_outcome(self.criterion, self.kind, self.parameters, verdict, why),
            rule=f"{rule} {DECISION}",
            n_coupons=sum(item.value is not None or bool(item.drops) for item in self.values),
            n_drops=sum(item.n_drops for item in self.values),
            coupon_values=self.values,
            runs=self.group.runs,
            **numbers,
        )


def checked(criterion: Criterion) -> tuple[CriterionKind, dict[str, float | str]]:
    """The kind of a criterion and its parameters with defaults; ValueError says what is wrong with it."""
    kind = CRITERION_KINDS.get(criterion.kind)
    if kind is None:
        raise ValueError(f"{criterion.label}: kind is one of {', '.join(CRITERION_KINDS)}, not {criterion.kind!r}")
    if criterion.quantity not in QUANTITIES:
        raise ValueError(f"{criterion.label}: unknown quantity {criterion.quantity!r}")
    if criterion.side not in SIDES:
        raise ValueError(f"{criterion.label}: side is one of {', '.join(SIDES)}, not {criterion.side!r}")
    if not math.isfinite(criterion.limit):
        raise ValueError(f"{criterion.label}: the limit must be a finite number, not {criterion.limit}")
    known = {parameter.key: parameter for parameter in kind.parameters}
    unknown = set(criterion.parameters) - set(known)
    if unknown:
        raise ValueError(f"{criterion.label}: {kind.title} has no parameter {', '.join(sorted(unknown))}")
    return kind, {
        key: parameter.accept(criterion.parameters.get(key, parameter.default)) for key, parameter in known.items()
    }


def requirement(criterion: Criterion) -> str:
    """The criterion in words, with its limit and unit."""
    kind, parameters = checked(criterion)
    title, unit, decimals = scale(criterion, kind)
    words = {key: percent(value) if key == "coverage" else value for key, value in parameters.items()}
    quantity = QUANTITIES[quantity_key(criterion, kind)]
    subject = kind.subject.format(title=title, beyond=quantity.beyond, end=quantity.limit, **words)
    limit = as_text(criterion.limit, unit, telling_decimals(criterion.limit, None, decimals))
    return f"{subject} ({conditions(criterion)}): {SIDES[criterion.side]} {limit}"


def applies(criterion: Criterion, group: BatchGroup) -> bool:
    """Whether the coupons of a group are those that the criterion names."""
    volume = criterion.drop_volume_ul
    same_volume = volume is None or (group.drop_volume_ul is not None and math.isclose(volume, group.drop_volume_ul))
    same_dose = math.isclose(criterion.dose, group.dose) and (
        criterion.dose == 0 or criterion.dose_kind == group.dose_kind
    )
    same_liquid = criterion.liquid in ("", group.liquid)
    return criterion.role == group.role and same_liquid and same_volume and same_dose


def conditions(criterion: Criterion) -> str:
    parts = [f"{ROLES.get(criterion.role, criterion.role)} coupons", criterion.liquid]
    parts.append("" if criterion.drop_volume_ul is None else f"{criterion.drop_volume_ul:g} µL")
    parts.append(f"after {criterion.dose:g} {criterion.dose_kind}".strip() if criterion.dose else "fresh")
    return ", ".join(part for part in parts if part)


def quantity_key(criterion: Criterion, kind: CriterionKind) -> str:
    return kind.quantity or criterion.quantity


def scale(criterion: Criterion, kind: CriterionKind) -> tuple[str, str, int]:
    quantity = QUANTITIES[quantity_key(criterion, kind)]
    unit = quantity.unit if kind.unit is None else kind.unit
    return quantity.title, unit, quantity.decimals if kind.decimals is None else kind.decimals


def blank_outcome(criterion, kind, parameters, verdict, why) -> Outcome:
    _, unit, decimals = scale(criterion, kind)
    return Outcome(
        criterion.label,
        verdict,
        requirement(criterion),
        why,
        f"{kind.what} {DECISION}",
        limit=criterion.limit,
        side=criterion.side,
        unit=unit,
        decimals=decimals,
        quantity=quantity_key(criterion, kind),
        formulas=kind.formulas,
    )


def telling_decimals(value: float, limit: float | None, decimals: int) -> int:
    """Enough decimals that a value is not printed as the limit (limit None: that it is printed in full)."""
    for more in range(decimals, decimals + 4):
        shown = round(value, more) if math.isfinite(value) else value
        if shown == value or (limit is not None and shown != round(limit, more)):
            return more
    return decimals + 4 if limit is None else decimals


def as_text(value: float, unit: str, decimals: int, end: str = "stage limit") -> str:
    if not math.isfinite(value):
        return f"beyond the {end}"
    number = f"{value:.{decimals}f}"
    return f"{number}{'' if unit in ('', '°') else ' '}{unit}"


def percent(share: float) -> str:
    return f"{100 * share:g} %"
