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
    unknown = set(settings) - {setting.key for setting in declared.settings}
    if unknown:
        raise ValueRefused(
            field=min(unknown), label=declared.title, value=min(unknown), rule="is no setting of this method"
        )
    checked = {setting.key: _checked(declared, setting, settings.get(setting.key)) for setting in declared.settings}
    Laboratory.objects.select_for_update().first()  # one at a time, so that no number is given twice
    last = MethodVersion.objects.filter(method=method).aggregate(last=Max("number"))["last"] or 0
    return write(
        MethodVersion(
            method=method,
            number=last + 1,
            liquid=liquid,
            drop_volume_ul=drop_volume_ul,
            settings={key: value for key, value in checked.items() if value is not None},
            note=note,
        ),
        by,
    )


def _checked(declared, setting, value):
    if setting.kind == "text":
        value = str(value or "").strip() or None
    else:
        value = entry.number(value, field=setting.key, label=setting.label, low=setting.low, high=setting.high)
    if value is None and setting.is_required:
        raise ConditionMissing(field=setting.key, label=setting.label, method=declared.title)
    return value
