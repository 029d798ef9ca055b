"""What goes wrong at a bench, refused by the actions themselves, whoever calls them."""

import importlib
import pkgutil
from datetime import UTC, date, datetime, timedelta

import pytest
from django.utils import timezone

from labrecords import access, actions
from labrecords.actions import coupons, liquids, people, processing, runs
from labrecords.errors import (
    CouponConsumed,
    DeviationNeedsReason,
    LotExpired,
    NotAllowed,
    RecedingAboveAdvancing,
    ValueRefused,
)
from labrecords.models import ProcessRecord, TestRun
from tests.factories import (
    make_batch,
    make_coupon,
    make_method_version,
    make_person,
    make_run,
    pairs,
    sliding,
)

pytestmark = pytest.mark.django_db
START = datetime(2026, 2, 27, 8, tzinfo=UTC)


@pytest.fixture
def person():
    return make_person()


@pytest.fixture
def batch(person):
    return make_batch(person, n=2)


def record(person, batch, **details):
    coupons_in = [member.coupon for member in batch.members.all()]
    shared = {"step": batch.recipe_revision.steps.first(), "coupons": coupons_in, "started_at": START}
    return processing.record(by=person, batch=batch, **shared | details)


# ---- lots used in a step ------------------------------------------------------------------------------


def lot_of(person, kind, **dates):
    if kind == "bath_lots":
        return liquids.log_bath_lot(by=person, code="BATH-1", title="Rinse", **dates)
    oil = liquids.create_lubricant(by=person, code="OIL", name="Invented oil")
    return liquids.log_lubricant_lot(by=person, lubricant=oil, code="OIL-1", **dates)


@pytest.mark.parametrize("kind", ["bath_lots", "lubricant_lots"])
def test_lot_used_after_it_expired_is_refused_and_nothing_is_stored(person, batch, kind):
    lot = lot_of(person, kind, prepared_on=date(2026, 1, 1), expires_on=date(2026, 2, 26))
    with pytest.raises(LotExpired, match="expired on 2026-02-26; it was used on 2026-02-27") as refused:
        record(person, batch, **{kind: [lot]})
    assert refused.value.field == kind
    assert not ProcessRecord.objects.exists()


@pytest.mark.parametrize("kind", ["bath_lots", "lubricant_lots"])
def test_lot_used_on_its_last_day_is_taken_also_when_it_is_entered_later(person, batch, kind):
    lot = lot_of(person, kind, prepared_on=date(2026, 2, 27), expires_on=date(2026, 2, 27))
    assert record(person, batch, **{kind: [lot]}).lots.count() == 1


@pytest.mark.parametrize("kind", ["bath_lots", "lubricant_lots"])
def test_lot_used_before_it_was_there_is_refused(person, batch, kind):
    lot = lot_of(person, kind, prepared_on=date(2026, 2, 28))
    with pytest.raises(ValueRefused, match="after its use on 2026-02-27"):
        record(person, batch, **{kind: [lot]})


# ---- times -------------------------------------------------------------------------------------------


def test_run_observed_more_than_a_day_ahead_is_a_typing_error(person):
    with pytest.raises(ValueRefused, match="lies in the future") as refused:
        make_run(person, observed_at=timezone.now() + timedelta(days=2))
    assert refused.value.field == "observed_at"
    assert make_run(person, observed_at=timezone.now() + timedelta(hours=3)).pk


@pytest.mark.parametrize("name", ["started_at", "finished_at"])
def test_step_more_than_a_day_ahead_is_a_typing_error(person, batch, name):
    with pytest.raises(ValueRefused, match="lies in the future") as refused:
        record(person, batch, **{name: timezone.now() + timedelta(days=366)})
    assert refused.value.field == name


def test_step_that_ends_before_it_began_is_refused(person, batch):
    process = record(person, batch)
    with pytest.raises(ValueRefused, match="cannot end before it began"):
        processing.finish(by=person, process=process, finished_at=START - timedelta(minutes=1))


def test_step_is_finished_once(person, batch):
    process = record(person, batch)
    processing.finish(by=person, process=process, finished_at=START + timedelta(hours=1))
    with pytest.raises(ValueRefused, match="has been finished already"):
        processing.finish(by=person, process=process, finished_at=START + timedelta(hours=2))


# ---- deviations --------------------------------------------------------------------------------------


def test_value_that_strays_further_by_the_end_needs_a_reason_of_its_own(person, batch):
    process = record(person, batch, actual={"temperature_c": 90}, reasons={"temperature_c": "cold water added"})
    end = {"by": person, "process": process, "finished_at": START + timedelta(hours=1)}
    with pytest.raises(DeviationNeedsReason):
        processing.finish(**end, actual={"temperature_c": 60})
    processing.finish(**end, actual={"temperature_c": 60}, reasons={"temperature_c": "heater failed"})
    assert [row.reason for row in process.deviations.all()] == ["cold water added", "heater failed"]


def test_value_that_was_explained_at_the_start_needs_no_second_reason(person, batch):
    process = record(person, batch, actual={"temperature_c": 90}, reasons={"temperature_c": "cold water added"})
    processing.finish(by=person, process=process, finished_at=START + timedelta(hours=1), actual={"temperature_c": 90})
    assert process.deviations.count() == 1


def test_coupon_twice_in_a_step_is_refused(person, batch):
    coupon = batch.members.first().coupon
    with pytest.raises(ValueRefused):
        record(person, batch, coupons=[coupon, coupon])


def test_coupon_of_another_batch_and_a_consumed_one_are_refused(person, batch):
    with pytest.raises(ValueRefused, match="is not a treated coupon"):
        record(person, batch, coupons=[make_coupon(person)])
    coupon = batch.members.first().coupon
    old = type(coupon).objects.get(pk=coupon.pk)
    coupons.move(by=person, why="cut up", coupon=coupon, state="consumed")
    with pytest.raises(CouponConsumed):
        record(person, batch, coupons=[old])


# ---- a consumed coupon -------------------------------------------------------------------------------


def read_then_consumed(person):
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding(["4.5", "4"]))
    coupons.move(by=person, why="cut for a section", coupon=run.coupon, state="consumed")
    return TestRun.objects.get(pk=run.pk)


def test_run_of_a_consumed_coupon_is_still_completed_and_reviewed(person):
    run = read_then_consumed(person)
    run = runs.complete(by=person, run=run)
    assert runs.review(by=make_person("reviewer"), run=run).state == "reviewed"


def test_typing_error_of_a_consumed_coupon_is_still_corrected_and_a_new_drop_is_not(person):
    run = read_then_consumed(person)
    runs.record(by=person, run=run, readings=sliding(["4.6"]), why="misread the scale")
    assert run.readings.current().get(drop=1).value == 4.6
    with pytest.raises(CouponConsumed):
        runs.record(by=person, run=run, readings=sliding(["4.6", "4", "7.5"]))
    assert run.readings.current().count() == 2


def test_reading_of_a_consumed_coupon_is_still_left_out(person):
    run = read_then_consumed(person)
    reading = runs.exclude(by=person, why="dust under the drop", reading=run.readings.current().first())
    assert reading.is_excluded


# ---- readings taken back in --------------------------------------------------------------------------


def test_reading_taken_back_in_must_fit_the_others(person):
    run = make_run(person, method_version=make_method_version(person, "advancing_receding"))
    runs.record(by=person, run=run, readings=pairs([("113", "110")]))
    receding = run.readings.current().get(quantity="receding_angle")
    runs.exclude(by=person, why="blurred", reading=receding)
    runs.record(by=person, run=run, readings=[runs.Typed("advancing_angle", value="105")], why="misread")
    with pytest.raises(RecedingAboveAdvancing):
        runs.include(by=person, why="sharp after all", reading=receding)
    receding.refresh_from_db()
    assert receding.is_excluded


def test_only_an_excluded_reading_is_taken_back_in(person):
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding(["4.5"]))
    reading = run.readings.get()
    with pytest.raises(ValueRefused):
        runs.include(by=person, why="by mistake", reading=reading)
    runs.exclude(by=person, why="dust", reading=reading)
    runs.record(by=person, run=run, readings=sliding(["4.6"]), why="misread")
    with pytest.raises(ValueRefused):
        runs.include(by=person, why="by mistake", reading=reading)


# ---- people ------------------------------------------------------------------------------------------


def test_last_administrator_is_not_disabled():
    one = make_person("administrator")
    with pytest.raises(ValueRefused, match="last administrator"):
        people.disable(by=one, why="leaves", person=one)
    two = make_person("administrator")
    assert not people.disable(by=two, why="leaves", person=one).is_active


def test_disabled_person_may_do_nothing_at_all(person):
    make_person("administrator")
    people.disable(by=make_person("administrator"), why="leaves", person=person)
    with pytest.raises(NotAllowed):
        make_coupon(person)
    assert not any(access.may(person, verb) for verb in ("coupons.log", "runs.record", "assessments.issue"))


def every_verb():
    """Each action of each module, by its name."""
    found = {}
    for item in pkgutil.iter_modules(actions.__path__):
        module = importlib.import_module(f"{actions.__name__}.{item.name}")
        found |= {
            action.verb: action for action in vars(module).values() if isinstance(getattr(action, "verb", 0), str)
        }
    return found


@pytest.mark.parametrize("role", access.ROLES)
def test_action_is_refused_to_each_role_without_it_before_it_looks_at_anything(role):
    somebody = make_person(role)
    verbs = every_verb()
    refused = {name for name in verbs if not access.may(somebody, name)}
    assert len(verbs) > 30
    assert refused
    for name in refused:
        with pytest.raises(NotAllowed):
            verbs[name](by=somebody, why="to try")


# ---- who did a step, and whose deviation it is ---------------------------------------------------------


def test_nobody_does_a_step_whose_role_does_not_stand_at_the_bench(person, batch):
    customer = make_person("customer", full_name="Custo Mer")
    with pytest.raises(ValueRefused, match="“Custo Mer” measures nothing: the role is customer") as refused:
        record(person, batch, operator=customer)
    assert refused.value.field == "operator"
    assert not ProcessRecord.objects.exists()
    other = make_person("operator")
    assert record(person, batch, operator=other).operator == other


def test_deviation_names_a_step_of_its_own_batch_only(person, batch):
    said = {"what": "rack tipped over", "reason": "loose screw", "process": record(person, batch)}
    with pytest.raises(ValueRefused, match="is not of batch") as refused:
        processing.note_deviation(by=person, batch=make_batch(person), **said)
    assert refused.value.field == "process"
    assert processing.note_deviation(by=person, batch=batch, **said).process == said["process"]
