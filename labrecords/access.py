"""Who may do what: one table of roles and verbs, asked by the actions, never by pages alone.

A verb is the module and name of an action: `coupons.log`. A role that stands with `coupons.*` may do all of them.
"""

from labrecords.errors import NotAllowed

ROLES = {
    "operator": "operator",
    "developer": "developer",
    "reviewer": "reviewer",
    "quality": "quality",
    "administrator": "administrator",
}

_BENCH = ["coupons.*", "processing.*", "runs.enter", "runs.record", "runs.complete", "runs.exclude", "runs.include",
          "runs.reopen", "liquids.log_lot", "liquids.log_bath_lot", "liquids.log_lubricant_lot",
          "attachments.*"]  # fmt: skip
_DESIGN = [
    "materials.*",
    "recipes.*",
    "liquids.*",
    "instruments.*",
    "methods.*",
    "criteria.*",
    "batches.*",
    "projects.*",
]

_REPORTS = ["assessments.prepare", "assessments.prepare_again", "assessments.complete", "assessments.withdraw"]

MAY = {
    "operator": [*_BENCH],
    "developer": [*_BENCH, *_DESIGN, *_REPORTS],
    "reviewer": [*_BENCH, *_DESIGN, *_REPORTS, "runs.review", "assessments.review"],
    "quality": [*_BENCH, *_DESIGN, "runs.review", "assessments.*", "laboratory.*", "health.look"],
    # The administrator keeps people and the lab's settings; measured data are not the administrator's.
    "administrator": ["people.*", "laboratory.*", "health.look"],
}


def may(person, verb: str) -> bool:
    if not person.is_active:
        return False
    return any(verb == entry or entry == f"{verb.partition('.')[0]}.*" for entry in MAY.get(person.role, ()))


def check(person, verb: str) -> None:
    """Refuse with NotAllowed unless the person's role has the verb."""
    if not may(person, verb):
        roles = [label for role, label in ROLES.items() if any(
            verb == entry or entry == f"{verb.partition('.')[0]}.*" for entry in MAY[role])]  # fmt: skip
        raise NotAllowed(who=person.full_name, verb=verb, roles=", ".join(roles) or "nobody")
