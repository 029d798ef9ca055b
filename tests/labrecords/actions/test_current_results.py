"""A stored result is that of what is stored now: whatever it rests on, a change of it brings the next result."""

from datetime import UTC, date, datetime

import pytest
from django.utils import timezone

import analysis
from labrecords.actions import analyses, batches, coupons, instruments, liquids, processing, runs
from labrecords.models import TestRun
from tests.factories import (
    make_batch,
    make_coupon,
    make_instrument,
    make_liquid,
    make_liquid_lot,
    make_method_version,
    make_person,
    make_run,
    pairs,
    sliding,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def person():
    return make_person()


def as_now(run):
    """The result as the batch page and the report compute it: from what is stored at this moment."""
    [(_, record, baseline)] = analyses.records_with_baselines(TestRun.objects.filter(pk=run.pk))
    return analysis.as_data(analysis.analyse_run(record, baseline))


def stored(run):
    return run.analyses.get(is_current=True).content


def angles(person, **fields):
    run = make_run(person, method_version=make_method_version(person, "advancing_receding"), **fields)
    return runs.record(by=person, run=run, readings=pairs([("113", "110"), ("112", "109")]))


def test_new_property_of_a_liquid_brings_the_next_result_of_its_runs_and_keeps_the_old_one(person):
    liquid = make_liquid(person, tension=72.0)
    run = angles(person, liquid_lot=make_liquid_lot(person, liquid))
    old = run.analyses.get()
    liquids.add_property(
        by=person, liquid=liquid, quantity="surface_tension", value=36.0, source="invented", uncertainty=0.1
    )
    force = {row["key"]: row["value"] for row in stored(run)["statistics"] if row["key"].startswith("retention")}
    before = {row["key"]: row["value"] for row in old.content["statistics"] if row["key"].startswith("retention")}
    # By hand: the force per width is tension × (cos θr − cos θa), so half the tension is half the force.
    assert force
    assert all(force[key] == pytest.approx(before[key] / 2) for key in force)
    assert stored(run) == as_now(run)
    assert run.analyses.count() == 2


def test_property_of_a_lot_brings_the_next_result_also_of_a_reviewed_run(person):
    lot = make_liquid_lot(person)
    run = angles(person, liquid_lot=lot)
    run = runs.complete(by=person, run=run)
    runs.review(by=make_person("reviewer"), run=run)
    liquids.add_property(
        by=person, liquid_lot=lot, quantity="surface_tension", value=36.0, source="invented", uncertainty=0.1
    )
    assert stored(run) == as_now(run)


def test_property_of_something_else_leaves_a_result_alone(person):
    run = angles(person)
    liquids.add_property(
        by=person, liquid=make_liquid(person), quantity="surface_tension", value=36.0, source="invented"
    )
    assert run.analyses.count() == 1


def test_calibration_entered_later_brings_the_next_result(person):
    rig = instruments.create(by=person, code="RIG-LATE", title="Stage")
    run = angles(person, instrument=rig)
    before = stored(run)
    instruments.calibrate(
        by=person, instrument=rig, done_on=date(2026, 1, 1), due_on=date(2099, 1, 1), result="zero within 0.1°"
    )
    assert stored(run) == as_now(run) != before


def test_coupon_that_joins_a_batch_late_brings_the_next_result(person):
    batch = make_batch(person)
    coupon = make_coupon(person, lot=batch.lot)
    run = angles(person, coupon=coupon)
    batches.join(by=person, why="seventh coupon", batch=batch, coupon=coupon, role="treated")
    assert stored(run) == as_now(run)
    assert run.analyses.count() == 2  # its recipe textures, which the checks ask for


def test_batch_formed_after_the_runs_brings_their_next_result(person):
    coupon = make_coupon(person)
    run = angles(person, coupon=coupon)
    batches.form(
        by=person,
        code="LATE",
        recipe_revision=make_batch(person).recipe_revision,
        lot=coupon.lot,
        treated=[coupon],
    )
    assert stored(run) == as_now(run)


def test_area_amended_brings_the_next_result(person):
    coupon = make_coupon(person)
    run = angles(person, coupon=coupon)
    coupons.amend(by=person, why="measured again", coupon=coupon, exposed_area_mm2=900.0)
    assert stored(run) == as_now(run)
    assert run.analyses.count() == 2


def test_corrected_receding_angle_brings_the_next_result_of_the_sliding_run_beside_it(person):
    coupon, lot = make_coupon(person), make_liquid_lot(person)
    beside = angles(person, coupon=coupon, liquid_lot=lot)
    run = make_run(person, coupon, liquid_lot=lot)
    runs.record(by=person, run=run, readings=sliding(["4.5", "5.5"]))
    runs.record(by=person, run=beside, why="misread", readings=pairs([("113", "100")]))
    pair = TestRun.objects.filter(coupon=coupon)
    now = {
        item.pk: analysis.as_data(analysis.analyse_run(record, baseline))
        for item, record, baseline in analyses.records_with_baselines(pair)
    }
    assert {item.pk: stored(item) for item in pair} == now
    assert run.analyses.count() == 2


def test_step_entered_after_the_run_brings_the_next_result(person):
    batch = make_batch(person)
    coupon = batch.members.first().coupon
    run = angles(person, coupon=coupon)
    processing.record(
        by=person,
        batch=batch,
        step=batch.recipe_revision.steps.first(),
        coupons=[coupon],
        started_at=datetime(2026, 2, 27, 8, tzinfo=UTC),
        actual={"temperature_c": 97, "duration_min": 20},
    )
    assert stored(run) == as_now(run)


def test_calibration_that_ends_on_a_day_ends_on_the_lab_s_day_and_not_on_that_of_utc(person):
    # 00:30 on 2 March in Berlin is 23:30 on 1 March UTC; the calibration was due on 1 March.
    with timezone.override("Europe/Berlin"):
        run = angles(
            person,
            observed_at=datetime(2026, 3, 1, 23, 30, tzinfo=UTC),
            instrument=make_instrument(person, due=date(2026, 3, 1)),
        )
        outcomes = {row["key"]: row["outcome"] for row in stored(run)["checks"]}
    assert outcomes["calibration"] == "does not hold"
