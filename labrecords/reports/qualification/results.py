"""Results of each group of coupons, the stability checks, and what the intervals hold."""

from reportlab.platypus import KeepTogether

from labrecords.reports import figures
from labrecords.reports.qualification.closing import items, room
from labrecords.reports.tables import table
from labrecords.reports.text import interval, number, paragraph

UNCERTAINTY = (
    "The intervals given with batch means are 95 % Student t intervals over coupon values with coupons − "
    "1 degrees of "
    "freedom, in the unit of the result. They hold what differs from coupon to coupon: substrate, "
    "treatment, place of "
    "the drop and reading scatter.",
    "They do not hold what is common to all readings: the calibration of angle, tilt, volume and mass, "
    "the liquid's "
    "purity, and the way in which the base line is set. These parts were not evaluated numerically, "
    "because no "
    "uncertainty budget of them is on record; the calibration results are printed above.",
    "The scatter between coupons and within a coupon (repeatability of drops) is printed with the "
    "results as standard "
    "deviations. A single reading carries no interval of its own.",
    "Where drops did not move, the numbers are kept as known only from below; nothing was deleted or replaced.",
)


def results(evidence) -> list:
    story = [
        paragraph(
            "The coupon is the unit of replication: means and intervals are taken over coupon values, "
            "drops and "
            "coupons are counted apart. Runs of different role, method, liquid, drop volume or dose are "
            "never pooled."
        ),
        paragraph(
            "In the figures: dots, readings in drop order; heavy bar, the coupon's value; thin line and "
            "band, "
            "batch mean with its interval; dashed line, limit; open triangle, not moved up to the stage "
            "limit; "
            "crossed, excluded.",
            "note",
        ),
    ]
    for group in evidence["groups"]:
        story += _group(group)
    return [*story, *[KeepTogether([figures.dose_course(**item)]) for item in evidence["courses"]]]


def _group(group):
    rows = [
        [
            row["label"],
            number(row["value"], row["decimals"], row["unit"]),
            interval(row["low"], row["high"], row["decimals"], row["unit"]),
            number(row["between"], row["decimals"], row["unit"]),
            number(row["within"], row["decimals"], row["unit"]),
            str(row["n_coupons"]),
            str(row["n_drops"]),
        ]
        for row in group["rows"]
    ]
    head = [
        "Statistic",
        "Value",
        "95 % interval",
        "SD between coupons",
        "SD within a coupon",
        "n coupons",
        "n drops",
    ]
    count = (
        f"{group['n_coupons']} coupons; {group['n_readings']} readings, of them {group['n_excluded']} "
        f"excluded, "
        f"{group['n_lost']} lost"
    )
    story = [
        room(120),
        paragraph(group["title"], "subheading"),
        paragraph(f"{count}.", "note"),
        table(head, rows, [31, 14, 20, 13, 13, 9, 7]),
    ]
    story += items([*_notes(group["rows"]), *[_further(row) for row in group["further"]]])
    height = 165 if group["role"] == "treated" else 120
    drawn = [KeepTogether([figures.readings_by_coupon(**item, height=height)]) for item in group["figures"]]
    return [*story, room(60), _coupons(group), *drawn]


def _notes(rows):
    found = {}
    for row in rows:
        found.setdefault(row["note"], []).append(row["label"])
    found.pop("", None)
    return [
        f"{note} ({'all statistics' if len(labels) == len(rows) else '; '.join(labels)})"
        for note, labels in found.items()
    ]


def _further(row):
    bounds = f", {interval(row['low'], row['high'], row['decimals'], row['unit'])}" if row["low"] is not None else ""
    note = f": {row['note']}" if row["note"] else ""
    value = number(row["value"], row["decimals"], row["unit"])
    return f"{row['label']} {value}{bounds}{note}. Source: {row['source']}."


def _coupons(group):
    head = ["Coupon", "n drops", "not moved", *[column["label"] for column in group["columns"]]]
    rows = [
        [
            row["coupon"],
            str(row["n_drops"]),
            str(row["n_not_moved"]),
            *[number(value, column["decimals"]) for value, column in zip(row["values"], group["columns"], strict=True)],
        ]
        for row in group["coupons"]
    ]
    return table(head, rows, [16, 8, 10, *[66 / len(group["columns"])] * len(group["columns"])])


def checks(evidence) -> list:
    rows = [
        [row["title"], str(row["holds"]), str(row["does_not_hold"]), str(row["cannot_tell"]), row["source"]]
        for row in evidence["checks"]
    ]
    if not rows:
        return [paragraph("No check applies to these runs.")]
    story = [
        paragraph("Number of runs of all roles. No check changes or removes a reading."),
        table(["Check", "Holds", "Does not hold", "Cannot tell", "Source"], rows, [28, 8, 10, 9, 45]),
    ]
    told = [
        [row["title"], item["outcome"], item["why"], _runs(item["runs"])]
        for row in evidence["checks"]
        for item in row["told"]
    ]
    story += [room(), paragraph("Everything that does not hold or cannot be told", "subheading")]
    if not told:
        return [*story, paragraph("None: every check holds.")]
    return [*story, table(["Check", "Outcome", "Why", "Runs"], told, [20, 11, 46, 23])]


def _runs(codes):
    return ", ".join(codes)


def uncertainty(evidence) -> list:
    return items(UNCERTAINTY)
