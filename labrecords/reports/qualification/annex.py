"""Every run with its conditions and every current reading, in as little room as can be read."""

import math
from itertools import groupby

from reportlab.platypus import KeepTogether

from analysis import QUANTITIES
from labrecords.reports import look
from labrecords.reports.qualification.closing import room
from labrecords.reports.tables import numbers, table
from labrecords.reports.text import joined, paragraph

COLUMNS = 12  # narrow columns of a page


def readings(evidence) -> list:
    lead = (
        ">: not moved up to the stage limit; placing: moved on placing; lost: no value; (…): excluded; "
        "*: corrected. Reasons stand under deviations."
    )
    story = [paragraph(lead, "note")]
    for _, runs in groupby(evidence["runs"], key=_kept_together):
        runs = list(runs)
        story += _single_readings(runs) if len(runs) > 1 else _run(runs[0])
    return story


def _kept_together(run):
    """Runs of one reading each, read alike, share a table; a run of several readings has its own."""
    if len(run["readings"]) != 1:
        return run["code"]
    return run["method_title"], run["readings"][0]["quantity"], *_alike(run)


def _alike(run):
    return joined(run["liquid"], run["drop_volume"], by=", "), run["dose"], run["instrument"]


def _single_readings(runs):
    first = runs[0]
    rows = [[f"{run['code']}, {_coupon(run)}", _value(run["readings"][0]), _when(run)] for run in runs]
    head = ["Run, coupon", _heading(first["readings"][0]["quantity"]), "Climate, who and when"]
    liquid, dose, instrument = _alike(first)
    facts = joined(liquid, dose, instrument and f"instrument {instrument}")
    title = f"Runs of one reading: {first['method_title']}"
    return [room(), paragraph(title, "subheading"), paragraph(facts, "note"), table(head, rows, [28, 10, 62])]


def _coupon(run):
    return f"coupon {run['coupon']}" + ("" if run["role"] == "treated" else f" ({run['role']})")


def _when(run):
    climate = joined(
        run["temperature_c"] is not None and f"{run['temperature_c']:g} °C",
        run["humidity_pct"] is not None and f"{run['humidity_pct']:g} % RH",
        by=", ",
    )
    return joined(
        climate,
        f"read {run['observed_at']} by {run['operators']}",
        f"entered {run['entered_at']}" + _late(run),
        f"completed by {run['completed_by']}",
        f"reviewed by {run['reviewed_by']}, {run['reviewed_at']}" if run["reviewed_by"] else "not reviewed",
        run["remark"] and f"remark: {run['remark']}",
    )


def _late(run):
    late = run.get("entered_late")  # evidence of an older release does not say
    return f" (entered late: {late} after it was read)" if late else ""


def _run(run):
    liquid, dose, instrument = _alike(run)
    facts = joined(run["method_title"], liquid, dose, instrument and f"instrument {instrument}", _when(run))
    title = f"Run {run['code']}, {_coupon(run)}"
    # Drops are read down the columns, so a run stays on one page where it can.
    return [room(80), KeepTogether([paragraph(title, "subheading"), paragraph(facts, "note"), _grid(run)])]


def _grid(run):
    """Drops side by side in blocks: place of the drop, then its values (with the hysteresis of a pair)."""
    quantities = list(dict.fromkeys(row["quantity"] for row in run["readings"]))
    rows = _rows(run, quantities)
    own = [
        "drop",
        *[_heading(key) for key in quantities],
        *([_heading("hysteresis")] if run["pairs"] else []),
    ]
    blocks = max(1, min(len(rows), COLUMNS // len(own)))
    height = math.ceil(len(rows) / blocks)
    lines = []
    for line in range(height):
        cells = [
            rows[block * height + line] if block * height + line < len(rows) else [""] * len(own)
            for block in range(blocks)
        ]
        lines.append([cell for block in cells for cell in block])
    rules = [
        ("LINEBEFORE", (block * len(own), 0), (block * len(own), -1), 0.5, look.LINE) for block in range(1, blocks)
    ]
    return numbers(own * blocks, lines, [1.0] * (len(own) * blocks), rules)


def _heading(key):
    known = QUANTITIES[key]
    return f"{known.symbol} [{known.unit}]" if known.unit else known.symbol


def _rows(run, quantities):
    several = len({row["position"] for row in run["readings"]}) > 1
    pairs = {(row["position"], row["drop"], row["direction"]): row for row in run["pairs"]}
    drops = {}
    for row in run["readings"]:
        drops.setdefault((row["position"], row["drop"], row["direction"]), {})[row["quantity"]] = row
    lines = []
    for (position, drop, direction), found in drops.items():
        name = joined(f"{position}·{drop}" if several else str(drop), direction, by=" ")
        line = [name, *[_value(found.get(key)) for key in quantities]]
        if run["pairs"]:
            pair = pairs.get((position, drop, direction))
            line.append(f"{pair['hysteresis']:.{QUANTITIES['hysteresis'].decimals}f}" if pair else "–")
        lines.append(line)
    return lines


def _value(row):
    if row is None:
        return "–"
    words = {"lost": "lost", "moved_on_placing": "placing"}
    value = _as_read(row["value"], QUANTITIES[row["quantity"]].decimals)
    text = words.get(row["qualifier"], f"> {value}" if row["qualifier"] == "not_moved" else value)
    text = f"({text})" if row["excluded"] else text
    return f"{text}*" if row["corrected"] else text


def _as_read(value, decimals):
    """The value in full, with the usual decimals where they lose nothing."""
    if value is None:
        return "–"
    return f"{value:.{decimals}f}" if round(value, decimals) == value else f"{value:.10g}"
