"""What people type: numbers and dates read strictly, because a silent conversion is a wrong result."""

from __future__ import annotations

import re
from datetime import date, datetime

from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime

from labrecords.errors import ValueRefused

# ASCII digits only: float() would also take 1_000, Arabic digits, "nan", "inf" and 1e308.
_NUMBER = re.compile(r"[+-]?(\d{1,9}([.,]\d{1,9})?|[.,]\d{1,9})", re.ASCII)


def number(value, *, field: str, label: str = "", low: float | None = None, high: float | None = None):
    """The number that was typed, with decimal comma or point; None when nothing was. Refuses everything else."""
    if value is None or isinstance(value, bool):
        return None
    text = str(value).strip().replace("\u2212", "-")
    if not text:
        return None
    label = label or field
    if not _NUMBER.fullmatch(text):
        raise ValueRefused(
            field=field,
            label=label,
            value=text,
            rule="is not a plain number (digits, one decimal comma or point)",
        )
    result = float(text.replace(",", "."))
    if low is not None and result < low:
        raise ValueRefused(field=field, label=label, value=text, rule=f"is below {low:g}")
    if high is not None and result > high:
        raise ValueRefused(field=field, label=label, value=text, rule=f"is above {high:g}")
    return result


def whole(value, *, field: str, label: str = "", low: int = 0, high: int = 10**9):
    """The whole number that was typed; None when nothing was."""
    result = number(value, field=field, label=label, low=low, high=high)
    if result is not None and result != int(result):
        raise ValueRefused(field=field, label=label or field, value=value, rule="is not a whole number")
    return None if result is None else int(result)


def moment(value, *, field: str, label: str = ""):
    """Date and time, ISO 8601 (year first: day and month cannot be mixed up); local time when no zone is given."""
    if isinstance(value, datetime):
        result = value
    else:
        try:
            result = parse_datetime(str(value).strip())
            if result is None:
                day = parse_date(str(value).strip())
                result = day and datetime(day.year, day.month, day.day)
        except ValueError:
            result = None
    if result is None:
        raise ValueRefused(
            field=field, label=label or field, value=value, rule="is not a date and time as 2026-03-31 14:05"
        )
    # Beyond these years a change of the time zone may leave the calendar.
    if not 1900 <= result.year <= 2200:
        raise ValueRefused(field=field, label=label or field, value=value, rule="is outside the years 1900 to 2200")
    return timezone.make_aware(result) if timezone.is_naive(result) else result


def day(value, *, field: str, label: str = ""):
    """A date, ISO 8601; None when nothing was typed."""
    if value is None or isinstance(value, date):
        return value
    text = str(value).strip()
    if not text:
        return None
    try:
        result = parse_date(text)
    except ValueError:
        result = None
    if result is None:
        raise ValueRefused(field=field, label=label or field, value=value, rule="is not a date as 2026-03-31")
    return result
