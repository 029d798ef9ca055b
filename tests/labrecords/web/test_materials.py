"""Substrate lots on the pages."""

import pytest
from django.urls import reverse

from labrecords.actions import coupons
from labrecords.models import SubstrateLot
from tests.factories import make_lot

pytestmark = pytest.mark.django_db


def test_logged_lot_stands_in_the_list_with_its_coupons(page, person):
    typed = {
        "code": "S-1",
        "material": "Aluminium",
        "form": "sheet",
        "thickness_mm": "1,5",
        "received_on": "2026-02-03",
    }
    page.post(reverse("material-log"), typed)
    lot = SubstrateLot.objects.get()
    assert (lot.thickness_mm, str(lot.received_on)) == (1.5, "2026-02-03")
    make_lot(person)  # sets up the lab
    coupons.log(by=person, lot=lot, count=7)
    text = page.get(reverse("materials"), {"q": "alu S-1"}).text
    assert "S-1" in text
    assert ">7</a>" in text


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"code": ""}, "Code is missing."),
        ({"code": "S-1"}, "it is taken already"),
        ({"thickness_mm": "0"}, "outside what is possible"),
        ({"form": "lump"}, "not one of the available choices"),
        ({"received_on": "3.2.2026"}, "is not a date as 2026-03-31"),
    ],
)
def test_refused_lot_is_not_stored_and_keeps_what_was_typed(page, person, wrong, words):
    make_lot(person, code="S-1")
    typed = {"code": "S-2", "material": "Aluminium", "form": "sheet", "supplier_lot": "melt 4711"}
    answer = page.post(reverse("material-log"), typed | wrong)
    assert words in answer.text
    assert "melt 4711" in answer.text
    assert SubstrateLot.objects.count() == 1


def test_operator_sees_no_button_and_is_refused(operator_page):
    assert reverse("material-log") not in operator_page.get(reverse("materials")).text
    typed = {"code": "S-1", "material": "Aluminium", "form": "sheet"}
    answer = operator_page.post(reverse("material-log"), typed)
    assert "may not log a substrate lot: that is open to developer" in answer.text
    assert SubstrateLot.objects.count() == 0


def test_queries_of_the_list_do_not_grow(page, person, queries_of):
    make_lot(person)
    before = queries_of(page, [reverse("materials")])
    for _ in range(9):
        make_lot(person)
    assert queries_of(page, [reverse("materials")]) == before
