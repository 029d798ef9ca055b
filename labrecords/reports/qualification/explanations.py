"""The chain from readings to each result: the same data as the page “Why?” shows."""

from labrecords.reports.qualification.closing import items, room
from labrecords.reports.tables import table
from labrecords.reports.text import joined, paragraph


def results(evidence) -> list:
    told = evidence["explanations"]
    story = [
        paragraph(
            "Each outcome step by step, from what was read to the decision, and what would change it; then each "
            "formula behind the other numbers of this report, once.",
            "note",
        )
    ]
    for chain in told["outcomes"]:
        story += _chain(chain)
    story += [room(120), paragraph("Formulas behind the statistics and checks", "subheading")]
    for step in told["formulas"]:
        story += _formula(step)
    return story


def _chain(chain) -> list:
    version = f"settings, version {chain['method_version']}" if chain["method_version"] else ""
    story = [room(140), paragraph(f"{chain['title']}: {chain['answer']}", "subheading")]
    story.append(paragraph(joined(chain["method"], version), "note"))
    for number, step in enumerate(chain["steps"], start=1):
        story += _step(number, step)
    return [*story, paragraph(f"What would change it: {chain['turns']}")]


def _step(number, step) -> list:
    story = [room(60), paragraph(f"Step {number}: {step['title']}", "strong")]
    if step["formula"]:
        story.append(paragraph(step["formula"], "formula"))
    runs = list(dict.fromkeys(item["run"] for item in step["inputs"] if item["run"]))
    if runs:
        story.append(paragraph(f"Every reading of the runs {', '.join(runs)} stands in the next section."))
    rows = [[item["what"], item["value"], item["unit"], item["source"]] for item in step["inputs"] if not item["run"]]
    if rows:
        story.append(table(["Input", "Value", "Unit", "Source"], rows, [30, 36, 8, 26]))
    if step["result"]:
        story.append(paragraph(f"Gives: {step['result']}"))
    return [*story, *_grounds(step)]


def _formula(step) -> list:
    return [
        room(60),
        paragraph(step["title"], "strong"),
        paragraph(step["formula"], "formula"),
        *items([f"{name}: {meaning}" for name, meaning in step["symbols"]]),
        *_grounds(step),
    ]


def _grounds(step) -> list:
    told = joined(
        step["rule"] and f"Rule: {step['rule']}",
        step["holds_when"] and f"Holds: {step['holds_when']}",
        step["library"] and f"computed by {step['library']}",
        *step["sources"],
    )
    return [paragraph(told, "note")] if told else []
