"""Coupons: logged with a code that is never reused, split, moved from state to state, amended."""

from django.utils import timezone
from stdnum.iso7064 import mod_37_36

from labrecords.actions import analyses, projects
from labrecords.actions.laboratory import check_scheme
from labrecords.actions.rows import hold, refuse_if_changed, write
from labrecords.errors import LaboratoryMissing, MistypedCode, NotFromThisState, UnknownCode, ValueRefused
from labrecords.models import Coupon, Laboratory, TestRun
from labrecords.models.coupon import CLOSED, MOVES, STATES
from labrecords.trail import verb
from labrecords.visibility import visible

AMENDABLE = ("mark", "position", "orientation", "length_mm", "width_mm", "exposed_area_mm2", "marked_face", "place",
             "project", "remark")  # fmt: skip


@verb
def log(*, by, why="logged", lot, count=1, marks=(), positions=(), **fields):
    """New coupons cut from a lot's sheet; one mark and one position a coupon where given. Returns a list."""
    return _make(by, count, lot=lot, marks=marks, positions=positions, **fields)


@verb
def split(*, by, why="split", coupon, pieces, consume=True):
    """Cut a coupon into pieces: children with their own codes, and the parent consumed. `pieces`: one dict a child."""
    coupon = _locked(coupon)
    if coupon.state in CLOSED:
        raise NotFromThisState(
            field="coupon", noun="Coupon", code=coupon.code, state=STATES[coupon.state], target="split"
        )
    if not pieces:
        raise ValueRefused(field="pieces", label="Pieces", value="0", rule="is too few")
    children = []
    for piece in pieces:
        details = {
            "project": coupon.project,
            "place": coupon.place,
            "orientation": coupon.orientation,
        } | piece
        children += _make(by, 1, lot=coupon.lot, parent=coupon, **details)
        projects.keep_together(children[-1], coupon)
    if consume:
        coupon.state = "consumed"
        write(coupon)
    return children


@verb
def move(*, by, why, coupon, state):
    """Another state, with a reason; what is consumed or discarded stays so."""
    coupon = _locked(coupon)
    if state not in MOVES.get(coupon.state, ()):
        raise NotFromThisState(
            field="state",
            noun="Coupon",
            code=coupon.code,
            state=STATES[coupon.state],
            target=STATES.get(state, state),
        )
    coupon.state = state
    return write(coupon)


@verb
def amend(*, by, why, coupon, seen=None, **changes):
    """Correct what is stored of a coupon; the earlier values stay in its history. `seen`: see `refuse_if_changed`."""
    unknown = set(changes) - set(AMENDABLE)
    if unknown:
        raise ValueRefused(field=min(unknown), label=min(unknown), value="", rule="cannot be amended")
    coupon = _locked(coupon)
    refuse_if_changed(coupon, seen)
    project_id = coupon.project_id
    for field, value in changes.items():
        setattr(coupon, field, value)
    if coupon.project_id != project_id:
        projects.check_ties(coupon)
    write(coupon)
    analyses.refresh(by=by, runs=TestRun.objects.filter(coupon=coupon))
    return coupon


def find(code, *, by=None) -> Coupon:
    """The coupon with this code, for somebody who may see it; one whose check character does not fit is mistyped."""
    if isinstance(code, Coupon):
        return code
    text = str(code or "").strip().upper()
    coupon = visible(Coupon.objects.filter(code=text), by).first()
    if coupon is None and not has_valid_check_character(text):
        raise MistypedCode(value=text)
    if coupon is None:
        raise UnknownCode(field="coupon", noun="coupon", value=text)
    return coupon


def has_valid_check_character(code: str) -> bool:
    return mod_37_36.is_valid(_characters(code))


def with_check_character(code: str) -> str:
    """ISO 7064 Mod 37,36 over letters and digits; it finds every single wrong or swapped neighbouring character."""
    return f"{code}-{mod_37_36.calc_check_digit(_characters(code))}"


def _characters(code):
    return "".join(character for character in code.upper() if character.isascii() and character.isalnum())


def _make(by, count, *, lot, marks=(), positions=(), **fields):
    if count < 1 or count > 500:
        raise ValueRefused(field="count", label="Number of coupons", value=count, rule="is not between 1 and 500")
    lab = Laboratory.objects.select_for_update(no_key=True).first()
    if lab is None:
        raise LaboratoryMissing()
    check_scheme(lab.coupon_scheme)  # an earlier release let any in
    made = []
    for index in range(count):
        lab.last_coupon_number += 1
        plain = lab.coupon_scheme.format(
            site=lab.site, year=timezone.localdate().year % 100, number=lab.last_coupon_number
        ).upper()
        own = dict(fields)
        if index < len(marks):
            own["mark"] = marks[index]
        if index < len(positions):
            own["position"] = positions[index]
        made.append(write(Coupon(code=with_check_character(plain), number=lab.last_coupon_number, lot=lot, **own), by))
    write(lab)
    return made


def _locked(coupon):
    return hold([coupon.pk])[0]
