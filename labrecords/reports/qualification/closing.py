"""What the customer must know beside the numbers: deviations, limits, cautions, who authorised."""

from reportlab.platypus import CondPageBreak

from analysis import QUANTITIES
from labrecords.reports.tables import pairs, table
from labrecords.reports.text import joined, number, paragraph


def room(points=85):
    """A new page where fewer points are left: a heading never stands alone at the foot."""
    return CondPageBreak(points)


def items(lines) -> list:
    return [paragraph(line, "item", bullet="•") for line in lines]


def deviations(evidence) -> list:
    rows = [
        [row["what"], row["concerns"], joined(row["reason"], row["impact"] and f"impact: {row['impact']}")]
        for row in evidence["deviations"]
    ]
    story = [paragraph("Deviations from recipe, method, specification or plan", "subheading")]
    story += (
        [table(["Deviation", "Concerns", "Reason, impact"], rows, [40, 32, 28])]
        if rows
        else [paragraph("None recorded.")]
    )
    story += [room(60), paragraph("Readings excluded from the numbers, and readings lost", "subheading")]
    story += _left_out(evidence)
    return [*story, room(60), paragraph("Readings corrected", "subheading"), *_corrected(evidence)]


def _left_out(evidence):
    rows = []
    for run in evidence["runs"]:
        for row in run["readings"]:
            if row["excluded"] or row["qualifier"] == "lost":
                known = QUANTITIES[row["quantity"]]
                value = number(row["value"], known.decimals, known.unit)
                why = (
                    f"excluded by {row['excluded_by']}: {row['excluded_because']}"
                    if row["excluded"]
                    else f"lost: {row['reason']}"
                )
                rows.append(
                    [
                        f"{run['code']}, {run['coupon']}",
                        f"{known.title}, position {row['position']}, drop {row['drop']}",
                        value,
                        why,
                    ]
                )
    if not rows:
        return [paragraph("None recorded.")]
    return [table(["Run, coupon", "Reading", "Value", "Why"], rows, [28, 28, 10, 34])]


def _corrected(evidence):
    rows = [
        [
            f"{row['run']}, {row['coupon']}",
            f"{QUANTITIES[row['quantity']].title}, position {row['position']}, drop {row['drop']}",
            f"{row['from']} to {row['to']}",
            f"{row['who']}, {row['when']}: {row['why']}",
        ]
        for row in evidence["corrections"]
    ]
    if not rows:
        return [paragraph("None recorded.")]
    return [table(["Run, coupon", "Reading", "Value", "Who, when, why"], rows, [28, 26, 16, 30])]


def limitations(evidence) -> list:
    return items(evidence["limitations"])


def cautions(evidence) -> list:
    lead = "For people who handle the coupons or repeat the work; no amounts or settings are proposed here."
    return [paragraph(lead), *items(evidence["cautions"])]


AS_SIGNED = {
    "author": "Author: the content is complete and as on record",
    "review": "Review: checked by another person than the author",
    "approval": "Approval: authorised for issue",
}


def authorisation(evidence) -> list:
    report = evidence["report"]
    reviewers = sorted({run["reviewed_by"] for run in evidence["runs"] if run["reviewed_by"]})
    rows = [
        ("Issued by", f"{report['issued_by']}, {report['issued_as']}, on {report['issued_at']}"),
        ("Signed content", f"SHA-256 {report['content_sha256']}, version {report['version']}"),
        ("Record chain", _chain(report["chain"])),
        ("Runs reviewed by", ", ".join(reviewers) or "not reviewed; see the deviations"),
        ("Computed with", f"analysis version {evidence['code_version']}"),
        (
            "Outside providers",
            "All results were obtained by the laboratory named above; none from outside is on record.",
        ),
        ("Opinions", "This report holds no opinions or interpretations beyond the statement of conformity."),
    ]
    rows = [*(rows if report["issued_by"] else rows[1:]), *_seal(report.get("certificate"))]
    return [*_signatures(report["signatures"]), pairs(rows)]


def _signatures(given):
    """Printed name, role, date with time, and meaning of each signature."""
    rows = [[AS_SIGNED[row["meaning"]], row["name"], row["role_title"], row["at"], row["digest"]] for row in given]
    if not rows:
        return [paragraph("Not signed yet.")]
    head = ["Signed as", "Name", "Role", "Date and time", "Digest of the signature"]
    return [table(head, rows, [30, 18, 11, 15, 26])]


def _chain(head):
    """The newest link of the record chain at the time of issue: nothing before it can be altered unseen."""
    return head and f"head at issue: number {head['number']}, {head['at']}, SHA-256 {head['hash']}"


def _seal(certificate):
    """By what a reader can tell that the file is the lab's and unchanged; reports of before the seal have none."""
    if certificate is None:
        return []
    made = "made by the laboratory itself, so compare" if certificate["self_made"] else "compare"
    return [
        (
            "Sealed with",
            f"the certificate {certificate['subject']}, valid {certificate['valid_from']} to "
            f"{certificate['valid_until']}; {made} its SHA-256 fingerprint with what the laboratory told you: "
            f"{certificate['fingerprint']}",
        ),
        (
            "Attached files",
            "Readings, runs, recipe, criteria, results and all that is printed here, as an open data package; any "
            "PDF reader lists them. The command “manage.py verify_report FILE.pdf” of the lab records program checks "
            "the signature and computes every result again from the attached readings; it needs no database.",
        ),
    ]
