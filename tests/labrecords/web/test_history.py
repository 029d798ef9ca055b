"""Original and amended side by side, and a record as it was on a date: every noun, and a run with its readings."""

import io
import json
import re
import zipfile
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from rest_framework.test import APIClient

from labrecords import history
from labrecords.actions import coupons, instruments, projects, recipes, runs
from labrecords.exchange.record_copy import copy_of
from labrecords.models import Coupon, Person, Reading
from tests.factories import make_batch, make_coupon, make_instrument, make_liquid, make_person, make_run, sliding

pytestmark = pytest.mark.django_db(transaction=True)


def address(row, on=None):
    plain = reverse("history", args=[history.noun_of(row), history.name_of(row)])
    return f"{plain}?{'on=' + on.isoformat().replace('+', '%2B')}" if on else plain


def words(answer):
    return plain(answer.text)


def plain(text):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


def test_every_tracked_model_is_a_noun_with_a_page(page, person):
    """The nouns come from the models: what is tracked has a history page without being named anywhere."""
    batch, run = make_batch(person, n=1), make_run(person)
    runs.record(by=person, run=run, readings=sliding([4]))
    nouns = history.nouns()
    assert {"coupon", "test-run", "batch", "recipe", "instrument", "project", "person", "qualification"} <= set(nouns)
    shown = 0
    for noun, model in nouns.items():
        row = model._default_manager.first()
        if row is not None:
            assert page.get(address(row)).status_code == 200, noun
            assert page.get(address(row, timezone.now())).status_code == 200, noun
            shown += 1
    assert shown >= 18
    assert batch.pk


def test_coupon_shows_original_and_amended_with_who_when_and_why(page, person):
    coupon = make_coupon(person, mark="A1", place="Box 1")
    coupons.amend(by=person, why="moved to the cold room", coupon=coupon, place="Shelf 2", exposed_area_mm2=900.0)
    text = words(page.get(address(coupon)))
    assert re.search(r"Exposed area \[mm²\] 1600 900 ", text)
    assert re.search(r"Place Box 1 Shelf 2 ", text)
    assert "moved to the cold room" in text
    event = coupon.events.order_by("pgh_id").last()
    assert f"{timezone.localtime(event.pgh_created_at):%Y-%m-%d %H:%M:%S} UTC" in text
    assert person.full_name in text


def test_coupon_as_it_was_between_two_changes(page, person):
    coupon = make_coupon(person, place="Box 1")
    between = timezone.now()
    coupons.amend(by=person, why="moved", coupon=coupon, place="Shelf 2")
    then = words(page.get(address(coupon, between))).partition("Changes, newest first")[0]
    assert "Place Box 1" in then
    assert "Shelf 2" not in then
    now = words(page.get(address(coupon, timezone.now()))).partition("Changes, newest first")[0]
    assert "Place Shelf 2" in now


def test_before_its_first_entry_it_did_not_exist(page, person):
    coupon = make_coupon(person)
    text = words(page.get(address(coupon, coupon.created_at - timedelta(days=1))))
    assert "It did not exist yet." in text
    assert "Last changed before that" not in text


@pytest.mark.parametrize("typed", ["tomorrow", "2026-13-01T10:00", "2100-01-01T00:00", ""])
def test_moment_that_is_none_or_has_not_come_is_refused_at_its_field(page, person, typed):
    answer = page.get(address(make_coupon(person)), {"on": typed})
    assert answer.status_code == 400
    assert 'class="why"' in answer.text


def test_run_shows_each_reading_with_its_corrections_and_why_it_was_left_out(page, person):
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding([4.5, 6.1]))
    after_first = timezone.now()
    runs.record(by=person, run=run, why="misread the scale", readings=sliding([4.6]))
    runs.record(by=person, run=run, why="misread it again", readings=sliding([4.7]))
    runs.exclude(by=person, why="fibre under the drop", reading=run.readings.current().get(drop=2))
    text = words(page.get(address(run)))
    row = re.search(r"1, 1 Sliding angle.*?1, 2 Sliding angle", text)[0]
    positions = [row.index(part) for part in ("4.5°", "4.6°", "misread the scale", "4.7°", "misread it again")]
    assert positions == sorted(positions)
    assert re.search(r"1, 2 Sliding angle 6\.1°.*left out.*fibre under the drop", text)
    then = words(page.get(address(run, after_first))).partition("Readings and their corrections")[0]
    assert "4.5°" in then
    assert "4.6°" not in then
    assert "fibre" not in then


def test_readings_as_of_are_those_that_were_current_then(person):
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding([4.5, 6.1]))
    first = timezone.now()
    runs.record(by=person, run=run, why="misread", readings=sliding([4.6]))
    values = [
        sorted(event.value for event in history.parts_as_of(person, run, on)[Reading]) for on in (first, timezone.now())
    ]
    assert values == [[4.5, 6.1], [4.6, 6.1]]


def test_state_of_a_run_as_of_follows_its_acts(page, person):
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding([4.5]))
    draft = timezone.now()
    runs.complete(by=person, run=run)
    assert "State draft" in words(page.get(address(run, draft)))
    assert "State complete" in words(page.get(address(run, timezone.now())))


def test_password_is_neither_shown_nor_kept(page, person):
    text = words(page.get(address(person)))
    assert "Not kept in the trail: password, last login" in text
    assert person.password not in text


def test_hostile_words_stand_as_typed(page, person):
    coupon = make_coupon(person)
    coupons.amend(by=person, why="<script>alert(1)</script>", coupon=coupon, remark="<b>&lt;")
    text = page.get(address(coupon)).text
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text
    assert "&lt;b&gt;&amp;lt;" in text


@pytest.mark.parametrize(
    "path", ["/history/nothing/1/", "/history/coupon/XX/", "/history/reading/x/", "/history/reading/0/"]
)
def test_what_is_not_there_is_not_found(page, path):
    assert page.get(path).status_code == 404


def test_queries_do_not_grow_with_the_history(page, person, queries_of):
    short, long = make_coupon(person), make_coupon(person)
    for number in range(12):
        coupons.amend(by=person, why=f"round {number}", coupon=long, place=f"Box {number}")
    few, many = queries_of(page, [address(short), address(long)]).values()
    assert few == many <= 20


def test_a_long_history_has_pages(page, person):
    coupon = make_coupon(person)
    for number in range(51):
        coupons.amend(by=person, why=f"round {number}", coupon=coupon, place=f"Box {number}")
    assert "round 50" in page.get(address(coupon)).text
    assert "round 0”" not in page.get(address(coupon)).text
    assert "round 0”" in page.get(address(coupon), {"page": 2}).text


def test_pages_of_records_lead_to_their_history(page, person):
    batch, run, liquid, rig = make_batch(person, n=1), make_run(person), make_liquid(person), make_instrument(person)
    coupon, recipe = batch.members.first().coupon, batch.recipe_revision.recipe
    places = {
        reverse("coupon", args=[coupon.code]): coupon,
        reverse("run", args=[run.code]): run,
        reverse("batch", args=[batch.code]): batch,
        reverse("recipe", args=[recipe.code]): recipe,
        reverse("instruments"): rig,
        reverse("liquids"): liquid,
        reverse("materials"): batch.lot,
        reverse("person", args=[person.pk]): person,
    }
    for place, row in places.items():
        assert f'href="{address(row)}"' in page.get(place).text, place


def test_recipe_as_of_holds_the_revisions_of_that_day(page, person):
    batch = make_batch(person, n=1)
    recipe, before = batch.recipe_revision.recipe, timezone.now()
    recipes.revise(by=person, why="hotter water", recipe=recipe, steps=[{"kind": "dry"}])
    assert "hotter water" not in words(page.get(address(recipe, before))).partition("Changes, newest")[0]
    assert "hotter water" in words(page.get(address(recipe, timezone.now()))).partition("Changes, newest")[0]


def test_instrument_as_of_holds_its_calibrations(page, person):
    rig = make_instrument(person)
    before = timezone.now()
    instruments.calibrate(by=person, instrument=rig, done_on="2026-02-01", due_on="2027-02-01", result="second look")
    assert "second look" not in words(page.get(address(rig, before))).partition("Changes, newest")[0]
    assert "second look" in words(page.get(address(rig, timezone.now()))).partition("Changes, newest")[0]


def test_nobody_reads_a_history_without_signing_in(client, person):
    assert Coupon.objects.exists() or make_coupon(person)
    answer = client.get(address(Person.objects.first()))
    assert (answer.status_code, answer.url.partition("?")[0]) == (302, reverse("sign-in"))


@pytest.fixture
def left(person):
    """A coupon that was in a members-only project, a moment at which it was, and the addresses that tell of it."""
    project = projects.start(by=person, code="P-SECRET", title="Hidden wings", members_only=True)
    coupon = make_coupon(person, project=project)
    then = timezone.now()
    coupons.amend(by=person, why="belongs nowhere", coupon=coupon, project=None)
    then, since = (at.isoformat().replace("+", "%2B") for at in (then, then - timedelta(days=1)))
    pages = [
        address(coupon),
        f"{address(coupon)}?on={then}",
        reverse("coupon", args=[coupon.code]),
        reverse("changes"),
        reverse("changes-file"),
    ]
    return coupon, [
        *pages,
        f"/api/coupons/{coupon.code}/history/",
        f"/api/coupons/{coupon.code}/as-of/?on={then}",
        f"/api/history/coupon/{coupon.code}/",
        f"/api/history/coupon/{coupon.code}/as-of/?on={then}",
        f"/api/history/?noun=coupon&since={since}",
    ]


def told(person, url):
    """What the address answers this person, also when it is sent in pieces."""
    client = APIClient()
    client.force_login(person)
    if url.startswith("/api/"):
        client.force_authenticate(person)
    answer = client.get(url)
    assert answer.status_code == 200, url
    return b"".join(answer).decode()


def test_project_that_a_coupon_has_left_is_named_to_its_members_only(person, left):
    _, urls = left
    operator = make_person("operator")
    for url in urls:
        text = told(operator, url)
        assert "P-SECRET" not in text, url
        assert "Hidden wings" not in text, url
        assert "P-SECRET" in told(person, url), url
    projects.open_up(by=person, why="published", project=person.memberships.get().project)
    assert "P-SECRET" in told(operator, urls[0])


def test_project_out_of_sight_is_told_in_words_and_as_null(left):
    coupon, urls = left
    operator = make_person("operator")
    assert "Project a project for members only nothing" in plain(told(operator, urls[0]))
    assert "belongs nowhere,Project,a project for members only,nothing" in told(operator, urls[4])
    [entered, amended] = json.loads(told(operator, f"/api/coupons/{coupon.code}/history/"))
    assert (entered["changed"]["project"], amended["before"], amended["changed"]) == (
        None,
        {"project": None},
        {"project": None},
    )


def test_copy_of_a_record_does_not_name_a_project_out_of_sight(person, left):
    coupon, _ = left
    archive = zipfile.ZipFile(io.BytesIO(copy_of(make_person("operator"), Coupon.objects.get(pk=coupon.pk))))
    assert [name for name in archive.namelist() if b"P-SECRET" in archive.read(name)] == []
