"""What differs between two revisions of a recipe, as rows of a plain table."""

from difflib import SequenceMatcher


def changes(before, after):
    """Rows of step, what, before, after; steps are matched by their kind, in order."""
    old, new = list(before.steps.all()), list(after.steps.all())
    rows = []
    for first, second in _matched(old, new):
        rows += _step_changes(first, second)
    return rows


def _matched(old, new):
    """Pairs of steps; None where a step has no counterpart."""
    matcher = SequenceMatcher(None, [step.kind for step in old], [step.kind for step in new], autojunk=False)
    for word, low, high, new_low, new_high in matcher.get_opcodes():
        if word == "equal":
            yield from zip(old[low:high], new[new_low:new_high], strict=True)
        else:
            yield from ((step, None) for step in old[low:high])
            yield from ((None, step) for step in new[new_low:new_high])


def _step_changes(old, new):
    if old is None:
        return [{"step": f"{new.order} {new.name}", "what": "step", "before": "–", "after": "added"}]
    if new is None:
        return [{"step": f"{old.order} {old.name}", "what": "step", "before": "was there", "after": "removed"}]
    before, after = _values(old), _values(new)
    return [
        {
            "step": f"{new.order} {new.name}",
            "what": what,
            "before": before.get(what, "–"),
            "after": after.get(what, "–"),
        }
        for what in before | after
        if before.get(what) != after.get(what)
    ]


def _values(step):
    """Every printed value of a step by its label."""
    said = {"name": step.name, "instruction": step.instruction or "–"}
    rows = {
        f"{row['label']} [{row['unit']}]" if row["unit"] else row["label"]: row["text"] for row in step.planned_rows
    }
    return said | rows
