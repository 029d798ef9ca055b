"""What templates ask of the records: may this person, how is this number written."""

from django import template
from django.urls import reverse
from django.utils import timezone

from analysis import QUANTITIES
from labrecords import access
from labrecords import history as trail
from labrecords.actions import data_sheets
from labrecords.models import DataSheet
from labrecords.models.attachment import FILE_KINDS, MOST_BYTES
from labrecords.processes import HAZARDS, cautions_of
from labrecords.web import doors, due

register = template.Library()


@register.filter
def may(person, verb):
    """Whether to show the button of a verb; the action itself checks again."""
    return getattr(person, "is_authenticated", False) and access.may(person, verb)


@register.filter
def history(row):
    """Address of a row's history."""
    return reverse("history", args=[trail.noun_of(row), trail.name_of(row)])


@register.filter
def copy(row):
    """Address of a row's whole copy."""
    return reverse("record-copy", args=[trail.noun_of(row), trail.name_of(row)])


@register.filter
def files(row):
    """Address of the files that belong to a row."""
    return reverse("files", args=[trail.noun_of(row), trail.name_of(row)])


@register.simple_tag
def accepted_files():
    """Extensions that a file dialogue offers."""
    return ",".join(f".{end}" for kind in FILE_KINDS.values() for end in kind.extensions)


@register.simple_tag
def file_kinds():
    return f"{', '.join(kind.title for kind in FILE_KINDS.values())}; at most {MOST_BYTES // 2**20} MB"


@register.filter
def may_open(person, name):
    """Whether to show a link to the page of this name; the page itself asks again."""
    return doors.may_open(person, name)


@register.filter
def plain(number):
    """A stored number as short as it is exact: 1600.0 is 1600, nothing is a dash, words stay words."""
    if number in (None, ""):
        return "–"
    return number if isinstance(number, str) else f"{number:.10g}".replace("-", "−")


@register.filter
def at(mapping, key):
    """The entry of a mapping; nothing where there is none."""
    return mapping.get(key)


@register.filter
def result(statistic):
    """A stored statistic in words: value with unit and interval, or why there is none."""
    value = statistic["value"]
    if value is None:
        return statistic["note"] or "not given"
    return f"{_figure(value, statistic)}{_interval(statistic)}"


def _interval(statistic):
    low, high, confidence = statistic["low"], statistic["high"], statistic["confidence"]
    if low is None or high is None or confidence is None:
        return ""
    return f" ({confidence:.0%}: {_figure(low, statistic)} to {_figure(high, statistic)})"


def _figure(value, statistic):
    if isinstance(value, str):  # "inf" of a stored result
        return "beyond the stage limit"
    unit = statistic["unit"]
    gap = "" if unit in ("", "°") else " "
    return f"{value:.{statistic['decimals']}f}{gap}{unit}".replace("-", "−")


@register.filter
def main_numbers(run):
    """The statistics that stand for the coupon; `run.current` holds the current analysis."""
    rows = run.current[0].content["statistics"] if run.current else []
    return [row for row in rows if row["key"] in run.method.coupon_statistics]


@register.filter
def standing(day):
    return due.standing(day, timezone.localdate())


@register.inclusion_tag("labrecords/_caution.html", takes_context=True)
def caution(context, tags):
    """Lines of caution of hazard tags, the deferring one last, with the data sheets that the lab goes by."""
    request = context["request"]
    lines = cautions_of(tag for tag in tags if tag in HAZARDS)
    if lines and not hasattr(request, "data_sheets"):  # asked once a page
        request.data_sheets = list(DataSheet.objects.in_force())
    sheets, missing = data_sheets.beside(tags, request.data_sheets) if lines else ([], [])
    return {"lines": lines, "sheets": sheets, "missing": missing, "user": request.user}


@register.filter
def hazard(tag):
    """The hazard's name where its caution stands nearby."""
    return HAZARDS[tag].title


@register.filter
def quantity(key):
    return QUANTITIES[key]


@register.filter
def newest_first(properties):
    """(property, whether it counts): the newest of a quantity counts, older ones stay to be seen."""
    seen, rows = set(), []
    for row in reversed(properties):
        place = (row.quantity, row.against_liquid_id, row.against_lubricant_id)
        rows.append((row, place not in seen))
        seen.add(place)
    return rows
