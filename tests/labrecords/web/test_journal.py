"""All changes of a time span: every kind of record, by person, noun and day, on the page, in the API and as CSV."""

import csv
import io
import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from rest_framework.test import APIClient

from labrecords import history, journal
from labrecords.actions import attachments, coupons, runs
from labrecords.models import StoredFile
from tests.factories import make_coupon, make_person, make_run, sliding

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def coupon(person):
    coupon = make_coupon(person, place="Box 1")
    coupons.amend(by=person, why="=1+1", coupon=coupon, place="Shelf 2")
    return coupon


def words(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def everything():
    now = timezone.now()
    return journal.Span(now - timedelta(days=1), now + timedelta(days=1))


def test_every_event_of_every_table_is_there_newest_first(person, coupon):
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding([4]))
    lines = list(journal.found(person, everything()))
    assert len(lines) == sum(history.event_model(model).objects.count() for model in history.nouns().values())
    times = [at for _, _, at in lines]
    assert times == sorted(times, reverse=True)
    assert {"coupon", "reading", "test-run", "person"} <= {noun for noun, _, _ in lines}


def test_page_shows_both_values_with_who_when_and_why(page, person, coupon):
    text = words(page.get(reverse("changes"), {"noun": "coupon"}))
    line = re.search(rf"{person.full_name}: “=1\+1” coupon {coupon.code} changed Place Box 1 Shelf 2", text)
    assert line
    assert "UTC" in text


def test_page_is_narrowed_by_person_and_kind(page, person, coupon):
    other = make_person("operator", full_name="Second Hand")
    coupons.amend(by=other, why="by another", coupon=coupon, place="Shelf 3")
    mine = words(page.get(reverse("changes"), {"who": person.username}))
    theirs = words(page.get(reverse("changes"), {"who": other.username}))
    assert ("by another" in mine, "by another" in theirs) == (False, True)
    assert "=1+1" not in theirs
    assert f"coupon {coupon.code}" not in words(page.get(reverse("changes"), {"noun": "laboratory"}))


def test_days_are_whole_and_those_of_the_lab(page, coupon):
    today, before = timezone.localdate(), timezone.localdate() - timedelta(days=1)
    assert coupon.code in page.get(reverse("changes"), {"since": today, "until": today}).text
    text = page.get(reverse("changes"), {"since": before, "until": before}).text
    assert "Nothing was changed in this span." in text


@pytest.mark.parametrize(
    "asked", [{"since": "soon"}, {"since": "2026-02-01", "until": "2026-01-01"}, {"noun": "x"}, {"who": "x"}]
)
@pytest.mark.parametrize("name", ["changes", "changes-file"])
def test_what_cannot_be_asked_is_refused_at_its_field(page, asked, name):
    answer = page.get(reverse(name), asked)
    assert answer.status_code == 400
    assert 'class="why"' in answer.text


def test_file_holds_a_line_a_field_and_no_formula(page, person, coupon):
    answer = page.get(reverse("changes-file"), {"noun": "coupon"})
    assert answer.headers["Content-Disposition"].startswith("attachment")
    rows = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))
    [amended] = [row for row in rows if row["what"] == "changed"]
    assert (amended["record"], amended["field"]) == (coupon.code, "Place")
    assert (amended["original"], amended["amended"], amended["why"]) == ("Box 1", "Shelf 2", "'=1+1")
    assert amended["who"] == person.username
    assert {row["field"] for row in rows if row["what"] == "entered"} >= {"Code", "Place", "Substrate lot"}


def test_pages_and_queries_do_not_grow(page, person, coupon, queries_of):
    url = reverse("changes") + "?noun=coupon"
    few = queries_of(page, [url])[url]
    for number in range(60):
        coupons.amend(by=person, why=f"round {number}", coupon=coupon, place=f"Box {number}")
    assert queries_of(page, [url])[url] <= few
    assert "round 59" in page.get(url).text
    assert "round 1”" not in page.get(url).text
    assert "round 1”" in page.get(url + "&page=2").text


def test_api_gives_the_same_in_pages(person, coupon):
    api = APIClient()
    api.force_authenticate(person)
    asked = {"since": (timezone.now() - timedelta(days=1)).isoformat(), "noun": "coupon", "limit": 1}
    data = api.get("/api/history/", asked).json()
    assert data["count"] == 2
    [row] = data["results"]
    assert (row["record"], row["before"], row["changed"]) == (coupon.code, {"place": "Box 1"}, {"place": "Shelf 2"})
    first = api.get("/api/history/", asked | {"offset": 1}).json()["results"][0]
    assert first["what"] == "insert"
    assert api.get("/api/history/", {}).status_code == 400
    assert api.get("/api/history/", asked | {"noun": "x"}).json()["field"] == "noun"
    assert api.get("/api/history/", asked | {"order": "x"}).json()["field"] == "order"


def test_whole_files_are_not_read_to_list_them(page, person, coupon):
    attachments.add(by=person, owner=coupon, name="a.txt", data=b"x" * 1000)
    stored = StoredFile.objects.defer("file").get()
    urls = [reverse("changes"), reverse("coupon", args=[coupon.code])]
    urls += [reverse("history", args=["stored-file", stored.sha256])]
    urls += [reverse("history", args=["attachment", str(stored.attachments.get().pk)])]
    for url in urls:
        with CaptureQueriesContext(connection) as seen:
            assert page.get(url).status_code == 200
        assert [query["sql"] for query in seen if '"labrecords_storedfile"."file"' in query["sql"]] == [], url


def test_nobody_reads_it_without_signing_in(client):
    for name in ("changes", "changes-file"):
        assert client.get(reverse(name)).status_code == 302
    assert APIClient().get("/api/history/").status_code == 401
