"""The coupons, where they come from, and what was done to them."""

from labrecords.reports.qualification.closing import room
from labrecords.reports.tables import pairs, table
from labrecords.reports.text import joined, paragraph


def samples(evidence) -> list:
    batch, counts = evidence["batch"], evidence["counts"]
    coupons = [
        [
            joined(row["code"], row["mark"] and f"mark {row['mark']}", by=", "),
            row["role_title"],
            row["lot"],
            joined(row["parent"] and f"from {row['parent']}", row["cut"]) or "–",
            joined(row["size"], row["area"], by=", ") or "–",
            joined(row["state"], row["remark"]),
            row["logged_at"][:10],
        ]
        for row in evidence["coupons"]
    ]
    lots = [
        [
            row["code"],
            row["material"],
            joined(row["form"], row["thickness"], by=", "),
            row["supplier_lot"] or "–",
            row["roughness"] or "–",
            row["direction"] or "–",
            row["received_on"] or "not recorded",
        ]
        for row in evidence["lots"]
    ]
    return [
        table(
            [
                "Coupon",
                "Role",
                "Substrate lot",
                "Parent, position, orientation",
                "Size, exposed area",
                "State",
                "Logged",
            ],
            coupons,
            [17, 10, 13, 27, 14, 9, 10],
        ),
        room(),
        table(
            ["Substrate lot", "Material", "Form", "Supplier lot", "Ra as received", "Direction", "Received"],
            lots,
            [15, 20, 14, 14, 12, 13, 12],
        ),
        pairs(
            [
                ("Counts", _counts(counts)),
                (
                    "Sampling plan",
                    batch["sampling"] or "none recorded: the coupons of the batch were tested as listed",
                ),
                ("Remark on the batch", batch["remark"]),
            ]
        ),
    ]


def _counts(counts):
    missing = f" Without a completed run: {counts['not_tested']}." if counts["not_tested"] else ""
    return (
        f"{counts['treated']} treated coupons made, {counts['treated_tested']} tested; {counts['others']} "
        f"control or reference coupons. {counts['runs']} runs, {counts['readings']} readings: "
        f"{counts['not_moved']} not moved up to the stage limit, {counts['moved_on_placing']} moved on "
        f"placing, {counts['lost']} lost, "
        f"{counts['excluded']} excluded.{missing}"
    )


def treatment(evidence) -> list:
    recipe = evidence["recipe"]
    note = f" ({recipe['note']})" if recipe["note"] else ""
    story = [
        paragraph(
            f"Recipe {recipe['code']} {recipe['title']}, revision {recipe['revision']}{note}, "
            f"entered {recipe['fixed_at']}."
        )
    ]
    for step in evidence["steps"]:
        story += _step(step)
    story += _lots(evidence)
    if evidence["masses"]:
        rows = [[row["coupon"], row["step"], row["before"] or "–", row["after"] or "–"] for row in evidence["masses"]]
        story += [
            room(),
            paragraph("Coupon masses", "subheading"),
            table(["Coupon", "Step", "Before", "After"], rows, [30, 40, 15, 15]),
        ]
    return story


def _step(step):
    title = f"Step {step['order']}: {step['name']}" + (f" ({step['kind']})" if step["kind"] != step["name"] else "")
    story = [room(), paragraph(title, "subheading")]
    if step["instruction"]:
        story.append(paragraph(step["instruction"]))
    if not step["records"]:
        planned = [f"{row['label']} {row['planned']}" for row in step["planned"]]
        story.append(paragraph(joined("No record of this step", planned and f"planned: {', '.join(planned)}") + "."))
    for record in step["records"]:
        story += _record(record)
    return story


def _record(record):
    done = joined(
        f"Done {record['started_at']} to {record['finished_at'] or 'no end recorded'}",
        f"by {record['operator']}",
        f"on {record['coupons']}",
        record["rack"] and f"rack: {record['rack']}",
        record["lots"] and f"lots: {', '.join(record['lots'])}",
        record["remark"] and f"remark: {record['remark']}",
    )
    words = {True: "yes", False: "NO", None: "–"}
    rows = [[row["label"], row["planned"], row["actual"], words[row["within"]]] for row in record["rows"]]
    shown = [table(["Value", "Planned", "As done", "Within tolerance"], rows, [34, 26, 24, 16])] if rows else []
    return [paragraph(f"{done}."), *shown]


def _lots(evidence):
    story = []
    if evidence["baths"]:
        rows = [
            [
                row["code"],
                row["title"],
                row["composition"] or "–",
                joined(row["prepared_on"], row["expires_on"] and f"until {row['expires_on']}", by=" "),
                joined(row["ph"] and f"pH {row['ph']}", row["conductivity"], row["remark"]) or "–",
            ]
            for row in evidence["baths"]
        ]
        story += [
            room(),
            paragraph("Bath and solution lots", "subheading"),
            table(
                ["Lot", "Bath", "Composition", "Made up", "pH, conductivity, remark"],
                rows,
                [16, 18, 30, 16, 20],
            ),
        ]
    for row in evidence["lubricants"]:
        facts = joined(
            row["family"],
            row["pfas"],
            row["supplier_lot"] and f"supplier lot {row['supplier_lot']}",
            f"received or opened {row['prepared_on']}",
            row["expires_on"] and f"until {row['expires_on']}",
        )
        story += [
            room(),
            paragraph(f"Lubricant lot {row['lot']}: {row['name']}", "subheading"),
            paragraph(f"{facts}."),
            *properties(row["properties"]),
        ]
    if evidence["surface"]:
        story += [
            room(),
            paragraph("Properties of the recipe's surface", "subheading"),
            *properties(evidence["surface"]),
        ]
    return story


def properties(rows) -> list:
    if not rows:
        return [paragraph("No properties recorded.", "note")]
    cells = [[row["label"], row["value"], row["temperature"] or "–", row["source"]] for row in rows]
    return [table(["Property", "Value ± standard uncertainty", "At", "Source"], cells, [30, 24, 8, 38])]
