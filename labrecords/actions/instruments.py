"""Instruments: added, calibrated, taken out of service with everything that they cast doubt on."""

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
    """Take it out of service: no new readings from that day on, and what was read since is listed (`affected`)."""
    instrument = Instrument.objects.select_for_update(no_key=True).get(pk=instrument.pk)
    if in_doubt_from is None:
        raise ValueRefused(field="in_doubt_from", label="Readings in doubt from", value="", rule="is missing")
    instrument.is_in_service, instrument.in_doubt_from = False, in_doubt_from
    return write(instrument)


@verb
def put_back(*, by, why, instrument):
    """Into service again, for example repaired and calibrated. Readings taken in doubt stay so."""
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


def affected(instrument, *, by=None):
    """Runs read with it since it is in doubt, and reports that rest on one of them; nothing when it is in no doubt.

    `by`: who looks; without a person, what is open to the lab.
    """
    if instrument.in_doubt_from is None:
        return TestRun.objects.none(), Qualification.objects.none()
    runs = instrument.runs.filter(observed_at__date__gte=instrument.in_doubt_from).with_names()
    reports = Qualification.objects.filter(batch__members__coupon__runs__in=runs.values("pk")).distinct()
    runs, reports = visible(runs, by), visible(reports, by)
    return runs, reports.select_related("batch", "issued_by").defer("file", "evidence")
