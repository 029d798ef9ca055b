"""An instrument taken out of service: no new readings, and everything that it casts doubt on is listed."""

from datetime import date, datetime, timedelta
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from labrecords.actions import instruments
from labrecords.actions.evidence.stored import Stored
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


# ---- periods of doubt -----------------------------------------------------------------------------------


def put_back(by, instrument):
    return instruments.put_back(by=by, why="axis renewed and calibrated", instrument=instrument)


def told_of(report, instrument):
    return [row for row in report.evidence["deviations"] if row["what"].startswith(f"Instrument {instrument.code} was")]


def test_doubt_from_a_day_to_come_is_refused(by):
    rig, today = make_instrument(by), timezone.localdate()
    with pytest.raises(ValueRefused, match="is in the future") as refused:
        instruments.withdraw(by=by, why="broken", instrument=rig, in_doubt_from=today + timedelta(days=1))
    assert refused.value.field == "in_doubt_from"
    rig.refresh_from_db()
    assert rig.is_in_service
    assert instruments.withdraw(by=by, why="broken", instrument=rig, in_doubt_from=today).in_doubt_from == today


def test_what_is_read_after_it_was_put_back_is_in_no_doubt(by):
    batch = make_tested_batch(by, n=3, drops=3, read_at=timezone.now() + timedelta(hours=1))
    rig = TestRun.objects.filter(coupon__memberships__batch=batch).first().instrument
    earlier = make_run(by, instrument=rig, observed_at=at(3))
    same_day = make_run(by, instrument=rig, observed_at=timezone.now())
    put_back(by, withdrawn(by, rig, day=1))
    runs, reports = instruments.affected(rig)
    assert set(runs) == {earlier, same_day}
    report = issue_report(batch, make_criteria(by))
    assert told_of(report, rig) == []
    assert list(reports.all()) == []


def test_report_says_until_when_its_readings_were_in_doubt(by):
    batch = make_tested_batch(by, n=3, drops=3)
    rig = TestRun.objects.filter(coupon__memberships__batch=batch).first().instrument
    put_back(by, withdrawn(by, rig))
    [(_, end)] = instruments.doubts(rig)
    [told] = told_of(issue_report(batch, make_criteria(by)), rig)
    ended = f"{timezone.localtime(end):%Y-%m-%d %H:%M}"
    assert told["what"].endswith(f"its readings are in doubt from 2026-03-02 until it was put back on {ended}")


def test_readings_in_doubt_stay_so_after_a_second_withdrawal_from_a_later_day(by, client):
    batch = make_tested_batch(by, n=3, drops=3)
    read = set(TestRun.objects.filter(coupon__memberships__batch=batch))
    rig = next(iter(read)).instrument
    before = make_run(by, instrument=rig, observed_at=at(1))
    put_back(by, withdrawn(by, rig))
    later = make_run(by, instrument=rig, observed_at=timezone.now() + timedelta(hours=1))
    rig = instruments.withdraw(by=by, why="dropped", instrument=rig, in_doubt_from=timezone.localdate())
    runs, _ = instruments.affected(rig)
    assert set(runs) == read | {later}
    assert before not in runs
    report = issue_report(batch, make_criteria(by))
    assert len(told_of(report, rig)) == 1
    client.force_login(by)
    for page in (reverse("instruments"), reverse("instrument-affected", args=[rig.code])):
        text = client.get(page).content.decode()
        assert "from <strong>2026-03-02</strong> until it was put back on" in text
        assert f"and from <strong>{timezone.localdate()}</strong> on" in text


def test_while_it_is_out_of_service_no_reading_is_freed(by):
    rig = withdrawn(by, make_instrument(by), day=4)
    with pytest.raises(ValueRefused, match="is after 2026-03-04, from which on they are in doubt already"):
        withdrawn(by, rig, day=5)
    assert instruments.doubts(withdrawn(by, rig, day=2)) == [(date(2026, 3, 2), None)]


def test_periods_come_from_the_trail_and_a_later_day_in_it_frees_nothing():
    """As the trail may hold them from before such a day was refused."""
    said = [(True, None), (False, 5), (False, 7), (True, 7), (True, 7), (False, 20), (True, 20), (False, 25)]
    events = [
        SimpleNamespace(
            pgh_id=number,
            is_in_service=is_in_service,
            in_doubt_from=day and date(2026, 3, day),
            pgh_created_at=at(number + 10),
        )
        for number, (is_in_service, day) in enumerate(said)
    ]
    rig = SimpleNamespace(events=SimpleNamespace(all=lambda: events[::-1]))
    periods = [(date(2026, 3, 5), at(13)), (date(2026, 3, 20), at(16)), (date(2026, 3, 25), None)]
    assert instruments.doubts(rig) == periods
    doubtful = [
        day for day in range(1, 31) if instruments.doubt_of(SimpleNamespace(instrument=rig, observed_at=at(day, 8)))
    ]
    assert doubtful == [*range(5, 14), *range(25, 31)]


def test_instruments_of_a_batch_are_asked_for_in_one_query(by):
    def asked(rigs):
        batch = make_tested_batch(by, n=2, drops=2)
        for _ in range(rigs):
            run = make_run(by, coupon=batch.members.first().coupon)
            put_back(by, withdrawn(by, run.instrument))
        with CaptureQueriesContext(connection) as queries:
            runs = Stored(batch, None).all_runs
            assert sum(instruments.doubt_of(run) is not None for run in runs) == rigs
        return len(queries)

    assert asked(1) == asked(5)
