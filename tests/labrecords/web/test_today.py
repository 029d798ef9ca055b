"""Today’s page: what runs, what is open, what ends, what waits."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from labrecords.actions import liquids, processing, runs
from labrecords.trail import recorded
from tests.factories import make_batch, make_instrument, make_liquid_lot, make_lot, make_recipe, make_run, sliding

pytestmark = pytest.mark.django_db


def today(page):
    return page.get(reverse("today")).text


def test_empty_lab_says_so(page):
    text = today(page)
    for words in ("No step is running", "No run is open", "Nothing ends", "None has been issued yet", "None waits"):
        assert words in text


def start(person, batch, minutes_ago=0):
    started = timezone.now() - timedelta(minutes=minutes_ago)
    treated = [member.coupon for member in batch.members.all()]
    return processing.record(
        by=person, batch=batch, step=batch.recipe_revision.steps.get(order=1), coupons=treated, started_at=started
    )


def test_running_step_shows_its_time_and_leaves_when_finished(page, person):
    batch = make_batch(person, n=3)
    process = start(person, batch, minutes_ago=42)
    text = today(page)
    assert "<strong>42 min</strong>" in text
    assert "3 coupons" in text
    assert reverse("batch-step", args=[batch.code, 1]) in text
    processing.finish(by=person, process=process, finished_at=timezone.now())
    assert "No step is running" in today(page)


def test_draft_run_stands_there_until_complete_then_its_batch_waits(page, person):
    batch = make_batch(person, n=1)
    run = make_run(person, coupon=batch.members.get().coupon)
    runs.record(by=person, run=run, readings=sliding(["4", "5"]))
    text = today(page)
    assert run.code in text
    assert "None waits" in text
    runs.complete(by=person, run=run)
    text = today(page)
    assert run.code not in text
    assert batch.code in text


def test_batch_waits_again_only_after_a_newer_run(page, person):
    from tests.factories import issue_report, make_criteria

    batch = make_batch(person, n=1)
    coupon = batch.members.get().coupon

    def read():
        run = make_run(person, coupon=coupon)
        runs.record(by=person, run=run, readings=sliding(["4", "5"]))
        runs.complete(by=person, run=run)

    read()
    issued = issue_report(batch, make_criteria(person), approver=person, render=lambda evidence: b"a file")
    text = today(page)
    assert "None waits" in text
    assert issued.report_number in text
    read()
    assert "None waits" not in today(page)


@pytest.mark.parametrize(("days", "shown"), [(-61, ""), (-1, "expired"), (3, "soon"), (15, "")])
def test_lots_that_end_are_shown(page, person, days, shown):
    day = timezone.localdate() + timedelta(days=days)
    liquids.log_bath_lot(by=person, code="B-1", title="Etch", prepared_on=date(2020, 1, 1), expires_on=day)
    text = today(page)
    assert ("B-1 Etch" in text) == bool(shown)
    assert f">{shown}</span>" in text if shown else "Nothing ends" in text


def test_calibrations_that_end_are_shown(page, person):
    over, fine = make_instrument(person, due=date(2026, 1, 2)), make_instrument(person)
    text = today(page)
    assert over.code in text
    assert "overdue</span>" in text
    assert fine.code not in text


def test_calibration_of_a_day_to_come_hides_none_that_is_over(page, person):
    """Such a row was stored before calibrations were refused that are not done yet."""
    over, day = make_instrument(person, due=date(2026, 1, 2)), timezone.localdate()
    with recorded(person.username, "typed with the wrong year"):
        over.calibrations.create(
            created_by=person, done_on=day + timedelta(days=9), due_on=day + timedelta(days=400), result="fine"
        )
    assert over.code in today(page)


def test_queries_do_not_grow(page, person, queries_of):
    def more():
        batch = make_batch(person, n=2, recipe_revision=make_recipe(person))
        start(person, batch)
        make_run(person, coupon=batch.members.first().coupon)
        make_liquid_lot(person, expires_on=timezone.localdate())
        make_instrument(person, due=date(2026, 1, 2))

    more()
    before = queries_of(page, [reverse("today")])
    for _ in range(4):
        more()
    assert queries_of(page, [reverse("today")]) == before


def test_first_day_says_what_is_still_to_come_and_goes_with_the_first_report(page, person):
    text = page.get(reverse("today")).text
    assert "Still to come before the first report" in text
    assert reverse("specifications") in text.split("</section>")[0]
    make_lot(person)
    assert "a substrate lot" not in page.get(reverse("today")).text
