"""The first page: who, what, when, and whether the batch conforms."""

from reportlab.lib.colors import HexColor
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import KeepTogether, Table, TableStyle

from labrecords.reports import look
from labrecords.reports.qualification.closing import items, room
from labrecords.reports.tables import pairs, table
from labrecords.reports.text import interval, joined, number, paragraph, shown

STATEMENTS = {
    "pass": "PASS: the batch meets every requirement of the specification by the decision rules stated.",
    "fail": "FAIL: the batch does not meet the specification by the decision rules stated.",
    "inconclusive": "INCONCLUSIVE: by the decision rules stated it is shown neither that the batch meets "
    "the "
    "specification nor that it does not.",
}
SHADES = {"pass": HexColor("#dceee4"), "fail": HexColor("#f6dfd3"), "inconclusive": HexColor("#eeeadb")}
PADDING = 9  # points beside the text of a cell, and one for rounding
SIDES = {"at_most": "at most", "at_least": "at least"}


def head(evidence, title) -> list:
    report, batch, customer = evidence["report"], evidence["batch"], evidence["customer"]
    lab, spec = evidence["laboratory"], evidence["specification"]
    read = sorted(run["observed_at"] for run in evidence["runs"])
    who = joined(customer["name"], customer["contact"], by="\n")
    rows = [
        ("Report number", report["number"]),
        ("Laboratory", joined(lab["name"], lab["address"], by="\n")),
        ("Where the work was done", _places(evidence)),
        ("Customer", who or f"internal work of the laboratory, requested by {customer['requester']}"),
        ("Project", customer["project"]),
        ("Batch", joined(batch["code"], batch["title"], batch["treatment"], by=", ")),
        (
            "Specification",
            f"{spec['code']} {spec['title']}, revision {spec['revision']}, "
            f"fixed on {spec['fixed_on']}{_after(spec['fixed_on'], read[0][:10], ' (after the first test)')}, "
            f"entered {spec['entered_at']}{_after(spec['entered_at'], read[0], ', after the first test')}"
            + (f" ({spec['note']})" if spec["note"] else ""),
        ),
        ("Dates of the tests", f"{_days(read)}; entered {_days(run['entered_at'] for run in evidence['runs'])}"),
        ("Date of issue", f"{report['issued_at']} (times in this report: {evidence['time_zone']})"),
        ("Authorised by", _authorised(report)),
        ("Reason of this issue", report["why"]),
        *_amended(report["amends"]),
        ("Earlier reports on this batch", _earlier(report)),
    ]
    names = [paragraph(title, "title"), paragraph(f"Batch {batch['code']}", "subtitle")]
    return [*names, *_amendment(report["amends"]), pairs(rows)]


def conformity(evidence) -> list:
    judgement, spec = evidence["judgement"], evidence["specification"]
    outcomes = judgement["outcomes"]
    story = [KeepTogether([_verdict(judgement["verdict"]), paragraph(_covered(spec, outcomes))])]
    story.append(_requirements(outcomes, {row["label"]: row["wording"] for row in spec["criteria"]}))
    story += [paragraph("What each outcome rests on", "subheading")]
    story += items([f"{item['label']}: {item['why']}" for item in outcomes])
    story += [room(60), paragraph("Decision rules and their risk", "subheading")]
    story += items([f"{labels}: {rule}" for labels, rule in _rules(outcomes)])
    story += [
        paragraph(f"An inconclusive outcome leads to: {spec['when_inconclusive']}"),
        paragraph(
            "The statement covers the requirements listed above and no others. Results relate only to the "
            "items tested. This report shall not be reproduced except in full without approval of the "
            "laboratory.",
            "note",
        ),
    ]
    return story


def _days(moments):
    days = sorted(moment[:10] for moment in moments)
    return " to ".join(dict.fromkeys([days[0], days[-1]]))


def _after(known, first_test, words):
    """Whether the limits were known before the first test: by the day they name, and by the records."""
    return words if known > first_test else ""


def _amendment(amends):
    """The words that ISO/IEC 17025:2017, 7.8.8.2 asks for, or which report this one stands in place of."""
    if amends is None:
        return []
    words = {"amends": "Amendment to report", "replaces": "New report in place of report"}
    return [paragraph(f"{words[amends['kind']]} {amends['number']}", "verdict")]


def _amended(amends):
    if amends is None:
        return []
    label = {"amends": "Amended report", "replaces": "Replaced report"}[amends["kind"]]
    told = f"{amends['number']}, issued {amends['issued_at']}, {amends['verdict']}; it stays on record as it was issued"
    return [(label, told), ("What changes and why", amends["reason"])]


def _authorised(report):
    """Who approved it; who gave it out where that was another."""
    given = [f"{row['name']}, {row['role_title']}" for row in report["signatures"] if row["meaning"] == "approval"]
    issued = f"{report['issued_by']}, {report['issued_as']}" if report["issued_by"] else ""
    if not given:
        return "nobody yet"
    return given[0] if issued in ("", given[0]) else f"{given[0]}; issued by {issued}"


def _places(evidence):
    places = sorted({row["place"] for row in evidence["instruments"] if row["place"]})
    where = "at the laboratory's address given above"
    return f"{where}; instruments at: {', '.join(places)}" if places else where


def _earlier(report):
    rows = [f"{row['number']} of {row['issued_at'][:10]} ({row['verdict']})" for row in report["earlier"]]
    return f"{'; '.join(rows)}. They stay on record; this report is newer." if rows else "none"


def _verdict(verdict):
    box = Table([[paragraph(STATEMENTS[verdict], "verdict")]], colWidths=[look.WIDTH], spaceAfter=5)
    box.setStyle(
        TableStyle(
            [
                *look.TABLE,
                ("BACKGROUND", (0, 0), (-1, -1), SHADES[verdict]),
                ("LINEBEFORE", (0, 0), (0, -1), 3, look.INK),
                ("TOPPADDING", (0, 0), (-1, -1), 6),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 8),
                ("LEFTPADDING", (0, 0), (-1, -1), 10),
            ]
        )
    )
    return box


def _covered(spec, outcomes):
    by = {name: [item["label"] for item in outcomes if item["verdict"] == name] for name in STATEMENTS}
    words = {"pass": "met", "fail": "not met", "inconclusive": "inconclusive"}
    told = [f"{words[name]}: {', '.join(labels) or 'none'}" for name, labels in by.items()]
    return f"Requirements of {spec['code']} revision {spec['revision']}: {'; '.join(told)}."


def _requirements(outcomes, wordings):
    rows = []
    for item in outcomes:
        decimals = decimals_of(item)
        unit = item["unit"]
        limit = f"{SIDES[item['side']]} {number(item['limit'], _in_full(item['limit'], item['decimals']), unit)}"
        confidence = f" ({100 * item['confidence']:g} %)" if item["confidence"] and item["low"] is not None else ""
        rows.append(
            [
                item["label"],
                # Without its limit, which has a column of its own.
                joined(item["requirement"].rpartition(": ")[0], wordings.get(item["label"]), by="\n"),
                number(item["value"], decimals, unit),
                interval(item["low"], item["high"], decimals, unit) + confidence,
                str(item["n_coupons"]),
                str(item["n_drops"]),
                limit,
                paragraph(item["verdict"], "strong"),
            ]
        )
    head = ["", "Requirement", "Value", "Interval", "n coupons", "n drops", "Limit", "Outcome"]
    label = _label_share(item["label"] for item in outcomes)
    return table(head, rows, [label, 37 - label, 9, 17, 8, 6, 12, 11.5])


def _label_share(labels):
    """Share of the width in which no word of a label breaks; up to a half of what the requirement has."""
    widest = max(stringWidth(shown(word), look.REGULAR, 7.8) for label in labels for word in [*label.split(), ""])
    return min(max(5, 100.5 * (widest + PADDING) / look.WIDTH), 18)


def decimals_of(item) -> int:
    """Digits of an outcome: as many as tell its value and interval from the limit."""
    return max(_telling(item[name], item["limit"], item["decimals"]) for name in ("value", "low", "high"))


def _telling(value, limit, decimals):
    """One more digit as long as a value that is not the limit would be printed as the limit."""
    if not isinstance(value, float) or limit is None or value == limit:
        return decimals
    return next((more for more in range(decimals, decimals + 4) if round(value, more) != round(limit, more)), decimals)


def _in_full(limit, decimals):
    return next((more for more in range(decimals, decimals + 4) if round(limit, more) == limit), decimals + 4)


def _rules(outcomes):
    found = {}
    for item in outcomes:
        found.setdefault(item["rule"], []).append(item["label"])
    return [(", ".join(labels), rule) for rule, labels in found.items()]
