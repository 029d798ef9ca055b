"""The lab's own numbered versions of the declared test methods."""

from django.db.models import Max

from analysis import METHODS
from labrecords import entry
from labrecords.actions.rows import write
from labrecords.errors import ConditionMissing, ValueRefused
from labrecords.models import Laboratory, MethodVersion
from labrecords.trail import verb


@verb
def fix_version(*, by, why="method settings fixed", method, settings, liquid=None, drop_volume_ul=None, note=""):
    """The next version of a method's local settings; checked against the method's declaration."""
    declared = METHODS.get(method)
    if declared is None:
        raise ValueRefused(field="method", label="Method", value=method, rule="is not declared")
    checked = checked_settings(declared.title, declared.settings, settings)
    Laboratory.objects.select_for_update(no_key=True).first()  # one at a time, so that no number is given twice
    last = MethodVersion.objects.filter(method=method).aggregate(last=Max("number"))["last"] or 0
    return write(
        MethodVersion(
            method=method,
            number=last + 1,
            liquid=liquid,
            drop_volume_ul=drop_volume_ul,
            settings=checked,
            note=note,
        ),
        by,
    )


def checked_settings(title, declared, given, *, prefix="", may_lack=False):
    """Settings as they are stored, each checked against its declaration; those not given are left out.

    `prefix`: before the key, in the field that a refusal names. `may_lack`: a required one may be missing.
    """
    unknown = set(given) - {setting.key for setting in declared}
    if unknown:
        name = min(unknown)
        raise ValueRefused(field=prefix + name, label=title, value=name, rule="is no setting of this kind")
    checked = {}
    for setting in declared:
        value = _checked(setting, given.get(setting.key), prefix + setting.key)
        if value is not None:
            checked[setting.key] = value
        elif setting.is_required and not may_lack:
            raise ConditionMissing(field=prefix + setting.key, label=setting.label, method=title)
    return checked


def _checked(setting, value, field):
    if setting.kind == "number":
        return entry.number(value, field=field, label=setting.label, low=setting.low, high=setting.high)
    text = str(value or "").strip() or None
    if setting.kind == "choice" and text is not None and text not in dict(setting.choices):
        rule = f"is none of {', '.join(dict(setting.choices))}"
        raise ValueRefused(field=field, label=setting.label, value=text, rule=rule)
    return text
