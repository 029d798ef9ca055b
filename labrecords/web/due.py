"""Days on which a lot or a calibration ends, seen from today."""

from datetime import timedelta

OVER, SOON = "over", "soon"
SOON_DAYS = 14


def standing(day, today):
    """`over` after the day, `soon` in the two weeks before it, else nothing; no day never ends."""
    if day is None or day > today + timedelta(days=SOON_DAYS):
        return ""
    return OVER if day < today else SOON
