"""Who may do what: one table of roles and verbs, asked by the actions, never by pages alone.

A verb is the module and name of an action: `coupons.log`. A role that stands with `coupons.*` may do all of them.
`coupons.look` opens the pages and API lists of a noun; whose rows they hold is said by SEES and `visibility.py`.
"""

from labrecords import security
from labrecords.errors import NotAllowed, StartPasswordOnly, ValueRefused
from labrecords.verbs import in_words

ROLES = {
    "operator": "operator",
    "developer": "developer",
    "reviewer": "reviewer",
    "quality": "quality",
    "customer": "customer (reads own reports)",
    "administrator": "administrator",
}

# Of which projects a role sees the rows: every one; open ones and those it is a member of; only the latter.
EVERY, OPEN, OWN = "every", "open", "own"
SEES = {
    "operator": OPEN,
    "developer": OPEN,
    "reviewer": OPEN,
    "quality": OPEN,
    "customer": OWN,
    # No data owner, so it may see which projects there are and who belongs to them: of records it may look at none.
    "administrator": EVERY,
}

_STAFF = [
    f"{noun}.look"
    for noun in (
        "today", "coupons", "processing", "runs", "batches", "recipes", "methods", "criteria", "qualifications",
        "explanations", "materials", "liquids", "instruments", "laboratory", "projects", "people", "history",
        "declarations", "assessments", "attachments", "journal", "data_sheets",
        "releases",
    )
]  # fmt: skip
_BENCH = ["coupons.*", "processing.*", "runs.enter", "runs.record", "runs.complete", "runs.exclude", "runs.include",
          "runs.reopen", "liquids.log_lot", "liquids.log_bath_lot", "liquids.log_lubricant_lot",
          "attachments.*", "data_sheets.record"]  # fmt: skip
_DESIGN = [
    "materials.*",
    "recipes.*",
    "liquids.*",
    "instruments.*",
    "methods.*",
    "criteria.*",
    "batches.*",
    "projects.*",
    "data_sheets.*",
]

_REPORTS = ["assessments.prepare", "assessments.prepare_again", "assessments.complete", "assessments.withdraw"]

MAY = {
    "operator": [*_STAFF, *_BENCH],
    "developer": [*_STAFF, *_BENCH, *_DESIGN, *_REPORTS],
    "reviewer": [*_STAFF, *_BENCH, *_DESIGN, *_REPORTS, "runs.review", "assessments.review"],
    "quality": [
        *_STAFF,
        *_BENCH,
        *_DESIGN,
        "runs.review",
        "runs.lift_review",
        "assessments.*",
        "laboratory.*",
        "releases.*",
        "health.look",
        "people.read_log",
    ],
    "customer": ["qualifications.look"],
    # The administrator keeps people, who belongs to which project, and the lab's settings. Measured data are not the
    # administrator's, neither to write nor to read: who gives out the rights takes no part in what they protect.
    "administrator": [
        "people.*",
        "laboratory.*",
        "releases.look",
        "projects.look",
        "projects.admit",
        "projects.dismiss",
        "history.look",
        "journal.look",
        "health.look",
    ],
}


# What everybody may do with the own sign-in.
_ACCOUNT = ["account.*"]


def may(person, verb: str) -> bool:
    if not person.is_active:
        return False
    if person.has_start_secret and verb != "account.change_password":
        return False
    return _has(person.role, verb)


def measures(role) -> bool:
    """Whether people of this role stand at the bench; whether one of them still may is `may`."""
    return _has(role, "runs.record")


def check_measures(person, *, field):
    """Refuse an operator of a role that does not stand at the bench."""
    if not measures(person.role):
        rule = f"measures nothing: the role is {person.get_role_display()}"
        raise ValueRefused(field=field, label="Operator", value=person.full_name, rule=rule)


def check(person, verb: str) -> None:
    """Refuse with NotAllowed unless the person's role has the verb, and a start password until it is changed."""
    if not may(person, verb):
        security.warn("denied", who=person.username, verb=verb)
        if person.is_active and person.has_start_secret:
            raise StartPasswordOnly(who=person.full_name)
        roles = [label for role, label in ROLES.items() if _has(role, verb)]
        raise NotAllowed(who=person.full_name, what=in_words(verb), roles=", ".join(roles) or "nobody")


def _has(role, verb):
    return any(verb == entry or entry == f"{verb.partition('.')[0]}.*" for entry in (*_ACCOUNT, *MAY.get(role, ())))
