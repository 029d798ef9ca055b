"""What the page of a run shows beside its grid: conditions, readings with corrections, results, history."""

from analysis import QUANTITIES
from labrecords.actions.evidence.stored import moment
from labrecords.history import reading_in_words as text
from labrecords.reports import figures, svg
from labrecords.web import grid, results
from labrecords.web.history import history


def all_readings(run):
    """Every row, replaced ones too, in one query."""
    return list(run.readings.select_related("created_by", "excluded_by"))


def context(by, run, rows, current):
    stored = run.analyses.filter(is_current=True).first()
    content = stored.content if stored else None
    return {
        "conditions": conditions(run),
        "late": run.late_by(rows),
        "readings": with_corrections(rows, current),
        "statistics": [results.statistic(row) for row in content["statistics"]] if content else [],
        "checks": [results.check(row) for row in content["checks"]] if content else [],
        "figure": figure(run, content, current),
        "history": history(by, run)[::-1],
        "analysis": stored,
    }


def conditions(run):
    """(label, text) of everything that the readings were taken under."""
    names = ", ".join(str(row.person) for row in run.operators.select_related("person"))
    liquid = run.liquid_lot and f"{run.liquid_lot.liquid}, lot {run.liquid_lot.code}"
    numbers = [
        (str(run._meta.get_field(name).verbose_name), getattr(run, name))
        for name in ("drop_volume_ul", "room_temperature_c", "room_humidity_pct")
    ]
    dose = f"{run.dose_text} of {run.exposure_text}" if run.exposure_text and run.dose else run.dose_text
    pairs = [("method", run.method_version), ("liquid", liquid)]
    pairs += [(label, None if value is None else f"{value:g}") for label, value in numbers]
    pairs += [
        ("instrument", run.instrument),
        ("dose", dose),
        *_exposed(run),
        ("observed at", moment(run.observed_at)),
        ("entered at", moment(run.created_at)),
        ("operators", names),
    ]
    pairs += [("not recorded because", run.not_recorded), ("remark", run.remark)]
    return [(label[:1].upper() + label[1:], value) for label, value in pairs if value not in (None, "")]


def _exposed(run):
    for label, value in run.exposure_rows:
        yield f"exposure, {label[:1].lower()}{label[1:]}", f"{value:g}" if isinstance(value, float) else value


def with_corrections(rows, current):
    """Current readings in the order of the drops, each with the rows it replaced, newest first."""
    by_pk = {row.pk: row for row in rows}
    shown = []
    for row in sorted(current, key=lambda row: (grid.natural((row.position, str(row.drop), row.direction)), row.pk)):
        earlier, old = [], by_pk.get(row.replaces_id)
        while old is not None:
            earlier.append({"text": text(old), "reading": old})
            old = by_pk.get(old.replaces_id)
        shown.append({"reading": row, "quantity": QUANTITIES[row.quantity], "text": text(row), "earlier": earlier})
    return shown


def figure(run, content, current):
    if not content or not current:
        return ""
    rows = [
        {"quantity": row.quantity, "value": row.value, "qualifier": row.qualifier, "position": row.position,
         "drop": row.drop, "excluded": row.is_excluded}
        for row in sorted(current, key=lambda row: grid.natural((row.position, str(row.drop), row.direction)))
    ]  # fmt: skip
    return svg.to_svg(figures.run_readings(content, rows), f"Readings of run {run.code}, coupon {run.coupon.code}")
