"""What a qualification report prints, gathered once and frozen as plain data.

Order that matters stands in lists, because a stored JSON object does not keep the order of its keys.
"""

from __future__ import annotations

import analysis
from labrecords.actions.evidence import deviations, findings, inputs, limits, samples, testing, treatment
from labrecords.actions.evidence.stored import Analysed, Stored


def gather(stored: Stored, judgement) -> dict:
    """Everything but number, date and name of the issue."""
    return {
        "layout": 1,
        "code_version": analysis.CODE_VERSION,
        **samples.facts(stored),
        **treatment.facts(stored),
        **testing.facts(stored),
        "specification": testing.specification(stored.revision, stored.criteria),
        **findings.facts(stored, judgement),
        "explanations": findings.explanations(stored, judgement),
        "deviations": deviations.of(stored),
        "limitations": limits.of(stored),
        "cautions": treatment.cautions(stored),
        **inputs.facts(stored),
    }


__all__ = ["Analysed", "Stored", "gather"]
