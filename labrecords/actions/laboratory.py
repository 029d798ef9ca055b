"""The lab's own data: name, address, how coupon codes are made."""

from labrecords.actions.rows import write
from labrecords.errors import ValueRefused
from labrecords.models import Laboratory
from labrecords.trail import verb


@verb
def set_up(*, by, why="the lab's data", name, address, site, coupon_scheme=None):
    lab = Laboratory.objects.select_for_update(no_key=True).first() or Laboratory(id=1)
    lab.name, lab.address, lab.site = name, address, site.upper()
    if coupon_scheme:
        lab.coupon_scheme = coupon_scheme
    try:
        lab.coupon_scheme.format(site=lab.site, year=0, number=0)
    except (KeyError, ValueError, IndexError):
        raise ValueRefused(
            field="coupon_scheme", label="Coupon code scheme", value=lab.coupon_scheme,
            rule="may use {site}, {year} and {number} only",
        ) from None  # fmt: skip
    return write(lab, by)
