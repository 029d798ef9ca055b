"""Releases of the program put to use: what runs is told by the program, what was checked by people, for good."""

import re
import sys

import django
import pytest
from django.db import DatabaseError, transaction
from django.urls import reverse

import analysis
import labrecords
from labrecords.actions import health, releases
from labrecords.models import Release
from labrecords.trail import recorded

pytestmark = pytest.mark.django_db

SAID = {"authorised_because": "first use", "checked": "9 486 passed\n0 failed", "place": "folder 7"}


def test_page_says_what_runs_and_that_nobody_recorded_a_check(page):
    text = page.get(reverse("releases")).text
    assert f"Here runs program {labrecords.VERSION}, analysis {analysis.CODE_VERSION}" in text
    assert f"Python {sys.version.split()[0]}, Django {django.__version__}, PostgreSQL " in text
    assert "no record that it was checked here" in text


def test_a_record_holds_what_ran_who_when_and_what_was_checked(page, person):
    page.post(reverse("release-add"), SAID | {"program": "99", "surroundings": "a better machine"})
    row = Release.objects.get()
    assert (row.program, row.analysis, row.created_by) == (labrecords.VERSION, analysis.CODE_VERSION, person)
    assert row.surroundings == releases.running()["surroundings"]
    text = page.get(reverse("releases")).text
    assert re.search(rf"put to use by {person.full_name} on", text)
    assert "9 486 passed<br>0 failed" in text
    assert "folder 7" in text


@pytest.mark.parametrize("missing", list(SAID))
def test_nothing_is_stored_without_what_was_checked_where_and_why(page, missing):
    assert "is missing" in page.post(reverse("release-add"), SAID | {missing: " "}).text
    assert not Release.objects.exists()


def test_another_version_is_not_taken_for_checked(page, person, monkeypatch):
    releases.put_to_use(by=person, **SAID)
    assert releases.current() is not None
    monkeypatch.setattr(labrecords, "VERSION", "2099.1")
    assert releases.current() is None
    assert "no record that it was checked here" in page.get(reverse("releases")).text


def test_a_record_is_never_changed(person):
    releases.put_to_use(by=person, **SAID)
    with pytest.raises(DatabaseError, match="Cannot update rows"), transaction.atomic(), recorded("tests", "try"):
        Release.objects.update(checked="all fine")


def test_health_says_who_put_it_to_use(person):
    def told():
        return next(item for item in health.look(by=person) if item.key == "release").value

    assert "no record that this version was checked here" in told()
    releases.put_to_use(by=person, **SAID)
    assert f"put to use by {person.full_name} on" in told()
