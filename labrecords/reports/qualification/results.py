"""Results of each group of coupons, the stability checks, and what the intervals hold."""

from reportlab.platypus import KeepTogether

from labrecords.reports import figures
from labrecords.reports.qualification.closing import items, room
from labrecords.reports.tables import table
from labrecords.reports.text import interval, number, paragraph

# How an interval over coupons was made where it is not the plain one, by its formula.
OTHER_WAYS = {
    "statistics.bounded.bounded_interval": "by Student t on the scale named with the result, because the plain "
    "interval would leave the range of the quantity",
    "statistics.nested_censoring.nested_censored_mean": "by maximum likelihood over coupons and drops, those that "
    "stayed beyond a limit kept as censored",
    "statistics.censoring.censored_normal_fit": "by the profile likelihood of a censored normal distribution",
}
UNCERTAINTY = (
    "The intervals hold what differs from coupon to coupon: substrate, treatment, place of the drop and reading "
    "scatter.",
    "They do not hold what is common to all readings: the calibration of angle, tilt, volume and mass, the liquid's "
    "purity, and the way in which the base line is set. These parts were not evaluated numerically, because no "
    "uncertainty budget of them is on record; the calibration results are printed above.",
    "Properties of liquids and lubricants enter as printed above; they are not converted to the room temperature of "
    "the test.",
    "The scatter between coupons and within a coupon (repeatability of drops) is printed with the results as "
    "standard deviations. A single reading carries no interval of its own.",
    "Where drops did not move, the numbers are kept as known only from below; nothing was deleted or replaced.",
)
CHECKS = (
    "Number of runs of all roles. A check describes a run: it removes no reading and changes no outcome of the "
    "requirements.",
    "Drift, outliers and change since dose 0 are tested run by run at a level of 5 %: up to one run in twenty does "
    "not hold by chance alone, so a single one among many is a reason to look, not a finding.",
    "A change since dose 0 is what an exposure may bring about, not a fault of the run; whether it is too large is "
    "for the requirements to say.",
)


def results(evidence) -> list:
    story = [
        paragraph(
            "The coupon is the unit of replication: means and intervals are taken over coupon values, drops and "
            "coupons are counted apart. Runs of different role, method, liquid, drop volume or dose are never pooled."
        ),
        paragraph(
            "In the figures: dots, readings in drop order; heavy bar, the coupon's value; thin line and band, "
            "batch mean with its interval; dashed line, limit; open triangle, not moved up to the stage limit; "
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
        f"{_coupon_count(group)}; {group['n_readings']} readings, of them {group['n_excluded']} excluded, "
        f"{group['n_lost']} lost"
    )
    story = [
        room(120),
        paragraph(group["title"], "subheading"),
        paragraph(f"{count}.", "note"),
        table(head, rows, [31, 14, 20, 13, 13, 9, 7]),
    ]
    # A fit that could not be made says no more than the counts beside it.
    further = [_further(row) for row in group["further"] if row["value"] is not None]
    story += items([*_notes(group["rows"]), *further])
    height = 165 if group["role"] == "treated" else 120
    drawn = [KeepTogether([figures.readings_by_coupon(**item, height=height)]) for item in group["figures"]]
    # The values of a single coupon are those of the table above.
    by_coupon = [room(60), _coupons(group)] if group["n_coupons"] > 1 else []
    return [*story, *by_coupon, *drawn]


def _coupon_count(group):
    names = [row["coupon"] for row in group["coupons"]]
    return f"{len(names)} coupons" if len(names) > 1 else f"1 coupon ({', '.join(names)})"


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
    bounds = (
        f", {interval(row['low'], row['high'], row['decimals'], row['unit'])}"
        if None not in (row["low"], row["high"])
        else ""
    )
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
        *items(CHECKS),
        table(["Check", "Holds", "Does not hold", "Cannot tell", "Source"], rows, [28, 8, 10, 9, 45]),
    ]
    told = [
        [row["title"], item["outcome"], item["why"], _runs(item["runs"], row)]
        for row in evidence["checks"]
        for item in row["told"]
    ]
    story += [room(), paragraph("Everything that does not hold or cannot be told", "subheading")]
    if not told:
        return [*story, paragraph("None: every check holds.")]
    return [*story, table(["Check", "Outcome", "Why", "Runs"], told, [20, 11, 46, 23])]


def _runs(codes, row):
    checked = row["holds"] + row["does_not_hold"] + row["cannot_tell"]
    return f"all {checked} runs checked" if 1 < checked == len(codes) else ", ".join(codes)


def uncertainty(evidence) -> list:
    return items([_intervals(evidence), *UNCERTAINTY])


def _intervals(evidence):
    """How the printed intervals were made: by Student's t, but for those that are named."""
    given = [(f"requirement {item['label']}", item) for item in evidence["judgement"]["outcomes"]]
    for group in evidence["groups"]:
        given += [(f"{row['label']} ({group['title']})", row) for row in [*group["rows"], *group["further"]]]
    found = {}
    for place, row in given:
        # A limit that rests on two formulas is no interval of a mean; its requirement says how it is made.
        [way, *others] = row.get("formulas") or [""]
        if way in OTHER_WAYS and not others and row["low"] is not None:
            found.setdefault(way, []).append(place)
    told = "".join(f"; except {words}: {', '.join(found[way])}" for way, words in OTHER_WAYS.items() if way in found)
    return (
        "The intervals given with means are of 95 % where nothing else is said, in the unit of the result, by Student "
        f"t over coupon values with coupons − 1 degrees of freedom{told}."
    )
