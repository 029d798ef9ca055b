"""Who may do what: one table of roles and verbs, asked by the actions, never by pages alone.

A verb is the module and name of an action: `coupons.log`. A role that stands with `coupons.*` may do all of them.
"""

from labrecords import security
from labrecords.errors import NotAllowed, StartPasswordOnly

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
    "quality": [*_BENCH, *_DESIGN, "runs.review", "assessments.*", "laboratory.*", "health.look", "people.read_log"],
    # The administrator keeps people and the lab's settings; measured data are not the administrator's.
    "administrator": ["people.*", "laboratory.*", "health.look"],
}


# What everybody may do with the own sign-in.
OWN = ["account.*"]


def may(person, verb: str) -> bool:
    if not person.is_active:
        return False
    if person.has_start_secret and verb != "account.change_password":
        return False
    return any(verb == entry or entry == f"{verb.partition('.')[0]}.*" for entry in (*OWN, *MAY.get(person.role, ())))


def check(person, verb: str) -> None:
    """Refuse with NotAllowed unless the person's role has the verb, and a start password until it is changed."""
    if not may(person, verb):
        security.warn("denied", who=person.username, verb=verb)
        if person.is_active and person.has_start_secret:
            raise StartPasswordOnly(who=person.full_name)
        roles = [label for role, label in ROLES.items() if any(
            verb == entry or entry == f"{verb.partition('.')[0]}.*" for entry in MAY[role])]  # fmt: skip
        raise NotAllowed(who=person.full_name, verb=verb, roles=", ".join(roles) or "nobody")
