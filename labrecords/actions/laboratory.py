"""The lab's own data: name, address, how coupon codes are made."""

import re
from string import Formatter

from labrecords.actions.rows import write
from labrecords.errors import ReasonMissing, ValueRefused
from labrecords.models import Laboratory
from labrecords.trail import verb

FIRST = "the lab's data"
WIDEST = 12  # digits of a year or a number


def _is_width(spec):
    """04d, 4d, 4 or nothing."""
    found = re.fullmatch(r"0?([1-9][0-9]?)?d?", spec, re.ASCII)
    return bool(found) and int(found[1] or 0) <= WIDEST


# What a scheme may use: how it is checked there.
FIELDS = {"site": lambda spec: not spec, "year": _is_width, "number": _is_width}


@verb
def set_up(*, by, why=FIRST, name, address, site, coupon_scheme=None):
    """Name, address and how coupons are coded; what is stored already changes only with a reason."""
    lab = Laboratory.objects.select_for_update(no_key=True).first() or Laboratory(id=1)
    said = {"name": name, "address": address, "site": site.upper(), "coupon_scheme": coupon_scheme or lab.coupon_scheme}
    check_scheme(said["coupon_scheme"])
    is_change = not lab._state.adding and any(getattr(lab, field) != value for field, value in said.items())
    if is_change and why == FIRST:
        raise ReasonMissing()
    for field, value in said.items():
        setattr(lab, field, value)
    return write(lab, by)


def check_scheme(scheme):
    """A scheme is a format, which could ask for a text of any length or for the inside of an object: few are let in."""
    try:
        parts = [part[1:] for part in Formatter().parse(scheme) if part[1] is not None]
    except ValueError:  # a brace too many
        parts = [("", "", None)]
    if not all(field in FIELDS and conversion is None and FIELDS[field](spec) for field, spec, conversion in parts):
        raise _refused(
            scheme, f"may use {{site}}, {{year}} and {{number}} only, each with a width of at most {WIDEST} digits"
        )
    if "number" not in [field for field, *_ in parts]:
        raise _refused(scheme, "has no {number}, so that all coupons would have the same code")


def _refused(scheme, rule):
    return ValueRefused(field="coupon_scheme", label="Coupon code scheme", value=scheme, rule=rule)
