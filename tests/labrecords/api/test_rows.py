"""Lists: filters, pages, and a number of queries that does not grow with the rows."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from labrecords.actions import (
    attachments,
    batches,
    data_sheets,
    instruments,
    processing,
    projects,
    recipes,
    releases,
    runs,
)
from labrecords.api.urls import router
from labrecords.models import Coupon, MethodVersion
from tests.factories import (
    issue_report,
    make_batch,
    make_coupon,
    make_criteria,
    make_instrument,
    make_liquid_lot,
    make_method_version,
    make_recipe,
    make_run,
    sliding,
)

pytestmark = pytest.mark.django_db
LISTS = [prefix for prefix, _, _ in router.registry]


def fill(by, number):
    """One more of everything, each hanging on others."""
    from labrecords.actions import liquids

    project = projects.start(by=by, code=f"P{number}", title="Invented")
    batch = make_batch(by, n=2, project=project)
    control = make_coupon(by, project=project)
    batches.join(by=by, why="control", batch=batch, coupon=control, role="control")
    oil = liquids.create_lubricant(by=by, code=f"OIL{number}", name="Oil")
    lot = liquids.log_lubricant_lot(by=by, lubricant=oil, code=f"OL{number}", prepared_on="2026-01-01")
    bath = liquids.log_bath_lot(by=by, code=f"BL{number}", title="Bath", prepared_on="2026-01-01")
    liquids.add_property(by=by, lubricant_lot=lot, quantity="density", value=950, source="invented")
    treated = list(Coupon.objects.filter(memberships__batch=batch, memberships__role="treated"))
    processing.record(
        by=by, batch=batch, step=batch.recipe_revision.steps.first(), coupons=treated, started_at=timezone.now(),
        actual={"temperature_c": 90}, reasons={"temperature_c": "power cut"}, bath_lots=[bath], lubricant_lots=[lot],
    )  # fmt: skip
    recipe = make_recipe(by, project=project).recipe
    recipes.revise(by=by, why="again", recipe=recipe, steps=[{"kind": "dry"}])
    data_sheets.record(
        by=by, material=f"Acid {number}", hazards=["mineral_acid"], place="folder 1", revised_on="2026-01-05"
    )
    releases.put_to_use(by=by, checked="12 passed", place=f"folder {number}", authorised_because="new")
    rig = make_instrument(by)
    today = timezone.localdate()
    instruments.calibrate(by=by, instrument=rig, done_on=today, due_on=today + timedelta(days=9), result="fine")
    attachments.add(by=by, owner=control, name="note.txt", data=b"%d" % number)
    for coupon in treated:
        run = make_run(by, coupon=coupon, liquid_lot=make_liquid_lot(by), instrument=rig)
        runs.record(by=by, run=run, readings=sliding([4, 5, 6]))
        runs.exclude(by=by, why="fibre", reading=run.readings.first())
        runs.complete(by=by, run=run)
    issue_report(batch, make_criteria(by, project=project), approver=by)


def test_number_of_queries_does_not_grow_with_the_rows(quality):
    fill(quality.person, 0)
    once = {name: counted(quality, name) for name in LISTS}
    for number in (1, 2, 3):
        fill(quality.person, number)
    grown = {name: counted(quality, name) for name in LISTS}
    for name in LISTS:
        if name not in ("people", "tokens"):  # these have as many as there are people
            assert grown[name][1] >= 4 * once[name][1] > 0, name  # there are more rows
        assert grown[name][0] == once[name][0] <= 12, name


def counted(caller, name):
    used(caller)
    with CaptureQueriesContext(connection) as queries:
        status, data = caller.get(f"{name}/")
    assert status == 200
    return len(queries), data["count"]


def test_page_of_one_does_not_ask_more_for_more(quality):
    batch = make_batch(quality.person, n=2)
    coupon = Coupon.objects.filter(memberships__batch=batch).first()
    run = make_run(quality.person, coupon=coupon)
    runs.record(by=quality.person, run=run, readings=sliding([4]))
    addresses = [f"batches/{batch.code}/", f"coupons/{coupon.code}/", f"runs/{run.code}/", f"runs/{run.code}/history/"]
    once = [asked(quality, address) for address in addresses]
    runs.record(by=quality.person, run=run, readings=sliding([4, 5, 6, 7, 8]))
    make_run(quality.person, coupon=coupon)
    for _ in range(3):
        batches.join(by=quality.person, why="more", batch=batch, coupon=make_coupon(quality.person), role="control")
    assert [asked(quality, address) for address in addresses] == once


def used(caller):
    """Once a minute the last use of a token is written down; not while we count."""
    assert caller.get("laboratory/")[0] in (200, 404, 409)


def asked(caller, address):
    used(caller)
    with CaptureQueriesContext(connection) as queries:
        assert caller.get(address)[0] == 200
    return len(queries)


def test_every_row_of_a_list_can_be_asked_for_by_itself(quality):
    fill(quality.person, 0)
    for prefix, views, _ in router.registry:
        key = "id" if views.lookup_field == "pk" else views.lookup_field
        row = quality.get(f"{prefix}/")[1]["results"][0]
        status, data = quality.get(f"{prefix}/{row[key]}/")
        assert (status, data[key]) == (200, row[key]), prefix
        status, history = quality.get(f"{prefix}/{row[key]}/history/")
        assert status == 200
        assert history[0]["who"], prefix
        assert history[0]["why"], prefix


def test_every_filter_of_every_list_answers(quality):
    fill(quality.person, 0)
    for prefix, views, _ in router.registry:
        for name in views.filters:
            value = "true" if name.startswith("is_") else "2026-01-01" if name.endswith(("_from", "_to")) else "1"
            assert quality.get(f"{prefix}/", **{name: value})[0] == 200, (prefix, name)


def test_filters_choose_rows(quality):
    fill(quality.person, 0)
    fill(quality.person, 1)
    first = quality.get("batches/")[1]["results"][0]["code"]
    assert quality.get("coupons/", batch=first)[1]["count"] == 3
    assert quality.get("coupons/", batch=first, state="in_stock")[1]["count"] == 1
    assert quality.get("runs/", batch=first, state="complete")[1]["count"] == 2
    assert quality.get("readings/", batch=first, qualifier="measured")[1]["count"] == 6
    assert quality.get("runs/", observed_from="2199-01-01")[1]["count"] == 0
    assert quality.get("coupons/", search="aluminium")[1]["count"] == 6
    assert quality.get("recipes/", step_kind="boiling")[1]["count"] == 4


def test_pages_follow_each_other_without_gap_or_doubling(quality):
    for _ in range(5):
        make_method_version(quality.person)
    seen, address = [], "method-versions/?limit=2"
    while address:
        _, data = quality.get(address)
        seen += [row["number"] for row in data["results"]]
        address = data["next"] and data["next"].partition("/api/")[2]
    assert seen == sorted(seen) == list(MethodVersion.objects.values_list("number", flat=True))
    assert len(quality.get("method-versions/", limit=100000)[1]["results"]) == 5
