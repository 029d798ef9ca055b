"""Everything that was not as planned: recorded by people, or told by the records themselves."""

from django.utils import timezone

from analysis import DOES_NOT_HOLD, SCOPE_CHECKS, TREATED
from labrecords.actions.evidence.stored import day, moment, title_of
from labrecords.actions.evidence.testing import calibration_of
from labrecords.actions.instruments import doubt_of


def of(stored) -> list[dict]:
    """Dicts with what, reason, impact and concerns, in the order of treatment, testing and review."""
    found = [_recorded(row) for row in _rows(stored)]
    for ask in (
        _steps_not_done,
        _values_not_recorded,
        _lots_out_of_date,
        _conditions,
        _other_than_method,
        _outside_scope,
        _calibrations,
        _in_doubt,
        _criteria_fixed_late,
        _not_tested,
        _not_reviewed,
    ):
        found.extend(ask(stored))
    return found


def _told(what, concerns="", reason="told by the records", impact=""):
    return {"what": what, "concerns": concerns, "reason": reason, "impact": impact}


def _rows(stored):
    return stored.batch.deviations.select_related("process__step", "created_by")


def _recorded(row):
    where = f"step {row.process.step}" if row.process else "batch"
    return _told(
        row.what,
        f"{where}; noted by {row.created_by.full_name}, {moment(row.created_at)}",
        row.reason,
        row.impact,
    )


def _steps_not_done(stored):
    treated = {pk for pk, role in stored.roles.items() if role == TREATED}
    for step in stored.steps:
        done = {
            row.coupon_id
            for process in stored.processes
            if process.step_id == step.pk
            for row in process.processed.all()
        }
        if treated - done:
            yield _told(f"No record that step {step} was done", stored.names(treated - done))


def _values_not_recorded(stored):
    for process in stored.processes:
        labels = [row["label"] for row in process.rows if row["actual"] is None]
        if labels:
            yield _told(
                f"Step {process.step}: planned, but no actual value recorded: {', '.join(labels)}",
                f"record of {moment(process.started_at)}",
            )
        if process.finished_at is None:
            yield _told(f"Step {process.step}: no end recorded", f"record of {moment(process.started_at)}")


def _lots_out_of_date(stored):
    for process in stored.processes:
        used = timezone.localtime(process.started_at).date()
        for use in process.lots.all():
            lot = use.bath_lot or use.lubricant_lot
            if lot.expires_on and lot.expires_on < used:
                yield _told(
                    f"Lot {lot} was used on {used}, after its last day {lot.expires_on}",
                    f"step {process.step}",
                )


def _conditions(stored):
    for reason, runs in _by(stored.runs, lambda run: run.not_recorded).items():
        yield _told("A condition of the run was not recorded", _codes(runs), reason)


def _other_than_method(stored):
    for what, runs in _by(stored.runs, _difference).items():
        yield _told(what, _codes(runs))


def _difference(run):
    version, parts = run.method_version, []
    if version.drop_volume_ul and run.drop_volume_ul and version.drop_volume_ul != run.drop_volume_ul:
        parts.append(f"drop volume {run.drop_volume_ul:g} µL instead of {version.drop_volume_ul:g} µL")
    if version.liquid_id and run.liquid_lot_id and run.liquid_lot.liquid_id != version.liquid_id:
        parts.append(f"liquid {run.liquid_lot.liquid} instead of {version.liquid}")
    return f"{version}: {' and '.join(parts)}" if parts else ""


def _outside_scope(stored):
    """A standard's own limits against what the coupon is."""
    found = {}
    for code, result in stored.results.items():
        for check in result.checks:
            if check.key in SCOPE_CHECKS and check.outcome == DOES_NOT_HOLD:
                found.setdefault(f"{check.title}: {check.why}", []).append(code)
    for what, codes in found.items():
        yield _told(what, ", ".join(codes), impact="the result is outside what the cited method covers")


def _calibrations(stored):
    for what, runs in _by(stored.runs, _calibration).items():
        yield _told(what, _codes(runs))


def _calibration(run):
    if run.instrument is None:
        return ""
    when = timezone.localtime(run.observed_at).date()
    last = calibration_of(run.instrument, when)
    if last is None:
        return f"Instrument {run.instrument.code}: no calibration on record before it was used"
    return (
        f"Instrument {run.instrument.code}: used after its calibration was due on {last.due_on}"
        if when > last.due_on
        else ""
    )


def _in_doubt(stored):
    for what, runs in _by(stored.runs, _doubt).items():
        yield _told(what, _codes(runs))


def _doubt(run):
    doubt = doubt_of(run)
    if doubt is None:
        return ""
    start, end = doubt
    until = f"until it was put back on {moment(end)}" if end else "on"
    return f"Instrument {run.instrument.code} was taken out of service; its readings are in doubt from {start} {until}"


def _criteria_fixed_late(stored):
    """Limits are fixed before the first test, by the day they name and by the day they were entered here."""
    revision = stored.revision
    first = min(stored.runs, key=lambda run: run.observed_at)
    tested, entered = moment(first.observed_at), moment(revision.created_at)
    if day(revision.fixed_on) > tested[:10]:
        what = f"{revision} was fixed on {day(revision.fixed_on)}, after the first run of {tested}"
        yield _told(what, first.code)
    stored_first = min(stored.runs, key=lambda run: run.created_at)
    if revision.created_at > stored_first.created_at:
        what = f"after the first run, entered on {moment(stored_first.created_at)}"
        yield _told(f"{revision} was entered on {entered}, {what}", stored_first.code)
    elif entered > tested:
        what = f"after the first run of {tested}, though before that run was entered"
        yield _told(f"{revision} was entered on {entered}, {what}", first.code)


def _not_tested(stored):
    tested = {run.coupon_id for run in stored.runs}
    left = {pk for pk, role in stored.roles.items() if role == TREATED} - tested
    if left:
        yield _told("Treated coupons without a completed run", stored.names(left))
    yield from _not_in_group(stored, tested)


def _not_in_group(stored, tested):
    """Coupons read in other ways but not in this one: the reader must see that a result leaves them out."""
    codes = {coupon.code: pk for pk, coupon in stored.coupons.items()}
    for group in stored.groups:
        same = {pk for pk, role in stored.roles.items() if role == group.role} & tested
        missing = same - {codes[code] for code in group.coupons}
        if missing:
            yield _told(f"Not every coupon was tested: {title_of(group)}", stored.names(missing))


def _not_reviewed(stored):
    runs = [run for run in stored.runs if not run.is_locked]
    if runs:
        yield _told(f"{len(runs)} of {len(stored.runs)} runs have not been reviewed by a second person", _codes(runs))


def _by(runs, key):
    """Runs by what is said of them; nothing is said of a run whose key is empty."""
    found = {}
    for run in runs:
        found.setdefault(key(run), []).append(run)
    found.pop("", None)
    return found


def _codes(runs):
    return ", ".join(run.code for run in runs)
