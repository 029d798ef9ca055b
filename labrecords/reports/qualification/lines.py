"""Every result of the report as a line of its own: what results.csv holds and what is computed again."""

from analysis import QUANTITIES
from labrecords.reports.qualification import cover
from labrecords.reports.text import interval, number

OUTCOME, STATISTIC, COUPON, PAIR, CHECK = "outcome", "statistic", "coupon", "pair", "check"


def of(evidence) -> list[dict]:
    """The lines in the order of the report: outcomes, groups with their coupons, checks, drop pairs."""
    lines = [_outcome(item) for item in evidence["judgement"]["outcomes"]]
    lines.insert(0, _line(OUTCOME, "Verdict", "all requirements together", outcome=evidence["judgement"]["verdict"]))
    for group in evidence["groups"]:
        lines += [*_statistics(group), *_coupons(group)]
    lines += [_check(row) for row in evidence["checks"]]
    return lines + [line for run in evidence["runs"] for line in _pairs(run)]


def _line(kind, group, what, **facts):
    return {"kind": kind, "group": group, "what": what} | facts


def _outcome(item):
    decimals, unit = cover.decimals_of(item), item["unit"]
    taken = ("value", "low", "high", "confidence", "unit", "n_coupons", "n_drops", "limit")
    return _line(
        OUTCOME,
        item["label"],
        item["requirement"],
        **{name: item[name] for name in taken},
        outcome=item["verdict"],
        printed=_printed(item, decimals, unit),
    )


def _printed(row, decimals, unit):
    """Value and interval in the report's own digits."""
    said = [number(row["value"], decimals, unit), interval(row["low"], row["high"], decimals, unit)]
    return " ".join(part for part in said if part != "–")


def _statistics(group):
    for row in [*group["rows"], *group["further"]]:
        yield _line(
            STATISTIC,
            group["title"],
            row["label"],
            **{name: row[name] for name in ("value", "low", "high", "confidence", "unit", "n_coupons", "n_drops")},
            between_sd=row.get("between"),
            within_sd=row.get("within"),
            printed=_printed(row, row["decimals"], row["unit"]),
        )


def _coupons(group):
    for row in group["coupons"]:
        for value, column in zip(row["values"], group["columns"], strict=True):
            yield _line(
                COUPON,
                group["title"],
                column["label"],
                coupon=row["coupon"],
                value=value,
                n_drops=row["n_drops"],
                n_not_moved=row["n_not_moved"],
                printed=number(value, column["decimals"]),
            )


def _check(row):
    counts = f"holds {row['holds']}, does not hold {row['does_not_hold']}, cannot tell {row['cannot_tell']}"
    return _line(CHECK, "Stability checks", row["title"], outcome=counts, printed=counts)


def _pairs(run):
    known = QUANTITIES["hysteresis"]
    for row in run["pairs"]:
        yield _line(
            PAIR,
            run["code"],
            f"hysteresis of drop {row['drop']} at position {row['position']} {row['direction']}".rstrip(),
            value=row["hysteresis"],
            unit=known.unit,
            printed=number(row["hysteresis"], known.decimals),  # the annex has the unit in its heading
        )
