"""One small class per refusal. Its docstring is the message people see; fields in braces are filled in.

Pages, API and commands show the same words. A refusal names the field, the value, the limit and its source.
"""

from __future__ import annotations


class Refusal(Exception):
    """The request was refused."""

    field: str = ""
    status = 400  # what the API answers

    def __init__(self, *, field: str = "", **details):
        self.field = field or type(self).field
        self.details = details
        super().__init__((type(self).__doc__ or "").strip().format(**details))

    @property
    def told(self) -> str:
        """What pages and API say, where a command may say more."""
        return str(self)

    @property
    def code(self) -> str:
        return type(self).__name__

    @property
    def headers(self) -> dict:
        """What goes with the answer, beside the words."""
        return {}


class NotAllowed(Refusal):
    """{who} may not {what}: that is open to {roles}."""

    status = 403


class SignInRefused(Refusal):
    """Sign-in name and password do not fit, or the person has been disabled."""

    field = "username"
    status = 401


class TooManyAttempts(Refusal):
    """Too many failed attempts for this name or from this address. Try again in {minutes} min, or ask an administrator to lift this."""

    status = 429

    @property
    def headers(self):
        return {"Retry-After": str(60 * self.details["minutes"])}


class CodeRefused(Refusal):
    """The six-digit code of your second factor is missing or does not fit; each code serves once."""

    field = "code"
    status = 401


class StartPasswordOver(Refusal):
    """This start password was not used within {days} days. Ask an administrator for a new one."""

    field = "password"
    status = 401


class StartPasswordOnly(Refusal):
    """{who} still has the start password that somebody else knows: choose your own first."""

    status = 403


class PasswordWrong(Refusal):
    """That is not your password."""

    field = "password"
    status = 403


class TokenReadsOnly(Refusal):
    """Token “{name}” may read only."""

    status = 403


class ReasonMissing(Refusal):
    """Say why: a change of a stored value needs a reason."""

    field = "why"


class ReasonUnreadable(Refusal):
    """The reason holds a sign that no text can hold, or more than {most} characters."""

    field = "why"


class UnknownCode(Refusal):
    """There is no {noun} “{value}”."""


class UnknownNoun(UnknownCode):
    """There is no kind of record “{value}”; there are {nouns}."""

    code = "UnknownCode"  # for programs it is one more name that nothing has
    field = "noun"


class FileMissing(Refusal):
    """No file came with this: choose one."""

    field = "file"


class PasswordMissing(Refusal):
    """{label}: there is no terminal to ask at; {instead}."""

    field = "password"


class NotTied(Refusal):
    """{inside} belongs to project {project}, which is for members only; {outside} does not. Each would show the other: put both into the project."""

    field = "project"
    status = 409


class LaboratoryMissing(Refusal):
    """The lab is not set up yet: its name, address and site code come first (page “Lab”, or `manage.py set_up_lab`)."""

    status = 409


class MistypedCode(Refusal):
    """“{value}” is no valid coupon code: its check character does not fit the rest, so it was probably mistyped."""

    field = "coupon"


class CouponConsumed(Refusal):
    """Coupon {coupon} is {state}: it takes no new readings."""

    field = "coupon"
    status = 409


class NotFromThisState(Refusal):
    """{noun} {code} is {state}; it cannot become {target} from there."""

    status = 409


class RunLocked(Refusal):
    """Run {run} has been reviewed and is locked: readings are no longer changed. Quality may lift the review with a reason, and the run is reviewed anew."""

    field = "run"
    status = 409


class SavedByOther(Refusal):
    """Run {run} was saved by {who} at {when} after you opened it. Nothing of yours was stored; what you typed is kept here. Compare, then save again."""

    field = "version"
    status = 409


class ChangedByOther(Refusal):
    """{what} was changed by {who} at {when} after you opened this page. Nothing of yours was stored: look at it as it is now, then amend."""

    status = 409


class ValueRefused(Refusal):
    """{label}: “{value}” {rule}."""


class RecedingAboveAdvancing(Refusal):
    """Drop {drop} at position {position}: the receding angle {receding}° is above the advancing angle {advancing}°. One of the two is wrong."""

    field = "value"


class DuplicateDrop(Refusal):
    """{quantity}, position {position}, drop {drop} stands twice."""

    field = "drop"
    status = 409


class ConditionMissing(Refusal):
    """{label} is missing: method “{method}” cannot be read without it."""


class LotExpired(Refusal):
    """{noun} lot {lot} expired on {expires}; it was used on {used}."""

    field = "liquid"
    status = 409


class InstrumentOutOfService(Refusal):
    """Instrument {instrument} is out of service; its readings are in doubt from {since} on."""

    field = "instrument"
    status = 409


class DeviationNeedsReason(Refusal):
    """{label} was {value} {unit}, outside {low} to {high} {unit} of recipe {recipe}. Give the reason; it becomes a deviation."""

    field = "reason"


class Frozen(Refusal):
    """{noun} {code} is frozen. Write its next revision instead."""

    status = 409


class NothingToJudge(Refusal):
    """Batch {batch} cannot be qualified yet: {why}"""

    field = "batch"
    status = 409


class ReportIncomplete(Refusal):
    """The report on batch {batch} would lack what a test report has to say: {items}. Enter it, or note a deviation of the batch that names it, with the reason."""

    field = "batch"
    status = 409


class SigningRefused(Refusal):
    """Not signed: this is not the password of {who}."""

    field = "password"
    status = 403


class OnItsWay(Refusal):
    """Batch {batch} is on its way to a report by {specification} already: assessment {assessment}, {state}. Go on with that one, or withdraw it."""

    field = "batch"
    status = 409


class PreparedAnew(Refusal):
    """Assessment {assessment} is at version {version} now, not at version {seen} that you have seen. Look at it again before you go on."""

    field = "version"
    status = 409


class RecordsChanged(Refusal):
    """What batch {batch} has on record is no longer what assessment {assessment} says (it differs in: {what}). Prepare it again, so that the content that is signed is the one on record."""

    field = "assessment"
    status = 409


class SignatureBroken(Refusal):
    """Assessment {assessment} does not go on: {why}"""

    field = "assessment"
    status = 409


class KeyReused(Refusal):
    """Key “{key}” was sent before with another request. A key belongs to one request: choose a new one."""

    field = "Idempotency-Key"
    status = 422


class FileRefused(Refusal):
    """Lines refused in the file: {count}. Nothing was stored."""

    field = "file"

    def __init__(self, *, lines, **details):
        self.lines = lines  # list of {"line", "column", "value", "rule"}
        super().__init__(count=len(lines), **details)


class CertificateRefused(Refusal):
    """The lab's certificate cannot seal a report: {what}."""

    status = 409


class ReportUnreadable(Refusal):
    """{file} cannot be verified: {why}."""

    field = "file"


class DatabaseUnavailable(Refusal):
    """{why}"""

    status = 503
    told = "The database cannot be reached."  # the whole names folders and hosts of this machine


class ArchiveRefused(Refusal):
    """{why}"""

    status = 409


class DatabaseRefused(Refusal):
    """The database refused this and nothing was stored. The rule it holds: {rule}"""

    status = 409


class SettingRefused(Refusal):
    """Setting {name}: “{value}” {rule}."""
