"""Results of each group of coupons, the stability checks, and what the intervals hold."""

from reportlab.platypus import KeepTogether

from labrecords.reports import figures
from labrecords.reports.qualification.closing import items, room
from labrecords.reports.tables import numbers, table
from labrecords.reports.text import interval, number, paragraph

FIGURES = {"readings_by_coupon": figures.readings_by_coupon, "dose_course": figures.dose_course}


def results(evidence) -> list:
    story = [paragraph(
        "The coupon is the unit of replication: means and intervals are taken over coupon values, drops and coupons "
        "are counted apart. Runs of different role, method, liquid, drop volume or dose are never pooled."
    )]  # fmt: skip
    for group in evidence["groups"]:
        story += _group(group)
    story += [room(), paragraph("Figures", "subheading"), paragraph(
        "Dots: readings in drop order; heavy bar: the coupon's value; thin line and band: batch mean with its interval; "
        "dashed line: limit; open triangle: not moved up to the stage limit; crossed: excluded.", "note")]  # fmt: skip
    return [*story, *[KeepTogether([draw(item)]) for item in evidence["figures"]]]


def draw(item):
    """The figure that a piece of evidence describes."""
    details = {key: value for key, value in item.items() if key not in ("kind", "centre")}
    return FIGURES[item["kind"]](**details)


def _group(group):
    rows = [
        [row["label"], number(row["value"], row["decimals"], row["unit"]),
         interval(row["low"], row["high"], row["decimals"], row["unit"]), number(row["between"], row["decimals"], row["unit"]),
         number(row["within"], row["decimals"], row["unit"]), str(row["n_coupons"]), str(row["n_drops"]), row["note"]]
        for row in group["rows"]
    ]  # fmt: skip
    head = ["Statistic", "Value", "95 % interval", "SD between coupons", "SD within a coupon", "n coupons", "n drops", "Note"]
    count = f"{group['n_coupons']} coupons; {group['n_readings']} readings, of them {group['n_excluded']} excluded, {group['n_lost']} lost"
    story = [room(110), paragraph(group["title"], "subheading"), paragraph(f"{count}.", "note"),
             table(head, rows, [26, 12, 17, 11, 11, 9, 7, 15])]  # fmt: skip
    story += items([_further(row) for row in group["further"]])
    return [*story, room(60), _coupons(group)]


def _further(row):
    bounds = f", {interval(row['low'], row['high'], row['decimals'], row['unit'])}" if row["low"] is not None else ""
    note = f": {row['note']}" if row["note"] else ""
    return f"{row['label']} {number(row['value'], row['decimals'], row['unit'])}{bounds}{note}. Source: {row['source']}."


def _coupons(group):
    head = ["Coupon", "n drops", "not moved", *[column["label"] for column in group["columns"]]]
    rows = [
        [row["coupon"], str(row["n_drops"]), str(row["n_not_moved"]),
         *[number(value, column["decimals"]) for value, column in zip(row["values"], group["columns"], strict=True)]]
        for row in group["coupons"]
    ]  # fmt: skip
    return table(head, rows, [16, 8, 10, *[66 / len(group["columns"])] * len(group["columns"])])


def checks(evidence) -> list:
    rows = [
        [row["title"], str(row["holds"]), str(row["does_not_hold"]), str(row["cannot_tell"]), row["source"]]
        for row in evidence["checks"]
    ]
    if not rows:
        return [paragraph("No check applies to these runs.")]
    story = [paragraph("Number of runs of all roles. No check changes or removes a reading."),
             table(["Check", "Holds", "Does not hold", "Cannot tell", "Source"], rows, [28, 8, 10, 9, 45])]  # fmt: skip
    told = [[row["title"], item["outcome"], item["why"], _runs(item["runs"])] for row in evidence["checks"] for item in row["told"]]
    story += [room(), paragraph("Everything that does not hold or cannot be told", "subheading")]
    if not told:
        return [*story, paragraph("None: every check holds.")]
    return [*story, table(["Check", "Outcome", "Why", "Runs"], told, [20, 11, 46, 23])]


def _runs(codes):
    return ", ".join(codes)


def uncertainty(evidence) -> list:
    shown = [row for group in evidence["groups"] for row in group["rows"] if row["low"] is not None]
    covers = "95 %" if shown else "no"
    return items([
        f"The intervals given with batch means ({covers} coverage) are Student t intervals over coupon values with "
        "coupons − 1 degrees of freedom, in the unit of the result. They hold what differs from coupon to coupon: "
        "substrate, treatment, place of the drop and reading scatter.",
        "They do not hold what is common to all readings: the calibration of angle, tilt, volume and mass, the liquid's "
        "purity, and the operator's or software's way of setting the base line. These parts were not evaluated "
        "numerically, because no uncertainty budget of them is on record; the calibration results are printed above.",
        "The scatter between coupons and within a coupon (repeatability of drops) is printed with the results as "
        "standard deviations. A single reading carries no interval of its own.",
        "Where drops did not move, the numbers are kept as known only from below; nothing was deleted or replaced.",
    ])  # fmt: skip


__all__ = ["checks", "draw", "numbers", "results", "uncertainty"]
