"""A batch taken through its recipe on the pages: cautions, planned beside actual, tolerance, reasons, masses."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from labrecords.actions import coupons, liquids
from labrecords.models import Deviation, ProcessRecord
from labrecords.processes import DEFER
from tests.factories import make_batch, make_recipe

pytestmark = pytest.mark.django_db

INFUSING = [{"kind": "infuse_drip", "planned": {"volume_ul": {"value": 12, "tolerance": 1}}}]


@pytest.fixture
def batch(person):
    return make_batch(person, n=2)


def address(batch, order=1):
    return reverse("batch-step", args=[batch.code, order])


def members(batch):
    return [member.coupon for member in batch.members.order_by("coupon__number")]


def ticked(*rows, **more):
    """The posted start of a step for some coupons."""
    return {"do": "start"} | {f"coupon-{coupon.pk}-is_in": "on" for coupon in rows} | more


def test_page_shows_cautions_before_planned_values(page, batch):
    text = page.get(address(batch)).text
    assert text.index("scald and splash") < text.index(DEFER) < text.index("97 ± 2") < text.index("Start</button>")
    assert "Lubricant lots used" not in text


def test_start_is_now_and_moves_only_the_ticked_coupons(page, batch, person):
    first, second = members(batch)
    page.post(address(batch), ticked(first, **{f"coupon-{first.pk}-mass_before_mg": "5012,5"}))
    process = ProcessRecord.objects.get()
    assert (process.operator, process.finished_at) == (person, None)
    assert timedelta(0) <= timezone.now() - process.started_at < timedelta(minutes=1)
    assert [(row.coupon, row.mass_before_mg) for row in process.processed.all()] == [(first, 5012.5)]
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.state, second.state) == ("in_process", "in_stock")
    text = page.get(address(batch)).text
    assert "Running for 0 min" in text
    assert f'name="coupon-{second.pk}-is_in"' in text
    assert f'name="coupon-{first.pk}-is_in"' not in text


def finish(page, batch, **typed):
    process = ProcessRecord.objects.get(finished_at=None)
    named = {f"end-{process.pk}-{name}": value for name, value in typed.items() if "__" not in name}
    masses = {name.replace("__", "-"): value for name, value in typed.items() if "__" in name}
    return page.post(address(batch), {"do": f"finish-{process.pk}"} | named | masses)


def test_finish_stores_actual_values_masses_and_remark(page, batch):
    first, _ = members(batch)
    page.post(address(batch), ticked(first))
    typed = {"actual_temperature_c": "97,4", "actual_water": "tap", "remark": "lid rattled"}
    finish(page, batch, **typed, **{f"coupon-{first.pk}__mass_after_mg": "5011.2"})
    process = ProcessRecord.objects.get()
    assert process.actual == {"temperature_c": 97.4, "water": "tap"}
    assert process.finished_at >= process.started_at
    assert process.remark == "lid rattled"
    assert process.processed.get().mass_after_mg == 5011.2
    assert Deviation.objects.count() == 0
    assert ">within</span>" in page.get(address(batch)).text


def test_value_outside_tolerance_asks_for_its_reason_and_keeps_everything(page, batch):
    first, _ = members(batch)
    page.post(address(batch), ticked(first))
    typed = {"actual_temperature_c": "92", "actual_duration_min": "21", "remark": "thermostat replaced"}
    answer = finish(page, batch, **typed)
    assert "outside 95 to 99 °C" in answer.text
    assert "Give the reason; it becomes a deviation" in answer.text
    for kept in ('value="92"', 'value="21"', "thermostat replaced"):
        assert kept in answer.text
    process = ProcessRecord.objects.get()
    assert (process.finished_at, process.actual, process.remark) == (None, {}, "")
    finish(page, batch, **typed, reason_temperature_c="thermostat stuck")
    assert Deviation.objects.get().reason == "thermostat stuck"
    assert "thermostat stuck" in page.get(address(batch)).text


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"actual_temperature_c": "2000"}, "is outside -50 to 1500 °C"),
        ({"actual_temperature_c": "warm"}, "is not a plain number"),
        ({"finished_at": "2020-01-01T10:00"}, "Nothing was stored"),
        ({"actual_ph": "15"}, "is outside 0 to 14"),
    ],
)
def test_refused_finish_leaves_the_step_running(page, batch, typed, words):
    page.post(address(batch), ticked(*members(batch)))
    answer = finish(page, batch, **({"remark": "kept"} | typed))
    assert words in answer.text
    assert "kept" in answer.text
    assert ProcessRecord.objects.get().finished_at is None


@pytest.mark.parametrize(("typed", "within"), [("95", True), ("94,9", False), ("", None), ("warm", None), ("99", True)])
def test_value_is_marked_while_it_is_typed(page, batch, typed, within):
    where = reverse("batch-step-mark", args=[batch.code, 1, "temperature_c"])
    text = page.get(where, {"prefix": "end-9", "end-9-actual_temperature_c": typed}).text
    assert (">within</span>" in text, ">outside</span>" in text) == (within is True, within is False)
    assert ('name="end-9-reason_temperature_c"' in text) == (within is False)
    assert ProcessRecord.objects.count() == 0


def test_last_step_makes_coupons_ready(page, batch):
    for order in (1, 2):
        page.post(address(batch, order), ticked(*members(batch)))
        page.post(address(batch, order), {"do": f"finish-{ProcessRecord.objects.get(finished_at=None).pk}"})
    assert {coupon.state for coupon in members(batch)} == {"ready"}


def test_step_that_is_over_is_entered_at_once(page, batch):
    typed = {"started_at": "2026-03-02T09:00", "finished_at": "2026-03-02T09:20", "actual_duration_min": "20"}
    page.post(f"{address(batch)}?later", ticked(*members(batch), **typed))
    process = ProcessRecord.objects.get()
    assert (process.finished_at - process.started_at, process.actual) == (timedelta(minutes=20), {"duration_min": 20})


def test_step_entered_late_outside_tolerance_asks_for_the_reason(page, batch):
    typed = {"started_at": "2026-03-02T09:00", "actual_duration_min": "40"}
    answer = page.post(f"{address(batch)}?later", ticked(*members(batch), **typed))
    assert "outside 18 to 22 min" in answer.text
    assert 'value="2026-03-02T09:00"' in answer.text
    assert 'name="reason_duration_min"' in answer.text
    assert ProcessRecord.objects.count() == 0


def test_nobody_ticked_is_refused(page, batch):
    assert "is too few" in page.post(address(batch), ticked()).text
    assert ProcessRecord.objects.count() == 0


def test_discarded_coupon_is_not_offered(page, batch, person):
    first, _ = members(batch)
    coupons.move(by=person, why="bent", coupon=first, state="discarded")
    assert f"coupon-{first.pk}-is_in" not in page.get(address(batch)).text


def test_lubricant_lots_are_offered_where_the_step_infuses(page, person):
    batch = make_batch(person, n=1, recipe_revision=make_recipe(person, steps=INFUSING))
    oil = liquids.create_lubricant(by=person, code="O", name="Oil", hazards=["fluorinated"])
    new = liquids.log_lubricant_lot(by=person, code="O-NEW", lubricant=oil, prepared_on=date(2026, 1, 5))
    liquids.log_lubricant_lot(
        by=person, code="O-OLD", lubricant=oil, prepared_on=date(2020, 1, 5), expires_on=date(2021, 1, 5)
    )
    text = page.get(address(batch)).text
    assert "O-NEW" in text
    assert "O-OLD" not in text
    page.post(address(batch), ticked(*members(batch), lubricant_lots=[new.pk]))
    assert ProcessRecord.objects.get().lots.get().lubricant_lot == new


def test_reader_without_bench_rights_sees_no_button(client, batch):
    from tests.factories import make_person

    client.force_login(make_person("administrator"))
    assert 'value="start"' not in client.get(address(batch)).text
    assert "open to" in client.post(address(batch), ticked(*members(batch))).text
    assert ProcessRecord.objects.count() == 0


def test_step_that_the_recipe_has_not_is_not_found(page, batch):
    assert page.get(address(batch, 9)).status_code == 404


def test_queries_do_not_grow_with_coupons_and_records(page, person, queries_of):
    small, large = make_batch(person, n=2), make_batch(person, n=9)
    for batch in (small, large):
        rows = members(batch)
        page.post(address(batch), ticked(*rows[: len(rows) // 2]))
    counted = [queries_of(page, [address(batch)])[address(batch)] for batch in (small, large)]
    assert counted[0] == counted[1]
