"""Results out: numbers of runs, coupons and batches as a table to read, as JSON, as CSV."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from itertools import groupby

from django.db.models import Prefetch

import analysis
from analysis import HOLDS, METHODS, QUANTITIES, ROLES
from labrecords.actions import analyses
from labrecords.exchange.cells import harmless
from labrecords.models import Analysis, Batch, TestRun
from labrecords.models.run import DRAFT, RUN_STATES
from labrecords.visibility import visible

_GROUP = ("role", "method", "liquid", "drop_volume_ul", "dose", "dose_kind", "exposure")
_OF = ("level", "code", "state", *_GROUP)
_NUMBER = ("value", "low", "high", "confidence", "unit", "n_coupons", "n_drops", "n_not_moved")
COLUMNS = (*_OF, "kind", "key", "label", *_NUMBER, "n_excluded", "n_lost", "outcome", "note")
_NOT_MOVED = "_not_moved"


@dataclass(frozen=True)
class Results:
    runs: list[TestRun]
    coupons: list[str] = field(default_factory=list)  # codes whose values are given for themselves
    batches: list[Batch] = field(default_factory=list)


def of_run(run) -> Results:
    return Results(_runs(TestRun.objects.filter(pk=run.pk)))


def of_coupon(coupon) -> Results:
    return Results(_runs(TestRun.objects.filter(coupon=coupon)), coupons=[coupon.code])


def of_batch(batch) -> Results:
    return Results(_runs(TestRun.objects.for_batch(batch)), batches=[batch])


def of_everything(by=None) -> Results:
    """Of what the person may see; without a person, of what is open to the lab."""
    return Results(_runs(visible(TestRun.objects.all(), by)), batches=list(visible(Batch.objects.all(), by)))


def as_data(results: Results) -> dict:
    """JSON-ready: the results exactly as the analysis gives them, with what they are results of."""
    return {
        "runs": [_run_facts(run) | {"result": _content(run)} for run in results.runs],
        "coupons": [{"code": code, "result": _coupon_data(code)} for code in results.coupons],
        "batches": [{"code": batch.code, "result": _batch_data(batch)} for batch in results.batches],
    }


def as_rows(results: Results) -> list[dict]:
    """One row a number and one a check, with n coupons and n drops apart. Batch numbers leave drafts out."""
    data = as_data(results)
    rows = [row for run in data["runs"] for row in _of_run(run)]
    for coupon in data["coupons"]:
        rows += [row for group in coupon["result"]["groups"] for row in _of_coupons(group)]
    for batch in data["batches"]:
        for group in batch["result"]["groups"]:
            rows += _of_coupons(group) + _of_group(batch["code"], group)
        facts = {"level": "batch", "code": batch["code"]}
        rows += [_check(facts, check) for check in batch["result"]["checks"]]
    return rows


def as_csv(results: Results) -> str:
    """Numbers in full; text that a spreadsheet would take for a formula gets an apostrophe in front."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: harmless(value) for name, value in row.items()} for row in as_rows(results))
    return out.getvalue()


def as_table(results: Results) -> str:
    """To read on a screen: a heading for each run, coupon and group, then what stands for it, then its checks.

    Of runs and coupons only the statistics that the method declares as standing for the coupon; where more than one
    run is shown, checks that hold are only counted. CSV and JSON have everything.
    """
    lines = []
    for heading, rows in groupby(as_rows(results), key=_heading):
        rows = list(rows)
        lines += ["", heading]
        lines += _columns([_number_cells(row) for row in rows if row["kind"] == "statistic" and _is_main(row)])
        lines += _check_lines([row for row in rows if row["kind"] == "check"], in_full=len(results.runs) == 1)
    drafts = [run.code for run in results.runs if run.state == DRAFT]
    if drafts:
        lines += ["", f"In draft, so not in the numbers of coupons and batches: {', '.join(drafts)}"]
    return "\n".join(lines[1:]) or "There are no numbers yet."


def _runs(queryset):
    current = Prefetch("analyses", Analysis.objects.filter(is_current=True), to_attr="current")
    return list(queryset.with_names().prefetch_related(current))


def _content(run):
    return run.current[0].content if run.current else None


def _run_facts(run):
    return {
        "code": run.code,
        "coupon": run.coupon.code,
        "state": run.state,
        "method": run.method_version.method,
        "method_version": run.method_version.number,
        "liquid": run.liquid_lot.liquid.code if run.liquid_lot else "",
        "liquid_lot": run.liquid_lot.code if run.liquid_lot else "",
        "drop_volume_ul": run.drop_volume_ul,
        "dose": run.dose,
        "dose_kind": run.dose_kind,
        "exposure": run.exposure_text,
    }


def _coupon_data(code):
    complete = TestRun.objects.filter(coupon__code=code).exclude(state=DRAFT)
    records = [record for _, record, _ in analyses.records_with_baselines(complete)]
    return analysis.as_data(analysis.analyse_batch(records))


def _batch_data(batch):
    return analysis.as_data(analyses.batch_result(batch))


def _of_run(run):
    result = run["result"]
    if result is None:
        return
    facts = {name: run[name] for name in _GROUP if name in run} | {"level": "run", "code": run["code"]}
    facts |= {"state": run["state"], "coupon": run["coupon"]}
    facts |= {"n_excluded": result["n_excluded"], "n_lost": result["n_lost"]}
    yield from (_statistic(facts, item, result["statistics"]) for item in result["statistics"])
    yield from (_check(facts, check) for check in result["checks"])


def _of_coupons(group):
    """One value a coupon for each statistic of the group: what the batch's interval rests on."""
    facts = {name: group[name] for name in _GROUP} | {"level": "coupon", "kind": "statistic", "n_coupons": 1}
    values = group["coupon_values"]
    return [
        facts | _coupon_value(key, item, can_stay=f"{_quantity(key)}{_NOT_MOVED}" in values)
        for coupon in group["coupons"]
        for key, items in values.items()
        for item in items
        if item["coupon"] == coupon
    ]


def _coupon_value(key, item, can_stay):
    quantity = QUANTITIES[_quantity(key)]
    words, is_count = key.removeprefix(f"{quantity.key}_").replace("_", " "), key.endswith(_NOT_MOVED)
    return {
        "code": item["coupon"],
        "key": key,
        "label": f"{quantity.title}, drops {words}" if is_count else f"{quantity.title}, {words} of its drops",
        "unit": "" if is_count else quantity.unit,
        "decimals": 0 if is_count else quantity.decimals,
        "value": item["value"],
        "n_drops": item["n_drops"],
        "n_not_moved": item["n_not_moved"] if can_stay else None,
    }


def _quantity(key):
    """The quantity that a statistic is of: its key begins with the quantity's."""
    return max((name for name in QUANTITIES if key.startswith(f"{name}_")), key=len)


def _of_group(code, group):
    facts = {name: group[name] for name in _GROUP} | {"level": "batch", "code": code}
    facts |= {"n_excluded": group["n_excluded"], "n_lost": group["n_lost"]}
    return [_statistic(facts, item, group["statistics"]) for item in group["statistics"]]


def _statistic(facts, item, all_items):
    """A number with the count of the drops of its quantity that did not move."""
    counts = {other["key"]: other["value"] for other in all_items if other["key"].endswith(_NOT_MOVED)}
    return facts | item | {"kind": "statistic", "n_not_moved": counts.get(f"{_quantity(item['key'])}{_NOT_MOVED}")}


def _check(facts, check):
    told = {"kind": "check", "key": check["key"], "label": check["title"]}
    return facts | told | {"outcome": check["outcome"], "note": check["why"]}


def _heading(row):
    said = [f"{row['level'].capitalize()} {row['code']}"]
    if row.get("coupon"):
        said.append(f"coupon {row['coupon']}")
    if row.get("role"):
        said.append(ROLES.get(row["role"], row["role"]))
    if row.get("method"):
        said += [METHODS[row["method"]].title, row["liquid"], _volume(row), _dose(row)]
    if row.get("state"):
        said.append(RUN_STATES[row["state"]])
    if row.get("n_excluded") or row.get("n_lost"):
        said.append(f"{row['n_excluded']} excluded and {row['n_lost']} lost readings left out")
    return " · ".join(part for part in said if part)


def _volume(row):
    return "" if row["drop_volume_ul"] is None else f"{row['drop_volume_ul']:g} µL"


def _dose(row):
    return f"{row['dose']:g} {row['dose_kind']} {row['exposure']}".strip() if row["dose"] else "fresh"


def _is_main(row):
    """Whether a statistic stands for the run, coupon or batch, and is not one more way to look at it."""
    main = METHODS[row["method"]].coupon_statistics
    return row["level"] == "batch" or row["key"] in main or row["key"].endswith(_NOT_MOVED)


def _check_lines(rows, in_full):
    shown = [row for row in rows if in_full or row["outcome"] != HOLDS]
    counted = [f"  {len(rows) - len(shown)} of {len(rows)} checks hold"] if len(shown) < len(rows) else []
    return counted + [f"  {row['label']}: {row['outcome']}. {row['note']}" for row in shown]


def _number_cells(row):
    interval = ""
    if row.get("low") is not None or row.get("high") is not None:
        interval = f"[{_figure(row, 'low')}, {_figure(row, 'high')}] {100 * row['confidence']:g} %"
    value = f"{_figure(row, 'value')} {row['unit']}".strip()
    counts = [f"{row[f'n_{word}s']} {word}{'s' * (row[f'n_{word}s'] != 1)}" for word in ("coupon", "drop")]
    stuck = "" if row["n_not_moved"] is None else f"{row['n_not_moved']:g} not moved"
    return [row["label"], value, interval, *counts, stuck]


def _figure(row, name):
    value = row.get(name)
    if value in (None, "inf", "-inf"):
        return {None: "–", "inf": "beyond limit", "-inf": "below limit"}[value]
    return f"{value:.{row['decimals']}f}"


def _columns(rows):
    widths = [max(len(cell) for cell in cells) for cells in zip(*rows, strict=True)]
    return ["  " + "  ".join(map(str.ljust, cells, widths)).rstrip() for cells in rows]
