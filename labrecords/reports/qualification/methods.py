"""How the coupons were tested."""

from labrecords.reports.qualification.closing import room
from labrecords.reports.qualification.items import properties
from labrecords.reports.tables import pairs, table
from labrecords.reports.text import joined, paragraph


def methods(evidence) -> list:
    story = []
    for row in evidence["methods"]:
        story += _method(row)
    story += [
        room(),
        paragraph("Instruments and their calibration", "subheading"),
        _instruments(evidence["instruments"]),
    ]
    for row in evidence["liquids"]:
        story += _liquid(row)
    return [*story, room(60), paragraph("Climate", "subheading"), *_climate(evidence["runs"])]


def _method(row):
    settings = "; ".join(f"{item['label']}: {item['value']}" for item in row["settings"])
    lines = [
        ("Purpose", row["purpose"]),
        (
            "Liquid and drop volume",
            joined(row["liquid"], row["drop_volume"], by=", ") or "as stated with each run",
        ),
        ("Settings", settings),
        ("Replicates", row["replicate_plan"]),
        ("Where the settings come from", row["provenance"]),
        ("Standards and sources", "; ".join(row["standards"]) or "none is followed"),
        ("Note", row["note"]),
    ]
    return [
        room(),
        paragraph(f"{row['title']}, own version {row['version']} of {row['fixed_at'][:10]}", "subheading"),
        pairs(lines),
    ]


def _instruments(rows):
    cells = []
    for row in rows:
        what = joined(
            row["title"],
            row["model"],
            row["serial_number"] and f"serial no. {row['serial_number']}",
            row["software"] and f"software {row['software']}",
            row["place"],
            "" if row["in_service"] else "out of service at issue",
        )
        done = [
            joined(
                f"calibrated {item['done_on']}, due {item['due_on']}: {item['result']}",
                item["certificate"] and f"certificate {item['certificate']}",
            )
            for item in row["calibrations"]
        ]
        cells.append([row["code"], what, "\n".join(done) or "no calibration on record"])
    if not cells:
        return paragraph("No instrument is recorded.")
    return table(["Instrument", "What it is", "Calibration in force at the tests"], cells, [16, 40, 44])


def _liquid(row):
    facts = joined(
        f"prepared or opened {row['prepared_on']}",
        row["expires_on"] and f"expires {row['expires_on']}",
        "" if row["newtonian"] else "not a Newtonian liquid",
        row["remark"],
    )
    title = f"Challenge liquid {row['name']} ({row['code']}), lot {row['lot']}"
    return [room(), paragraph(title, "subheading"), paragraph(f"{facts}."), *properties(row["properties"])]


def _climate(runs):
    told = [
        _range(runs, "temperature_c", "room temperature {} °C"),
        _range(runs, "humidity_pct", "relative humidity {} %"),
    ]
    text = "; ".join(part for part in told if part) or "not recorded"
    return [paragraph(f"At the tests: {text}. The climate of each run stands in the annex.")]


def _range(runs, key, words):
    values = [run[key] for run in runs if run[key] is not None]
    if not values:
        return ""
    low, high = f"{min(values):g}", f"{max(values):g}"
    return words.format(low if low == high else f"{low} to {high}")
