"""Pages of runs: list, new, grid, conflict, corrections, verbs."""

import pytest
from django.urls import reverse

from labrecords.actions import runs
from labrecords.models import Reading, TestRun
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


def test_run_page_and_new_run_answer(page, person):
    run = make_run(person)
    assert page.get(reverse("run", args=[run.code])).status_code == 200
    assert page.get(reverse("run-new")).status_code == 200
    assert page.get(reverse("runs")).status_code == 200
