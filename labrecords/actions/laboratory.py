"""The lab's own data: name, address, how coupon codes are made."""

from labrecords.actions.rows import write
from labrecords.errors import ReasonMissing, ValueRefused
from labrecords.models import Laboratory
from labrecords.trail import verb

FIRST = "the lab's data"


@verb
def set_up(*, by, why=FIRST, name, address, site, coupon_scheme=None):
    """Name, address and how coupons are coded; what is stored already changes only with a reason."""
    lab = Laboratory.objects.select_for_update(no_key=True).first() or Laboratory(id=1)
    said = {"name": name, "address": address, "site": site.upper(), "coupon_scheme": coupon_scheme or lab.coupon_scheme}
    is_change = not lab._state.adding and any(getattr(lab, field) != value for field, value in said.items())
    if is_change and why == FIRST:
        raise ReasonMissing()
    for field, value in said.items():
        setattr(lab, field, value)
    try:
        lab.coupon_scheme.format(site=lab.site, year=0, number=0)
    except (KeyError, ValueError, IndexError):
        raise ValueRefused(
            field="coupon_scheme", label="Coupon code scheme", value=lab.coupon_scheme,
            rule="may use {site}, {year} and {number} only",
        ) from None  # fmt: skip
    return write(lab, by)
