"""Observed and entered are two times; what was entered late shows as late on page, list and report."""

import io
import re
from datetime import timedelta

import pytest
from django.db import connection
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from labrecords import trail
from labrecords.actions import qualifications, runs
from labrecords.models import Reading
from labrecords.models.run import LATE_AFTER, lateness
from tests.factories import (
    issue_report,
    make_person,
    make_run,
    make_shedding_criteria,
    make_tested_batch,
    sliding,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def person():
    return make_person("quality")


@pytest.mark.parametrize(
    ("delay", "words"),
    [
        (timedelta(0), ""),
        (LATE_AFTER, ""),
        (LATE_AFTER + timedelta(seconds=1), "24 h"),
        (timedelta(hours=50), "50 h"),
        (timedelta(days=12, hours=3), "12 d"),
        (timedelta(hours=-3), ""),  # an instrument's clock may be ahead
    ],
)
def test_late_is_later_than_a_day_after_observation(delay, words):
    now = timezone.now()
    assert lateness(now, now + delay) == words


def test_run_and_readings_entered_in_time_are_not_late(person):
    run = make_run(person, observed_at=timezone.now() - timedelta(hours=20))
    runs.record(by=person, run=run, readings=sliding([4]))
    assert run.late_by(run.readings.all()) == ""


def entered_later(reading):
    """Stored three days from now: the database stamps what comes in by its own clock, so its triggers are off."""
    with connection.cursor() as cursor:
        reading.save()
        cursor.execute("SET session_replication_role = replica")
        cursor.execute(
            "UPDATE labrecords_reading SET created_at = %s WHERE id = %s",
            [timezone.now() + timedelta(days=3), reading.pk],
        )
        cursor.execute("SET session_replication_role = DEFAULT")


def test_reading_entered_days_after_a_run_that_was_opened_in_time_is_late(client, person):
    run = make_run(person, observed_at=timezone.now() - timedelta(hours=1))
    with trail.recorded("tests", "a reading of three days later"):
        entered_later(Reading(run=run, quantity="sliding_angle", value=4.0, created_by=person))
    assert run.late_by(run.readings.all()) == "3 d"
    client.force_login(person)
    assert "entered late: 3 d after observation" in client.get(reverse("run", args=[run.code])).text
    assert "entered 3 d later" in client.get(reverse("runs")).text


def test_correction_is_no_late_entry(person):
    run = make_run(person, observed_at=timezone.now() - timedelta(hours=1))
    runs.record(by=person, run=run, readings=sliding([4]))
    with trail.recorded("tests", "a correction of three days later"):
        old = run.readings.get()
        Reading.objects.update(is_current=False)
        entered_later(Reading(run=run, quantity="sliding_angle", value=5.0, replaces=old, created_by=person))
    assert run.late_by(run.readings.all()) == ""


def test_run_page_gives_both_times(client, person):
    run = make_run(person, observed_at=timezone.now() - timedelta(days=5))
    client.force_login(person)
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", client.get(reverse("run", args=[run.code])).text))
    assert f"Observed at {timezone.localtime(run.observed_at):%Y-%m-%d %H:%M}" in text
    assert f"Entered at {timezone.localtime(run.created_at):%Y-%m-%d %H:%M}" in text
    assert "entered late: 5 d after observation" in text


def test_report_says_which_runs_were_entered_late(person):
    batch = make_tested_batch(person, n=2, drops=2)
    revision = make_shedding_criteria(person)
    run = runs.TestRun.objects.for_batch(batch).first()
    days = (run.created_at - run.observed_at).days
    assert {row["entered_late"] for row in qualifications.assemble(batch, revision)["runs"]} == {f"{days} d"}
    file = issue_report(batch, revision).file
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(bytes(file))).pages)
    assert f"entered late: {days} d after it was read" in re.sub(r"\s+", " ", text)
