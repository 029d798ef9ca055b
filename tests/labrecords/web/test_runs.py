"""Pages of runs: list, new, grid, conflict, corrections, verbs."""

from datetime import date

import pytest
from django.urls import reverse
from django.utils import timezone

import analysis
from labrecords.actions import coupons, runs
from labrecords.models import MethodVersion, Reading, TestRun
from tests.factories import (
    make_coupon,
    make_instrument,
    make_liquid,
    make_liquid_lot,
    make_method_version,
    make_person,
    make_run,
    sliding,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def person():
    return make_person("quality")


@pytest.fixture
def page(client, person):
    client.force_login(person)
    return client


def sent(run, values, quantity="sliding_angle", **more):
    """What a browser would send for one drop a position; ">" did not move."""
    data = {"version": run.version, "row": list(range(len(values)))} | more
    for index, value in enumerate(values):
        data |= {f"position-{index}": index + 1, f"drop-{index}": 1, f"direction-{index}": ""}
        name = f"{index}-{quantity}"
        data |= {
            f"value-{name}": "" if value == ">" else value,
            f"qualifier-{name}": "not_moved" if value == ">" else "measured",
        }
    return data


def test_grid_stores_comma_point_and_not_moved_and_leads_back_to_the_run(page, person):
    run = make_run(person)
    answer = page.post(reverse("run-save", args=[run.code]), sent(run, ["3,5", "5.7", ">", ""]))
    assert answer.status_code == 302
    stored = [(r.position, r.value, r.qualifier) for r in Reading.objects.current()]
    assert stored == [("1", 3.5, "measured"), ("2", 5.7, "measured"), ("3", 30.0, "not_moved")]


def test_refused_grid_keeps_what_was_typed_and_says_why(page, person):
    run = make_run(person)
    answer = page.post(reverse("run-save", args=[run.code]), sent(run, ["3,5", "31"]))
    assert answer.status_code == 400
    assert "beyond the stage limit of 30°" in answer.text
    assert 'value="3,5"' in answer.text
    assert 'value="31"' in answer.text
    assert not Reading.objects.exists()


def test_second_person_sees_what_the_first_saved_and_saves_again(page, person):
    run = make_run(person)
    other = make_person("operator", full_name="Second Hand")
    runs.record(
        by=other,
        run=run,
        readings=[
            runs.Typed("sliding_angle", position="1", value="9.9"),
            runs.Typed("sliding_angle", position="2", value="8.8"),
        ],
    )
    answer = page.post(reverse("run-save", args=[run.code]), sent(run, ["3,5", ""]))
    assert answer.status_code == 409
    assert "after you opened it" in answer.text
    assert "saved: 9.9" in answer.text
    assert 'value="3,5"' in answer.text
    assert 'value="8.8"' in answer.text  # nobody typed there: the stored one is taken over
    run.refresh_from_db()
    assert f'name="version" value="{run.version}"' in answer.text
    again = sent(run, ["3,5", "8.8"]) | {
        "was-0-sliding_angle": "measured|9.9|",
        "was-1-sliding_angle": "measured|8.8|",
    }
    assert page.post(reverse("run-save", args=[run.code]), again).status_code == 302
    assert [(r.position, r.value) for r in Reading.objects.current()] == [("1", 3.5), ("2", 8.8)]


def again(run, index, value, was, quantity="sliding_angle", **more):
    """A browser's answer that changes one stored cell."""
    name = f"{index}-{quantity}"
    data = {"version": run.version, "row": [index], f"position-{index}": "1", f"drop-{index}": index + 1}
    return data | {f"value-{name}": value, f"qualifier-{name}": "measured", f"was-{name}": f"measured|{was}|"} | more


def completed(person):
    run = runs.record(by=person, run=make_run(person), readings=sliding([3.5, 5.7, 4.0]))
    return runs.complete(by=person, run=run)


def test_correction_of_a_completed_run_asks_for_its_reason_and_keeps_both_values(page, person):
    run = completed(person)
    url = reverse("run-save", args=[run.code])
    refused = page.post(url, again(run, 0, "9,9", "3.5"))
    assert refused.status_code == 400
    assert "Say why" in refused.text
    assert 'value="9,9"' in refused.text
    assert page.post(url, again(run, 0, "9,9", "3.5", why="misread")).status_code == 302
    text = page.get(reverse("run", args=[run.code])).text
    assert "9.9°" in text
    assert "<s>3.5°</s>" in text
    assert "misread" in text


def test_emptied_cell_is_refused_not_deleted(page, person):
    run = runs.record(by=person, run=make_run(person), readings=sliding([3.5]))
    answer = page.post(reverse("run-save", args=[run.code]), again(run, 0, "", "3.5"))
    assert answer.status_code == 400
    assert "is not emptied" in answer.text
    assert Reading.objects.current().get().value == 3.5


def test_untouched_grid_stores_nothing_new(page, person):
    run = runs.record(by=person, run=make_run(person), readings=sliding([3.5]))
    assert page.post(reverse("run-save", args=[run.code]), again(run, 0, "3.5", "3.5")).status_code == 302
    run.refresh_from_db()
    assert (Reading.objects.count(), run.version) == (1, 2)


def test_further_rows_without_javascript_keep_what_was_typed(page, person):
    run = make_run(person)
    more = {"more": "1", "more-positions": "2", "more-drops": "2", "more-direction": "rolling"}
    answer = page.post(reverse("run-save", args=[run.code]), sent(run, ["3,5"], **more))
    assert [row.place for row in answer.context["grid"].rows][1:] == [
        ("2", "1", "rolling"), ("2", "2", "rolling"), ("3", "1", "rolling"), ("3", "2", "rolling"),
    ]  # fmt: skip
    assert 'value="3,5"' in answer.text
    assert not Reading.objects.exists()


def test_reading_is_left_out_with_a_reason_and_taken_back(page, person):
    run = completed(person)
    reading = run.readings.get(drop=2)
    page.post(reverse("reading-exclude", args=[reading.pk]), {"why": "scratch under the drop"})
    text = page.get(reverse("run", args=[run.code])).text
    assert "left out by" in text
    assert "scratch under the drop" in text
    refused = page.post(reverse("reading-include", args=[reading.pk]), {"why": ""})
    assert "Say why" in refused.text
    page.post(reverse("reading-include", args=[reading.pk]), {"why": "scratch was beside it"})
    assert not run.readings.get(drop=2).is_excluded


def test_save_and_complete_then_review_by_another_then_locked(page, client, person):
    run = make_run(person)
    page.post(reverse("run-save", args=[run.code]), sent(run, ["3,5"], then="complete"))
    refused = page.post(reverse("run-review", args=[run.code]))
    assert "another person reviews it" in refused.text
    client.force_login(make_person("reviewer"))
    assert client.post(reverse("run-review", args=[run.code])).status_code == 302
    text = client.get(reverse("run", args=[run.code])).text
    assert "reviewed (locked)" in text
    assert 'id="entry"' not in text


def test_back_to_draft_needs_a_reason(page, person):
    run = completed(person)
    assert "Say why" in page.post(reverse("run-reopen", args=[run.code]), {"why": " "}).text
    page.post(reverse("run-reopen", args=[run.code]), {"why": "two drops forgotten"})
    assert TestRun.objects.get().state == "draft"


def test_buttons_are_hidden_from_who_may_not_and_the_view_refuses(client, person):
    run = make_run(person)
    client.force_login(make_person("administrator"))
    assert 'id="entry"' not in client.get(reverse("run", args=[run.code])).text
    assert "New run" not in client.get(reverse("runs")).text
    assert client.post(reverse("run-save", args=[run.code]), sent(run, ["3,5"])).status_code == 403


@pytest.mark.parametrize("name", ["run-save", "run-complete", "run-review", "run-reopen"])
def test_get_never_writes(page, person, name):
    assert page.get(reverse(name, args=[make_run(person).code])).status_code == 405


@pytest.mark.parametrize(("field", "value", "words"), [
    ("drop-0", "0", "is below 1"), ("drop-0", "99999", "is above 10000"), ("drop-0", "two", "is not a plain number"),
    ("version", "old", "is not a plain number"), ("qualifier-0-sliding_angle", "maybe", "is none of"),
])  # fmt: skip
def test_tampered_grid_is_refused_in_words(page, person, field, value, words):
    run = make_run(person)
    answer = page.post(reverse("run-save", args=[run.code]), sent(run, ["3,5"]) | {field: value})
    assert answer.status_code == 400
    assert words in answer.text


def test_null_character_in_a_position_is_dropped(page, person):
    run = make_run(person)
    page.post(reverse("run-save", args=[run.code]), sent(run, ["3,5"]) | {"position-0": "a\0b"})
    assert Reading.objects.get().position == "ab"


def test_unknown_run_is_not_found(page):
    assert page.get(reverse("run", args=["R-99-1"])).status_code == 404


@pytest.mark.parametrize(("query", "found"), [
    ({}, 2), ({"state": "complete"}, 1), ({"method": "static_angle"}, 0), ({"coupon": "no-such"}, 0),
    ({"state": "?"}, 2), ({"batch": "no-such"}, 0),
])  # fmt: skip
def test_list_is_filtered(page, person, query, found):
    completed(person)
    make_run(person)
    assert len(page.get(reverse("runs"), query).context["page"].object_list) == found


# ---- new runs --------------------------------------------------------------------------------------------------


def conditions(person, version, **more):
    data = {
        "method_version": version.pk,
        "liquid_lot": make_liquid_lot(person).pk,
        "instrument": make_instrument(person).pk,
        "drop_volume_ul": "10",
        "room_temperature_c": "22,5",
        "room_humidity_pct": "50",
        "observed_at": "2026-03-02T09:00",
    }
    return data | more


def test_several_coupons_make_several_runs_with_the_asked_grid(page, person):
    version, two = make_method_version(person), [make_coupon(person), make_coupon(person)]
    codes = " ".join(coupon.code for coupon in two)
    answer = page.post(reverse("run-new"), conditions(person, version, coupons=codes, positions="3", drops="2"))
    made = list(TestRun.objects.order_by("id"))
    assert [run.coupon for run in made] == two
    assert made[0].room_temperature_c == 22.5
    shown = page.get(answer.url)
    assert len(shown.context["grid"].rows) == 6
    assert made[1].code in shown.text  # the next draft


def test_one_refused_coupon_opens_no_run_at_all_and_keeps_what_was_typed(page, person):
    version, coupon, gone = make_method_version(person), make_coupon(person), make_coupon(person)
    coupons.move(by=person, why="cut up", coupon=gone, state="consumed")
    answer = page.post(
        reverse("run-new"), conditions(person, version, coupons=f"{coupon.code} {gone.code}", remark="kept words")
    )
    assert answer.status_code == 400
    assert f"Coupon {gone.code} is consumed: it takes no new readings." in answer.text
    assert "kept words" in answer.text
    assert not TestRun.objects.exists()


def test_method_marks_what_it_needs_and_brings_its_liquid_and_volume(page, person):
    liquid = make_liquid(person)
    make_liquid_lot(person, liquid=liquid, expires_on=date(2026, 1, 10))
    fresh = make_liquid_lot(person, liquid=liquid, expires_on=date(2099, 1, 1))
    version = make_method_version(person, liquid=liquid, drop_volume_ul=10)
    form = page.get(reverse("run-new"), {"method_version": version.pk, "coupons": "TYPED"}).context["form"]
    assert (form["liquid_lot"].value(), form["drop_volume_ul"].value()) == (fresh.pk, "10")
    assert form["coupons"].value() == "TYPED"
    needed = {name for name, field in form.fields.items() if getattr(field, "is_needed", False)}
    assert needed == {"liquid_lot", "drop_volume_ul", "room_temperature_c", "room_humidity_pct", "instrument"}
    assert "expired on 2026-01-10" in str(form["liquid_lot"])


def test_lapsed_calibration_is_said_beside_the_instrument(page, person):
    make_instrument(person, due=date(2026, 1, 2))
    assert "calibration over since 2026-01-02" in page.get(reverse("run-new")).text


@pytest.mark.parametrize(("change", "words"), [
    ({"drop_volume_ul": ""}, "is missing: method “Sliding angle” cannot be read without it."),
    ({"room_humidity_pct": ""}, "is missing: method"),
    ({"coupons": ""}, "Coupons are missing."),
    ({"drop_volume_ul": "1_0"}, "is not a plain number"),
    ({"observed_at": "yesterday"}, "is not a date and time"),
])  # fmt: skip
def test_refused_run_says_what_is_missing(page, person, change, words):
    data = conditions(person, make_method_version(person), coupons=make_coupon(person).code)
    answer = page.post(reverse("run-new"), data | change)
    assert answer.status_code == 400
    assert words in answer.text


def test_expired_liquid_lot_is_refused(page, person):
    data = conditions(person, make_method_version(person), coupons=make_coupon(person).code)
    data["liquid_lot"] = make_liquid_lot(person, expires_on=date(2026, 2, 1)).pk
    assert "expired on 2026-02-01; it was used on 2026-03-02." in page.post(reverse("run-new"), data).text


# ---- a method that the pages have never heard of ---------------------------------------------------------------


@pytest.fixture
def invented_method():
    method = analysis.Method(
        key="invented_tilt",
        title="Invented tilt of two quantities",
        purpose="Shows that pages follow the declaration.",
        readings=(analysis.ReadingKind("sliding_angle", can_be_not_moved=True), analysis.ReadingKind("static_angle")),
        settings=(
            analysis.Setting("invented_limit_deg", "Invented limit", "°", 1, 80, limits_quantity="sliding_angle"),
        ),
        stage_limit_setting="invented_limit_deg",
        conditions=("drop_volume_ul",),
        replicate_plan="as invented",
        checks=(),
        coupon_statistics=("sliding_angle_median",),
    )
    analysis.register_method(method)
    yield method
    del analysis.METHODS[method.key]


def test_registered_method_shows_up_everywhere_without_edits(page, person, invented_method):
    assert invented_method.title in page.get(reverse("methods")).text
    form = page.post(reverse("method-version-new", args=[invented_method.key]), {"invented_limit_deg": "44"})
    assert form.status_code == 302
    version = MethodVersion.objects.get()
    shown = page.get(reverse("run-new"), {"method_version": version.pk})
    assert invented_method.title in shown.text
    needed = {name for name, field in shown.context["form"].fields.items() if getattr(field, "is_needed", False)}
    assert needed == {"drop_volume_ul"}
    data = conditions(person, version, coupons=make_coupon(person).code)
    grid = page.get(page.post(reverse("run-new"), data).url)
    assert 'data-quantity="sliding_angle"' in grid.text
    assert 'data-quantity="static_angle"' in grid.text
    assert 'data-limit="44.0"' in grid.text
    assert 'data-mark="not_moved"' in grid.text
    assert 'data-mark="moved_on_placing"' not in grid.text
    run = TestRun.objects.get()
    page.post(reverse("run-save", args=[run.code]), sent(run, [">"]))
    assert Reading.objects.get().value == 44.0
    assert invented_method.key in page.get(reverse("runs")).text  # offered as a filter


def test_grid_size_is_refused_by_its_name(page, person):
    version, coupon = make_method_version(person), make_coupon(person)
    answer = page.post(reverse("run-new"), conditions(person, version, coupons=coupon.code, positions="A"))
    assert answer.status_code == 400
    assert answer.context["form"].errors["positions"] == [
        "Number of positions: “A” is not a plain number (digits, one decimal comma or point)."
    ]


def test_history_writes_moments_year_first(page, person):
    run = runs.record(by=person, run=make_run(person), readings=sliding([3.5]))
    run = runs.complete(by=person, run=run)
    text = page.get(reverse("run", args=[run.code])).text
    assert f"nothing → <strong>{timezone.localtime(run.completed_at):%Y-%m-%d %H:%M:%S} UTC</strong>" in text
