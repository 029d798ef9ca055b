"""Liquids, lubricants, baths, their lots and properties on the pages."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from labrecords.actions import liquids
from labrecords.models import BathLot, ChallengeLiquid, LiquidLot, Lubricant, LubricantLot, Property
from tests.factories import make_liquid, make_liquid_lot

pytestmark = pytest.mark.django_db


def add(page, shelf, **typed):
    return page.post(reverse("liquid-add", args=[shelf]), typed)


def test_each_shelf_takes_its_own_kind_of_row(page):
    add(page, "liquids", code="W", name="Water", is_newtonian="on")
    liquid = ChallengeLiquid.objects.get()
    add(page, "liquid-lots", code="W-1", liquid=liquid.pk, prepared_on="2026-01-05", expires_on="2026-02-05")
    add(page, "lubricants", code="O", name="Oil", is_pfas="false", hazards=["fluorinated"])
    lubricant = Lubricant.objects.get()
    add(page, "lubricant-lots", code="O-1", lubricant=lubricant.pk, prepared_on="2026-01-05")
    add(page, "baths", code="B-1", title="Etch", prepared_on="2026-01-05", ph="1,2", hazards=["mineral_acid"])
    assert (liquid.is_newtonian, LiquidLot.objects.get().code) == (True, "W-1")
    assert (lubricant.is_pfas, lubricant.hazards, LubricantLot.objects.get().code) == (
        False,
        ["fluorinated"],
        "O-1",
    )
    assert (BathLot.objects.get().ph, BathLot.objects.get().hazards) == (1.2, ["mineral_acid"])
    for shelf, code in (
        ("liquids", "W"),
        ("liquid-lots", "W-1"),
        ("lubricants", "O"),
        ("lubricant-lots", "O-1"),
    ):
        assert f'<span class="code">{code}</span>' in page.get(reverse("liquids"), {"show": shelf}).text


def test_hazards_show_their_caution_and_defer(page):
    add(page, "baths", code="B-1", title="Etch", prepared_on="2026-01-05", hazards=["hydrofluoric_acid"])
    text = page.get(reverse("liquids"), {"show": "baths"}).text
    assert "H300 H310 H330 H314 EUH071" in text
    assert "Defer to the current safety data sheet" in text


@pytest.mark.parametrize(("days", "words"), [(-1, "expired</span>"), (0, "soon"), (14, "soon")])
def test_lot_that_is_over_or_ends_soon_is_marked(page, person, days, words):
    make_liquid_lot(person, expires_on=timezone.localdate() + timedelta(days=days))
    assert words in page.get(reverse("liquids"), {"show": "liquid-lots"}).text


def test_lot_with_time_left_is_not_marked(page, person):
    make_liquid_lot(person, expires_on=timezone.localdate() + timedelta(days=15))
    text = page.get(reverse("liquids"), {"show": "liquid-lots"}).text
    assert 'class="tag bad"' not in text
    assert 'class="tag warn"' not in text


def test_property_is_stored_with_unit_temperature_and_source(page, person):
    liquid = liquids.create(by=person, code="HD", name="Hexadecane")
    address = reverse("property-add", args=["liquid", "HD"])
    typed = {"quantity": "surface_tension", "value": "27,47", "uncertainty": "0.1", "temperature_c": "20"}
    assert "Source is missing." in page.post(address, typed).text
    page.post(address, typed | {"source": "invented sheet"})
    row = Property.objects.get()
    assert (row.liquid, row.value, row.temperature_c, row.source) == (liquid, 27.47, 20, "invented sheet")
    text = page.get(reverse("liquids")).text
    for expected in ("Surface tension [mN/m]", "27.47", "invented sheet"):
        assert expected in text


def test_impossible_property_is_refused_at_its_field_and_kept(page, person):
    liquid = make_liquid(person)
    before = Property.objects.count()
    typed = {"quantity": "density", "value": "-5", "source": "a slip of the pen"}
    answer = page.post(reverse("property-add", args=["liquid", liquid.code]), typed)
    assert "is outside what is possible" in answer.text
    assert "a slip of the pen" in answer.text
    assert Property.objects.count() == before


def test_newer_property_counts_and_the_older_stays(page, person):
    liquid = make_liquid(person, tension=72.1)
    liquids.add_property(by=person, liquid=liquid, quantity="surface_tension", value=71.9, source="a second look")
    text = page.get(reverse("liquids")).text
    assert text.index("71.9") < text.index("72.1")
    assert text.count("replaced by a newer one") == 1


def test_operator_may_log_lots_but_not_add_liquids(operator_page, person):
    liquid = make_liquid(person)
    assert reverse("liquid-add", args=["liquids"]) not in operator_page.get(reverse("liquids")).text
    assert "open to" in add(operator_page, "liquids", code="X", name="X").text
    add(operator_page, "liquid-lots", code="W-1", liquid=liquid.pk, prepared_on="2026-01-05")
    assert LiquidLot.objects.get().code == "W-1"


def test_lot_that_expires_before_it_was_prepared_is_refused(page, person):
    liquid = make_liquid(person)
    typed = {"code": "W-1", "liquid": liquid.pk, "prepared_on": "2026-02-05", "expires_on": "2026-01-05"}
    assert "Nothing was stored" in add(page, "liquid-lots", **typed).text
    assert LiquidLot.objects.count() == 0


def test_queries_of_the_shelves_do_not_grow(page, person, queries_of):
    shelves = ("liquids", "liquid-lots", "lubricants", "lubricant-lots", "baths")
    addresses = [f"{reverse('liquids')}?show={shelf}" for shelf in shelves]

    def more(number):
        lot = make_liquid_lot(person)
        liquids.add_property(by=person, liquid_lot=lot, quantity="density", value=998, source="invented")
        oil = liquids.create_lubricant(by=person, code=f"O{number}", name="Oil")
        tension = {
            "quantity": "interfacial_tension",
            "against_liquid": lot.liquid,
            "value": 40,
            "source": "invented",
        }
        liquids.add_property(by=person, lubricant=oil, **tension)
        liquids.log_lubricant_lot(by=person, code=f"OL{number}", lubricant=oil, prepared_on="2026-01-05")
        liquids.log_bath_lot(by=person, code=f"B{number}", title="Etch", prepared_on="2026-01-05")

    more(0)
    before = queries_of(page, addresses)
    for number in range(1, 6):
        more(number)
    assert queries_of(page, addresses) == before
