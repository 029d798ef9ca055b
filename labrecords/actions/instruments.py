"""Instruments: added, calibrated, taken out of service with everything that they cast doubt on."""

from operator import attrgetter

from django.db.models import Q
from django.utils import timezone

from labrecords.actions import analyses
from labrecords.actions.lots import check_day
from labrecords.actions.rows import write
from labrecords.errors import InstrumentOutOfService, ValueRefused
from labrecords.models import Calibration, Instrument, Qualification, TestRun
from labrecords.trail import verb
from labrecords.visibility import visible


@verb
def create(*, by, why="new instrument", **fields):
    return write(Instrument(**fields), by)


@verb
def calibrate(*, by, why="calibrated", instrument, **fields):
    row = write(Calibration(instrument=instrument, **fields), by)
    check_day(row.done_on, field="done_on", label="Done on")
    analyses.refresh(by=by, runs=TestRun.objects.filter(instrument=instrument))
    return row


@verb
def withdraw(*, by, why, instrument, in_doubt_from):
    """Take it out of service: no new readings from that day on, and what was read since is listed (`affected`).

    While it is out of service already, an earlier day puts more readings in doubt; a later one would free some.
    """
    instrument = Instrument.objects.select_for_update(no_key=True).get(pk=instrument.pk)
    if in_doubt_from is None:
        raise ValueRefused(field="in_doubt_from", label="Readings in doubt from", value="", rule="is missing")
    since = None if instrument.is_in_service else instrument.in_doubt_from
    instrument.is_in_service, instrument.in_doubt_from = False, in_doubt_from
    write(instrument)
    label = "Readings in doubt from"
    check_day(instrument.in_doubt_from, field="in_doubt_from", label=label)
    if since is not None and instrument.in_doubt_from > since:
        rule = f"is after {since}, from which on they are in doubt already"
        raise ValueRefused(field="in_doubt_from", label=label, value=instrument.in_doubt_from, rule=rule)
    return instrument


@verb
def put_back(*, by, why, instrument):
    """Into service again, for example repaired and calibrated. What was read in doubt until now stays so."""
    instrument = Instrument.objects.select_for_update(no_key=True).get(pk=instrument.pk)
    if instrument.is_in_service:
        raise ValueRefused(field="instrument", label="Instrument", value=instrument.code, rule="is in service")
    instrument.is_in_service = True
    return write(instrument)


def check_in_service(instrument, observed_at):
    """Refuse a reading with an instrument that is out of service."""
    if instrument is None or instrument.is_in_service:
        return
    if timezone.localtime(observed_at).date() >= instrument.in_doubt_from:
        raise InstrumentOutOfService(instrument=instrument.code, since=instrument.in_doubt_from)


def doubts(instrument):
    """The periods in which its readings are in doubt, oldest first: (first day, moment it was put back or None).

    The row knows the last withdrawal only; the trail has each of them. Prefetch `events` for more than one instrument.
    """
    periods, since = [], None
    for event in sorted(instrument.events.all(), key=attrgetter("pgh_id")):
        if not event.is_in_service:
            since = min(since or event.in_doubt_from, event.in_doubt_from)
        elif since is not None:
            periods.append((since, event.pgh_created_at))
            since = None
    return periods if since is None else [*periods, (since, None)]


def doubt_of(run):
    """The first period of doubt of its instrument in which the run was read, or None."""
    if run.instrument is None:
        return None
    day = timezone.localtime(run.observed_at).date()
    for start, end in doubts(run.instrument):
        if day >= start and (end is None or run.observed_at < end):
            return start, end
    return None


def affected(instrument, *, by=None):
    """Runs read with it while it is in doubt, and reports that rest on one of them; nothing when it is in no doubt.

    `by`: who looks; without a person, what is open to the lab.
    """
    during = Q()
    for start, end in doubts(instrument):
        during |= Q(observed_at__date__gte=start, observed_at__lt=end) if end else Q(observed_at__date__gte=start)
    if not during:
        return TestRun.objects.none(), Qualification.objects.none()
    runs = instrument.runs.filter(during).with_names()
    reports = Qualification.objects.filter(batch__members__coupon__runs__in=runs.values("pk")).distinct()
    runs, reports = visible(runs, by), visible(reports, by)
    return runs, reports.select_related("batch", "issued_by").defer("file", "evidence")
