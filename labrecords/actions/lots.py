"""What was used, and when: lots within their dates, times that are no typing error."""

from datetime import timedelta

from django.utils import timezone

from labrecords.errors import LotExpired, ValueRefused

# Clocks of instruments may be set to another zone; further ahead is a typing error.
AHEAD = timedelta(days=1)


def check_lot(lot, noun, *, used_at, field):
    """Refuse a lot that was used before it was there or after it had expired."""
    if lot is None or used_at is None:
        return
    used = timezone.localtime(used_at).date()
    if lot.expires_on and used > lot.expires_on:
        raise LotExpired(field=field, noun=noun, lot=lot.code, expires=lot.expires_on, used=used)
    if used < lot.prepared_on:
        began = str(lot._meta.get_field("prepared_on").verbose_name).removesuffix(" on")
        rule = f"was {began} on {lot.prepared_on}, after its use on {used}"
        raise ValueRefused(field=field, label=f"{noun} lot", value=lot.code, rule=rule)


def check_day(value, *, field, label):
    """Refuse a day after today for what is said to have happened."""
    if value is not None and value > timezone.localdate():
        raise ValueRefused(field=field, label=label, value=value, rule="is in the future")


def check_time(value, *, field, label):
    """Refuse what is said to have happened more than a day from now."""
    if value is not None and value > timezone.now() + AHEAD:
        said = f"{timezone.localtime(value):%Y-%m-%d %H:%M}"
        raise ValueRefused(field=field, label=label, value=said, rule="lies in the future: check day and year")
