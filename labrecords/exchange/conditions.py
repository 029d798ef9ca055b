"""The columns of a readings file that hold for a whole run: read, settled, compared with what is stored."""

from __future__ import annotations

import re
from functools import cached_property

from django.db.models import CheckConstraint
from django.utils import timezone

from analysis import EXPOSURES, METHODS
from labrecords import entry
from labrecords.actions import coupons, people
from labrecords.actions.rows import find
from labrecords.errors import ValueRefused
from labrecords.models import ChallengeLiquid, Coupon, Instrument, LiquidLot, MethodVersion, Person, TestRun
from labrecords.models.run import DOSE_KINDS
from labrecords.visibility import visible

NOT_IN_FILE = "not in the imported file"
# Conditions of a run that the caller may give for every run whose file does not state them.
DEFAULTS = (
    "observed_at", "instrument", "operators", "room_temperature_c", "room_humidity_pct", "not_recorded",
)  # fmt: skip
OPTIONAL = ("dose_kind", "exposure_kind", "exposure_conditions", "exposure", "method_version", *DEFAULTS)
REQUIRED = ("coupon", "method", "liquid", "drop_volume_ul", "dose")
_DOSES = ", ".join(filter(None, DOSE_KINDS))
_DOSE = re.compile(r"(?P<number>\S+) +(?P<kind>\S+)")


class Lookup:
    """Codes turned into rows, each asked for once."""

    def __init__(self, by, coupon_codes=()):
        codes = {code.upper() for code in coupon_codes}
        self._by = by
        self._coupons = {row.code: row for row in visible(Coupon.objects.filter(code__in=codes), by)}
        self._found = {}

    def read(self, column: str, text):
        """The value that stands in a cell of a run's condition. Raises a Refusal."""
        if (column, text) not in self._found:
            self._found[column, text] = getattr(self, f"_{column}", self._plain)(text, column)
        return self._found[column, text]

    def version(self, method, number):
        versions = self._versions.get(method, {})
        if not versions:
            rule = "has no version of the lab's settings yet: fix one on the methods page"
            raise ValueRefused(field="method", label="Method", value=method, rule=rule)
        if number and number not in versions:
            rule = f"is no version of {method}; there are {', '.join(map(str, versions))}"
            raise ValueRefused(field="method_version", label="Method version", value=number, rule=rule)
        return versions[number or max(versions)]

    def lot(self, text, day):
        """The lot with this code, or the only lot in date of the liquid with this code."""
        if not text:
            return None
        named = LiquidLot.objects.select_related("liquid").filter(code__iexact=text).first()
        liquid = None if named else ChallengeLiquid.objects.filter(code__iexact=text).first()
        if named or liquid is None:
            return named or find(LiquidLot, text, field="liquid", noun="liquid lot or challenge liquid")
        lots = [lot for lot in liquid.lots.select_related("liquid") if _in_date(lot, day)]
        if len(lots) == 1:
            return lots[0]
        names = ", ".join(lot.code for lot in lots)
        rule = (
            f"has {len(lots)} lots in date on {day} ({names}): name the lot" if lots else f"has no lot in date on {day}"
        )
        raise ValueRefused(field="liquid", label="Liquid", value=text, rule=rule)

    @cached_property
    def _versions(self):
        found = {}
        for version in MethodVersion.objects.all():
            found.setdefault(version.method, {})[version.number] = version
        return found

    def _coupon(self, text, column):
        return self._coupons.get(text.upper()) or coupons.find(text, by=self._by)

    def _method(self, text, column):
        if text not in METHODS:
            raise ValueRefused(field=column, label="Method", value=text, rule=f"is none of {', '.join(METHODS)}")
        return text

    def _method_version(self, text, column):
        return entry.whole(text, field=column, low=1)

    def _liquid(self, text, column):
        return text.upper()

    def _dose(self, text, column):
        """Number and unit, where the unit stands in the same cell."""
        parts = _DOSE.fullmatch(text)
        if parts is None:
            return entry.number(text, field=column, **_bounds(column)), ""
        return entry.number(parts["number"], field=column, **_bounds(column)), self._dose_kind(parts["kind"], column)

    def _dose_kind(self, text, column):
        if text not in DOSE_KINDS:
            raise ValueRefused(field=column, label="Dose", value=text, rule=f"is in none of {_DOSES}")
        return text

    def _exposure_kind(self, text, column):
        if text not in EXPOSURES:
            raise ValueRefused(field=column, label="Exposure", value=text, rule=f"is none of {', '.join(EXPOSURES)}")
        return text

    def _exposure_conditions(self, text, column):
        """key=value pairs, separated by semicolons."""
        pairs = [part.partition("=") for part in text.split(";") if part.strip()]
        if not all(sign for _, sign, _ in pairs):
            raise ValueRefused(
                field=column, label="Conditions", value=text, rule="is not of the form key=value; key=value"
            )
        return tuple((key.strip(), value.strip()) for key, _, value in pairs)

    def _instrument(self, text, column):
        return find(Instrument, text, field=column)

    def _operators(self, text, column):
        names = [name.strip() for name in text.split(";")] if isinstance(text, str) else text
        return tuple(
            dict.fromkeys(name if isinstance(name, Person) else people.find(name, field=column) for name in names)
        )

    def _observed_at(self, text, column):
        return entry.moment(text, field=column)

    def _drop_volume_ul(self, text, column):
        return entry.number(text, field=column, **_bounds(column))

    _room_temperature_c = _room_humidity_pct = _drop_volume_ul

    def _plain(self, text, column):
        return str(text).strip()


def settle(found: dict, lookup: Lookup, by, now) -> dict:
    """The fields of a new run; what the file does not state is said to be not recorded, never made up."""
    method = found["method"]
    number, kind = dose_of(found)
    gaps = [_words(column) for column in METHODS[method].conditions if column in DEFAULTS and column not in found]
    if "observed_at" not in found:
        gaps.append("time of observation (the time of import is stored)")
    said = [found["not_recorded"]] if found.get("not_recorded") else []
    if gaps and (not said or "observed_at" not in found):
        said.append(f"{NOT_IN_FILE}: {', '.join(gaps)}")
    observed_at = found.get("observed_at", now)
    return {
        "coupon": found["coupon"],
        "method_version": lookup.version(method, found.get("method_version")),
        "liquid_lot": lookup.lot(found.get("liquid"), timezone.localtime(observed_at).date()),
        "drop_volume_ul": found.get("drop_volume_ul"),
        "dose": number,
        "dose_kind": kind,
        "exposure_kind": found.get("exposure_kind", "") if number else "",
        "exposure_conditions": dict(found.get("exposure_conditions", ())) if number else {},
        "exposure": found.get("exposure", ""),
        "observed_at": observed_at,
        "instrument": found.get("instrument"),
        "operators": found.get("operators", (by,)),
        "room_temperature_c": found.get("room_temperature_c"),
        "room_humidity_pct": found.get("room_humidity_pct"),
        "not_recorded": "; ".join(said),
    }


def dose_of(found: dict) -> tuple:
    """Dose and its unit; fresh is fresh in whatever unit. Raises when a dose has no unit, or two."""
    number, kind = found["dose"]
    stated = found.get("dose_kind", "")
    if kind and stated and kind != stated:
        raise ValueRefused(
            field="dose_kind",
            label="Dose in",
            value=stated,
            rule=f"differs from the unit beside the dose, {kind}",
        )
    if number and not (kind or stated):
        rule = f"has no unit: fill the column dose_kind with one of {_DOSES}"
        raise ValueRefused(field="dose", label="Dose", value=f"{number:g}", rule=rule)
    return number, (kind or stated) if number else ""


def differences(run: TestRun, found: dict):
    """(column, what is stored) of each stated condition in which a stored run differs."""
    stored = {
        "coupon": run.coupon,
        "method": run.method_version.method,
        "method_version": run.method_version.number,
        "drop_volume_ul": run.drop_volume_ul,
        "exposure_kind": run.exposure_kind,
        "exposure": run.exposure,
        "observed_at": run.observed_at,
        "instrument": run.instrument,
        "room_temperature_c": run.room_temperature_c,
        "room_humidity_pct": run.room_humidity_pct,
    }
    for column, value in stored.items():
        needed = column in REQUIRED
        if (needed or column in found) and found.get(column) != value:
            yield column, value
    lot = run.liquid_lot
    if found["liquid"] not in ((lot.code.upper(), lot.liquid.code.upper()) if lot else (None,)):
        yield "liquid", lot
    if dose_of(found) != (run.dose, run.dose_kind):
        yield "dose", run.dose_text
    people = {operator.person for operator in run.operators.all()}
    if "operators" in found and set(found["operators"]) != people:
        yield "operators", ";".join(sorted(person.username for person in people))


def _in_date(lot, day):
    return lot.prepared_on <= day and (lot.expires_on is None or day <= lot.expires_on)


def _words(column):
    return str(TestRun._meta.get_field(column).verbose_name).partition(" [")[0]


def _bounds(column):
    """Lowest and highest value that the database holds for a field of a run."""
    found = {}
    for constraint in TestRun._meta.constraints:
        if isinstance(constraint, CheckConstraint):
            found |= {part[0]: part[1] for part in constraint.condition.children if isinstance(part, tuple)}
    return {"low": found.get(f"{column}__gte"), "high": found.get(f"{column}__lte")}
