"""The frozen records that go into the analysis and come out of it.

Going in: what a stored run, batch or specification says, without any trace of where it was stored.
Coming out: statistics, checks and outcomes as plain data; `as_data` turns any of them into JSON-ready values.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

MEASURED = "measured"
NOT_MOVED = "not_moved"  # not moved up to the stage limit: right-censored at the reading's value
MOVED_ON_PLACING = "moved_on_placing"  # gone before it could be read: left-censored at the reading's value (0)
LOST = "lost"  # no value at all, with a reason
QUALIFIERS = {
    MEASURED: "measured",
    NOT_MOVED: "not moved up to the stage limit",
    MOVED_ON_PLACING: "moved on placing",
    LOST: "lost",
}

HOLDS = "holds"
DOES_NOT_HOLD = "does not hold"
CANNOT_TELL = "cannot tell"

PASS = "pass"  # noqa: S105
FAIL = "fail"
INCONCLUSIVE = "inconclusive"

TREATED = "treated"
CONTROL = "control"
REFERENCE = "reference"
ROLES = {TREATED: "treated", CONTROL: "untreated control", REFERENCE: "reference"}


@dataclass(frozen=True, slots=True)
class Value:
    """A property of a material: a value that cannot be made without its unit and its source."""

    value: float
    unit: str
    source: str
    uncertainty: float | None = None  # standard uncertainty, same unit
    temperature_c: float | None = None

    def __post_init__(self):
        if not self.unit or not self.source:
            raise ValueError("a property needs its unit and its source")
        if not math.isfinite(self.value):
            raise ValueError("a property must be a finite number")


@dataclass(frozen=True, slots=True)
class Material:
    """A challenge liquid or a lubricant: properties by quantity key (surface_tension, density, …)."""

    code: str
    name: str
    properties: Mapping[str, Value] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Reading:
    """One observed number, or the statement that the drop did not move, moved at once, or was lost."""

    quantity: str
    value: float | None
    qualifier: str = MEASURED
    position: str = "1"
    drop: int = 1
    direction: str = ""
    excluded: bool = False
    reason: str = ""  # of a lost or excluded reading
    excluded_by: str = ""


@dataclass(frozen=True, slots=True)
class Run:
    """One test run: one coupon, one method, one liquid, one drop volume, one dose."""

    code: str
    coupon: str
    method: str
    readings: tuple[Reading, ...]
    settings: Mapping[str, object] = field(default_factory=dict)  # of the method version, by setting key
    method_version: str = ""  # the lab's own number of those settings
    role: str = TREATED
    liquid: Material | None = None
    drop_volume_ul: float | None = None
    dose: float = 0.0
    dose_kind: str = ""  # "" = fresh; else cycles, h, min, L …
    exposure: str = ""  # what the dose is a dose of ("freeze–thaw −20/+20 °C")
    room_temperature_c: float | None = None
    room_humidity_pct: float | None = None
    observed_at: datetime | None = None
    calibration_due: date | None = None  # of the instrument, on the day of the run
    instrument: str = ""
    coupon_area_mm2: float | None = None
    roughness_factor: Value | None = None  # true over projected area of the texture
    solid_angles: Mapping[str, Value] = field(default_factory=dict)
    # angles on the smooth functionalised solid, needed by the film criteria: keys "liquid", "lubricant" [deg]
    lubricant: Material | None = None  # None = not lubricated
    is_textured: bool = False
    companion: Run | None = None
    # run with θa and θr of the same coupon, liquid and dose: what a sliding angle is judged against


@dataclass(frozen=True, slots=True)
class Statistic:
    """One number that describes a run, a coupon or a batch, with its interval and what it rests on."""

    key: str  # hysteresis_mean, sliding_angle_median, …
    label: str
    unit: str
    value: float | None  # math.inf where a median lies beyond the stage limit; None where it cannot be given
    low: float | None = None
    high: float | None = None
    confidence: float | None = None
    decimals: int = 1
    n_coupons: int | None = None
    n_drops: int | None = None
    note: str = ""  # how it was computed, or why it is not given
    source: str = ""
    formulas: tuple[str, ...] = ()  # keys of analysis.formula, in the order in which they were used


@dataclass(frozen=True, slots=True)
class Check:
    """A stability check: holds, does not hold, or cannot tell; a sentence why; the numbers; the source."""

    key: str
    title: str
    outcome: str
    why: str
    numbers: Mapping[str, object] = field(default_factory=dict)  # label with unit -> number or text
    source: str = ""
    formulas: tuple[str, ...] = ()  # keys of analysis.formula
    needs: tuple[str, ...] = ()  # what it was computed from, as analysis.explanation names the facts of a run
    turns: str = ""  # what would change the outcome, one sentence


@dataclass(frozen=True, slots=True)
class RunResult:
    """What one run's readings mean."""

    run: str
    coupon: str
    statistics: tuple[Statistic, ...]
    checks: tuple[Check, ...]
    pairs: tuple[Mapping[str, object], ...] = ()  # one row per drop pair: angles, hysteresis, …
    n_readings: int = 0
    n_excluded: int = 0
    n_lost: int = 0

    def statistic(self, key: str) -> Statistic | None:
        return next((item for item in self.statistics if item.key == key), None)


@dataclass(frozen=True, slots=True)
class CouponValue:
    """One coupon's value of one statistic: the unit of replication."""

    coupon: str
    role: str
    value: float | None  # math.inf = median beyond the stage limit
    n_drops: int
    n_not_moved: int = 0
    stage_limit: float | None = None
    was_read: bool = False  # has a usable reading, if only one that gives no value (one angle of a pair)
    n_on_placing: int = 0
    drops: tuple[tuple[float, bool], ...] = ()
    # (value, whether it only is a limit that was not reached), given where some drops of the batch were not: the
    # batch mean then rests on the drops themselves

    @property
    def is_unknown(self) -> bool:
        """Read, but without a value: to leave such a coupon out would choose the result."""
        return self.value is None and (self.was_read or self.n_drops > 0)


@dataclass(frozen=True, slots=True)
class BatchGroup:
    """The coupons of one role read with one method, liquid, volume and dose: never pooled further."""

    key: str
    role: str
    method: str
    liquid: str
    drop_volume_ul: float | None
    dose: float
    dose_kind: str
    exposure: str
    coupons: tuple[str, ...]
    statistics: tuple[Statistic, ...]
    coupon_values: Mapping[str, tuple[CouponValue, ...]]  # statistic key -> one value a coupon
    runs: tuple[str, ...] = ()  # codes
    baseline_runs: tuple[str, ...] = ()  # dose-0 runs that a share after a dose refers to
    n_readings: int = 0  # all, with the two that follow
    n_excluded: int = 0
    n_lost: int = 0

    def statistic(self, key: str) -> Statistic | None:
        return next((item for item in self.statistics if item.key == key), None)


@dataclass(frozen=True, slots=True)
class BatchResult:
    groups: tuple[BatchGroup, ...]
    checks: tuple[Check, ...] = ()


@dataclass(frozen=True, slots=True)
class Criterion:
    """One line of a specification: an acceptance rule with its own numbers."""

    label: str  # C1
    kind: str  # a key of analysis.criteria
    quantity: str  # hysteresis, sliding_angle, receding_angle, lubricant_mass …
    limit: float
    parameters: Mapping[str, object] = field(default_factory=dict)  # of the kind
    side: str = "at_most"  # or "at_least"
    liquid: str = ""  # code of the challenge liquid; "" = any, but never more than one
    drop_volume_ul: float | None = None
    role: str = TREATED
    dose: float = 0.0
    dose_kind: str = ""
    wording: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one criterion came out."""

    label: str
    verdict: str  # pass, fail, inconclusive
    requirement: str  # the criterion in words, with limit and unit
    why: str  # one sentence
    rule: str  # the decision rule, with its source
    value: float | None = None
    low: float | None = None
    high: float | None = None
    confidence: float | None = None
    limit: float | None = None
    side: str = "at_most"
    unit: str = ""
    decimals: int = 1
    n_coupons: int = 0
    n_drops: int = 0
    coupon_values: tuple[CouponValue, ...] = ()
    runs: tuple[str, ...] = ()  # codes of the runs it rests on
    quantity: str = ""
    formulas: tuple[str, ...] = ()  # keys of analysis.formula
    turns: str = ""  # what would change the verdict, one sentence


@dataclass(frozen=True, slots=True)
class Judgement:
    """The outcome of every criterion and the verdict that follows from them."""

    verdict: str
    outcomes: tuple[Outcome, ...]


def as_data(thing):
    """JSON-ready copy of any record: infinities become "inf"/"-inf", dates ISO text, NaN None.

    >>> as_data(Value(72.8, "mN/m", "handbook"))["value"]
    72.8
    """
    if dataclasses.is_dataclass(thing):
        return {item.name: as_data(getattr(thing, item.name)) for item in dataclasses.fields(thing)}
    if isinstance(thing, Mapping):
        return {str(key): as_data(value) for key, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [as_data(value) for value in thing]
    if isinstance(thing, date | datetime):
        return thing.isoformat()
    if isinstance(thing, float) and not math.isfinite(thing):
        return None if math.isnan(thing) else ("inf" if thing > 0 else "-inf")
    return thing.item() if hasattr(thing, "item") else thing
