"""Batches: coupons that share substrate lot, recipe revision and treatment."""

from analysis import CONTROL, REFERENCE, TREATED
from labrecords.actions import analyses, projects
from labrecords.actions.rows import hold, refuse_if_changed, write
from labrecords.errors import CouponConsumed, ValueRefused
from labrecords.models import Batch, BatchMember, TestRun
from labrecords.models.coupon import CLOSED, STATES
from labrecords.trail import verb


@verb
def form(*, by, why="batch formed", code, recipe_revision, lot, treated, control=(), reference=(), **fields):
    """A batch with its members. Treated coupons must be of the batch's substrate lot."""
    groups = ((TREATED, treated), (CONTROL, control), (REFERENCE, reference))
    stored = {coupon.pk: coupon for coupon in hold([coupon.pk for _, coupons in groups for coupon in coupons])}
    batch = write(Batch(code=code, recipe_revision=recipe_revision, lot=lot, **fields), by)
    for role, coupons in groups:
        for coupon in coupons:
            _join(by, batch, stored[coupon.pk], role)
    projects.take_in(stored.values(), batch)
    analyses.refresh(by=by, runs=TestRun.objects.for_batch(batch))
    return batch


AMENDABLE = ("title", "treatment", "sampling", "remark")


@verb
def amend(*, by, why, batch, seen=None, **changes):
    """Correct or complete the words about a batch; the earlier ones stay in its history. `seen`: as of a coupon."""
    if unknown := set(changes) - set(AMENDABLE):
        raise ValueRefused(field=min(unknown), label=min(unknown), value="", rule="cannot be amended")
    batch = Batch.objects.select_for_update(no_key=True, of=("self",)).get(pk=batch.pk)
    refuse_if_changed(batch, seen)
    for field, value in changes.items():
        setattr(batch, field, value)
    return write(batch)


@verb
def join(*, by, why, batch, coupon, role):
    """One more coupon, with the reason (further coupons after an inconclusive outcome, a second control …)."""
    [coupon] = hold([coupon.pk])
    member = _join(by, batch, coupon, role)
    projects.take_in([coupon], batch)
    analyses.refresh(by=by, runs=TestRun.objects.filter(coupon=coupon))
    return member


def _join(by, batch, coupon, role):
    if coupon.state in CLOSED:
        raise CouponConsumed(coupon=coupon.code, state=STATES[coupon.state])
    if role == TREATED and coupon.lot_id != batch.lot_id:
        raise ValueRefused(
            field="coupon",
            label="Coupon",
            value=coupon.code,
            rule=f"is not of the batch's substrate lot {batch.lot.code}",
        )
    return write(BatchMember(batch=batch, coupon=coupon, role=role), by)
