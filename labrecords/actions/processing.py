"""What was really done to which coupons, step by step; a value outside tolerance needs a reason."""

from analysis import TREATED
from labrecords import access
from labrecords.actions import analyses
from labrecords.actions.lots import check_lot, check_time
from labrecords.actions.rows import hold, write
from labrecords.errors import CouponConsumed, DeviationNeedsReason, ReasonMissing, ValueRefused
from labrecords.models import Deviation, ProcessedCoupon, ProcessLot, ProcessRecord, TestRun
from labrecords.models.coupon import CLOSED, STATES
from labrecords.trail import verb

FINISHED = "step finished"


@verb
def record(
    *, by, why="step done", batch, step, coupons, started_at, finished_at=None, actual=None, operator=None,
    bath_lots=(), lubricant_lots=(), masses=None, rack=None, remark="", reasons=None,
):  # fmt: skip
    """One step done to coupons of a batch.

    `actual`: {field key: value}; `reasons`: {field key: reason} for values outside tolerance; `masses`:
    {coupon code: (before mg, after mg)}; `rack`: {coupon code: position}.
    """
    if step.revision_id != batch.recipe_revision_id:
        raise ValueRefused(field="step", label="Step", value=step, rule=f"is not of {batch.recipe_revision}")
    operator = operator or by
    access.check_measures(operator, field="operator")
    held = {coupon.pk: coupon for coupon in hold([coupon.pk for coupon in coupons])}
    coupons = [held[coupon.pk] for coupon in coupons]
    kind = step.declaration
    actual = {key: kind.field(key).checked(value) for key, value in (actual or {}).items() if value not in (None, "")}
    process = write(
        ProcessRecord(batch=batch, step=step, operator=operator, started_at=started_at, finished_at=finished_at,
                      actual=actual, remark=remark), by,
    )  # fmt: skip
    _check_times(process)
    _coupons(by, process, coupons, masses or {}, rack or {})
    for lot in bath_lots:
        check_lot(lot, "Bath", used_at=process.started_at, field="bath_lots")
        write(ProcessLot(process=process, bath_lot=lot), by)
    for lot in lubricant_lots:
        check_lot(lot, "Lubricant", used_at=process.started_at, field="lubricant_lots")
        write(ProcessLot(process=process, lubricant_lot=lot), by)
    _deviations(by, process, reasons or {})
    analyses.refresh(by=by, runs=TestRun.objects.filter(coupon__in=coupons))
    return process


@verb
def finish(
    *, by, why=FINISHED, process, finished_at, actual=None, reasons=None, masses=None, remark="",
):  # fmt: skip
    """The end of a step that was started before, with its actual values, masses (see `record`) and remark.

    A value that was stored at the start becomes another only with a reason.
    """
    hold(process.processed.values("coupon"))
    process = ProcessRecord.objects.select_for_update(no_key=True).get(pk=process.pk)
    if process.finished_at is not None:
        raise ValueRefused(field="finished_at", label="Step", value=process.step, rule="has been finished already")
    kind = process.step.declaration
    actual = {key: kind.field(key).checked(value) for key, value in (actual or {}).items() if value not in (None, "")}
    explained = {key for key, reason in (reasons or {}).items() if str(reason).strip()}
    is_change = _overwrites(process, actual, masses or {}, explained)
    process.finished_at, process.actual = finished_at, process.actual | actual
    process.remark = "\n".join(text for text in (process.remark, remark.strip()) if text)
    write(process)
    _check_times(process)
    _weighed(process, masses or {})
    _deviations(by, process, reasons or {})
    if is_change and why == FINISHED:
        raise ReasonMissing()
    _move_on(process)
    return process


@verb
def note_deviation(*, by, why="deviation noted", batch, what, reason, impact="", process=None):
    """Something that was not as planned: of the whole batch, or of one step done to it."""
    if process is not None and process.batch_id != batch.pk:
        raise ValueRefused(field="process", label="Record of a step", value=process, rule=f"is not of batch {batch}")
    return write(Deviation(batch=batch, process=process, what=what, reason=reason, impact=impact), by)


def _check_times(process):
    check_time(process.started_at, field="started_at", label="Started at")
    check_time(process.finished_at, field="finished_at", label="Finished at")


def _coupons(by, process, coupons, masses, rack):
    members = set(process.batch.members.filter(role=TREATED).values_list("coupon_id", flat=True))
    if not coupons:
        raise ValueRefused(field="coupons", label="Coupons", value="none", rule="is too few")
    for coupon in coupons:
        if coupon.pk not in members:
            raise ValueRefused(
                field="coupons",
                label="Coupon",
                value=coupon.code,
                rule=f"is not a treated coupon of {process.batch}",
            )
        if coupon.state in CLOSED:
            raise CouponConsumed(coupon=coupon.code, state=STATES[coupon.state])
        before, after = masses.get(coupon.code, (None, None))
        write(
            ProcessedCoupon(process=process, coupon=coupon, mass_before_mg=before, mass_after_mg=after,
                            rack_position=rack.get(coupon.code, "")), by,
        )  # fmt: skip
    _move_on(process)


def _overwrites(process, actual, masses, explained):
    """Whether a stored actual value or mass becomes another one; a deviation's own reason explains its value."""
    pairs = [(process.actual.get(key), value) for key, value in actual.items() if key not in explained]
    for row in process.processed.filter(coupon__code__in=masses).select_related("coupon"):
        pairs += zip((row.mass_before_mg, row.mass_after_mg), masses[row.coupon.code], strict=True)
    return any(None not in (stored, given) and stored != given for stored, given in pairs)


def _weighed(process, masses):
    for row in process.processed.filter(coupon__code__in=masses).select_related("coupon"):
        before, after = masses[row.coupon.code]
        row.mass_before_mg = row.mass_before_mg if before is None else before
        row.mass_after_mg = row.mass_after_mg if after is None else after
        write(row)


def _move_on(process):
    """In process until the last step of the recipe is finished, then ready."""
    last = process.step.order == max(process.step.revision.steps.values_list("order", flat=True))
    state = "ready" if last and process.finished_at else "in_process"
    for coupon in hold(process.processed.values("coupon")):
        if coupon.state in ("in_stock", "in_process", "ready") and coupon.state != state:
            coupon.state = state
            write(coupon)


def _deviations(by, process, reasons):
    recipe = str(process.step.revision)
    for row in process.rows:
        if row["within"] is not False:
            continue
        reason = str(reasons.get(row["key"], "")).strip()
        details = {"label": f"{process.step.name}: {row['label']}", "value": f"{row['actual']:g}", "unit": row["unit"],
                   "low": f"{row['low']:g}", "high": f"{row['high']:g}", "recipe": recipe}  # fmt: skip
        what = "{label} {value} {unit}, planned {low} to {high} {unit}".format(**details)
        if process.deviations.filter(what=what).exists():  # explained when the step was started
            continue
        if not reason:
            raise DeviationNeedsReason(field=row["key"], **details)
        write(Deviation(batch=process.batch, process=process, what=what, reason=reason), by)
