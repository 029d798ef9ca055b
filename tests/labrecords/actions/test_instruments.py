"""An instrument taken out of service: no new readings, and everything that it casts doubt on is listed."""

from datetime import date, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from labrecords.actions import instruments
from labrecords.errors import InstrumentOutOfService, ValueRefused
from labrecords.models import TestRun
from tests.factories import issue_report, make_criteria, make_instrument, make_person, make_run, make_tested_batch

pytestmark = pytest.mark.django_db


@pytest.fixture
def by():
    return make_person("quality")


def at(day, hour=9):
    return timezone.make_aware(datetime(2026, 3, day, hour))


def withdrawn(by, instrument, day=2):
    return instruments.withdraw(
        by=by, why="the tilt axis had play", instrument=instrument, in_doubt_from=date(2026, 3, day)
    )


def test_runs_and_reports_since_the_last_good_check_are_listed(by, client):
    batch = make_tested_batch(by, n=3, drops=3)
    report = issue_report(batch, make_criteria(by))
    read = TestRun.objects.filter(coupon__memberships__batch=batch)
    rig = read.first().instrument
    other = make_run(by)
    earlier = make_run(by, instrument=rig, observed_at=at(1))
    rig = withdrawn(by, rig)
    runs, reports = instruments.affected(rig)
    assert set(runs) == set(read.filter(instrument=rig))
    assert earlier not in runs
    assert other not in runs
    assert list(reports) == [report]
    client.force_login(by)
    page = client.get(reverse("instrument-affected", args=[rig.code])).content.decode()
    assert report.report_number in page
    assert all(run.code in page for run in runs)
    assert earlier.code not in page


def test_no_new_reading_while_it_is_out_of_service(by):
    rig = withdrawn(by, make_instrument(by))
    with pytest.raises(InstrumentOutOfService, match="2026-03-02"):
        make_run(by, instrument=rig, observed_at=at(3))
    make_run(by, instrument=rig, observed_at=at(1))  # read before, entered late
    instruments.put_back(by=by, why="axis renewed and calibrated", instrument=rig)
    rig.refresh_from_db()
    make_run(by, instrument=rig, observed_at=at(4))


def test_report_issued_later_says_which_readings_are_in_doubt(by):
    batch = make_tested_batch(by, n=3, drops=3)
    rig = TestRun.objects.filter(coupon__memberships__batch=batch).first().instrument
    withdrawn(by, rig)
    report = issue_report(batch, make_criteria(by))
    told = [row["what"] for row in report.evidence["deviations"]]
    assert f"Instrument {rig.code} was taken out of service; its readings are in doubt from 2026-03-02 on" in told


def test_calibration_is_done_by_today_and_may_be_due_later(by):
    rig, today = instruments.create(by=by, code="RIG", title="Stage"), timezone.localdate()
    due = today + timedelta(days=365)
    with pytest.raises(ValueRefused, match="is in the future") as refused:
        instruments.calibrate(by=by, instrument=rig, done_on=today + timedelta(days=1), due_on=due, result="fine")
    assert refused.value.field == "done_on"
    assert not rig.calibrations.exists()
    assert instruments.calibrate(by=by, instrument=rig, done_on=today, due_on=due, result="fine").due_on == due


def test_withdrawing_asks_from_when(by):
    with pytest.raises(ValueRefused, match="missing"):
        instruments.withdraw(by=by, why="broken", instrument=make_instrument(by), in_doubt_from=None)
