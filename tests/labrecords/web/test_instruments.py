"""Instruments and calibrations on the pages."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from labrecords.actions import instruments
from labrecords.models import Calibration, Instrument
from tests.factories import make_instrument

pytestmark = pytest.mark.django_db


def test_instrument_and_calibration_are_entered(page):
    page.post(reverse("instrument-add"), {"code": "RIG-A", "title": "Tilt stage", "software": "2.1"})
    address = reverse("instrument-calibrate", args=["RIG-A"])
    page.post(address, {"done_on": "2026-01-05", "due_on": "2099-01-05", "result": "zero within 0.1°"})
    assert str(Calibration.objects.get().due_on) == "2099-01-05"
    text = page.get(reverse("instruments")).text
    assert "zero within 0.1°" in text
    assert "overdue" not in text


@pytest.mark.parametrize(("days", "words"), [(-1, "overdue"), (3, "soon"), (400, "")])
def test_calibration_is_marked_by_its_due_date(page, person, days, words):
    make_instrument(person, due=timezone.localdate() + timedelta(days=days))
    text = page.get(reverse("instruments")).text
    assert ("overdue</span>" in text, "soon</span>" in text) == (words == "overdue", words == "soon")


def test_only_the_latest_calibration_counts(page, person):
    rig = make_instrument(person, due=date(2026, 1, 2))
    instruments.calibrate(by=person, instrument=rig, done_on=date(2026, 1, 3), due_on=date(2099, 1, 3), result="fine")
    assert "overdue</span>" not in page.get(reverse("instruments")).text


def test_instrument_without_calibration_is_marked(page, person):
    instruments.create(by=person, code="RIG-B", title="Balance")
    assert "never calibrated" in page.get(reverse("instruments")).text


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"due_on": "2025-01-01"}, "Nothing was stored"),
        ({"done_on": "yesterday"}, "is not a date as"),
        ({"result": ""}, "Result is missing"),
    ],
)
def test_refused_calibration_keeps_what_was_typed(page, person, wrong, words):
    instruments.create(by=person, code="RIG-C", title="Balance")
    typed = {"done_on": "2026-01-05", "due_on": "2027-01-05", "result": "fine", "certificate": "K-77"}
    answer = page.post(reverse("instrument-calibrate", args=["RIG-C"]), typed | wrong)
    assert words in answer.text
    assert 'value="K-77"' in answer.text
    assert Calibration.objects.count() == 0


def test_unknown_instrument_is_a_page_in_words(page):
    answer = page.get(reverse("instrument-calibrate", args=["NOWHERE"]))
    assert answer.status_code == 404
    assert "There is no instrument “NOWHERE”" in answer.text


def test_operator_sees_no_buttons_and_is_refused(operator_page):
    assert reverse("instrument-add") not in operator_page.get(reverse("instruments")).text
    operator_page.post(reverse("instrument-add"), {"code": "RIG-A", "title": "Tilt stage"})
    assert Instrument.objects.count() == 0


def test_queries_do_not_grow(page, person, queries_of):
    make_instrument(person)
    before = queries_of(page, [reverse("instruments")])
    for _ in range(6):
        make_instrument(person)
    assert queries_of(page, [reverse("instruments")]) == before
