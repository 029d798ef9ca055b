"""Safety data sheets beside the cautions: dated, the newest edition first, missing and old ones told."""

import re
from datetime import date

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from labrecords.actions import data_sheets, liquids
from labrecords.errors import ValueRefused
from labrecords.models import DataSheet
from labrecords.processes import HAZARDS
from labrecords.trail import recorded
from tests.factories import make_batch, make_method_version, make_recipe

pytestmark = pytest.mark.django_db


def sheet(person, material="Ethanol, 99 %", **said):
    fields = {"hazards": ["solvent"], "place": "https://sheets.example/ethanol", "revised_on": date(2026, 1, 5)}
    return data_sheets.record(by=person, material=material, **fields | said)


@pytest.fixture
def step(person):
    """The page of a step with a solvent."""
    revision = make_recipe(person, steps=[{"kind": "solvent_clean", "planned": {}}])
    assert "solvent" in revision.steps.get().declaration.hazards
    batch = make_batch(person, n=1, recipe_revision=revision)
    return reverse("batch-step", args=[batch.code, 1])


def test_step_names_the_sheet_with_link_and_date(page, person, step):
    sheet(person)
    text = page.get(step).text
    link = '<a href="https://sheets.example/ethanol" rel="noopener noreferrer">Ethanol, 99 %</a>'
    assert f'{link} of <span class="date">2026-01-05</span>' in text
    assert "solvent vapour" not in text.partition("No data sheet recorded for:")[2].partition("</p>")[0]


def test_step_without_a_sheet_says_so_and_leads_to_the_form(page, person, step):
    text = page.get(step).text
    assert "No data sheet recorded for: " in text
    told = text.partition("No data sheet recorded for: ")[2].partition("</p>")[0]
    assert "solvent vapour" in told
    assert 'href="/data-sheets/add/?' in told
    form = page.get(reverse("data-sheet-add") + "?hazards=solvent").text
    assert re.findall(r'<input[^>]* value="(\w+)"[^>]* checked', form) == ["solvent"]


def test_what_is_no_substance_asks_for_no_sheet():
    physical = {tag for tag, hazard in HAZARDS.items() if not hazard.is_of_substance}
    assert {"hot_water", "laser", "plasma", "blood", "sharp_blade"} <= physical
    assert {"hydrofluoric_acid", "solvent", "dc_bath", "fluorinated"} & physical == set()
    assert data_sheets.beside(["hot_water"], []) == ([], [])


def test_newest_edition_counts_and_earlier_ones_stay_to_be_seen(page, person, step):
    sheet(person, revised_on=date(2025, 2, 3))
    sheet(person, material="ethanol, 99 %", place="folder 4")  # the same material, written otherwise
    text = page.get(step).text
    assert 'ethanol, 99 % (folder 4) of <span class="date">2026-01-05' in text
    assert "2025-02-03" not in text
    listed = page.get(reverse("data-sheets")).text
    assert "2025-02-03" in listed
    assert "an earlier edition" in listed


def test_old_sheet_is_flagged_and_stays_in_force(page, person, step):
    today = timezone.localdate()
    sheet(person, revised_on=today.replace(year=today.year - 4, day=1))
    assert "over 3 years old: ask for the current one" in page.get(step).text
    assert "over 3 years old" in page.get(reverse("data-sheets")).text


@pytest.mark.parametrize(
    ("on", "old"), [("2023-11-26", False), ("2023-11-25", True), ("2024-01-01", False), ("2022-12-31", True)]
)
def test_three_years_to_the_day(monkeypatch, on, old):
    monkeypatch.setattr(timezone, "localdate", lambda: date(2026, 11, 26))
    assert DataSheet(revised_on=date.fromisoformat(on)).is_old is old


def test_withdrawn_sheet_is_not_named_and_no_earlier_one_takes_its_place(page, person, step):
    sheet(person, revised_on=date(2025, 2, 3))
    newest = sheet(person)
    address = reverse("data-sheet-withdraw", args=[newest.pk])
    assert "Say why" in page.post(address, {"why": ""}).text
    page.post(address, {"why": "no longer bought"})
    assert "Safety data sheet" not in page.get(step).text
    assert "no longer bought" in page.get(reverse("data-sheets")).text
    with pytest.raises(ValueRefused, match="withdrawn already"):
        data_sheets.withdraw(by=person, why="again", data_sheet=newest)


def test_mistake_is_withdrawn_and_recorded_again(page, person, step):
    sheet(person, revised_on=date(2025, 2, 3), place="folder 1")
    wrong = sheet(person, place="flder 4")
    data_sheets.withdraw(by=person, why="place mistyped", data_sheet=wrong)
    assert "Safety data sheet" not in page.get(step).text
    sheet(person, place="folder 4")
    assert "Ethanol, 99 % (folder 4) of" in page.get(step).text


def test_mistyped_later_date_hides_no_sheet_for_good(page, person, step):
    wrong = sheet(person, revised_on=date(2026, 11, 5))
    data_sheets.withdraw(by=person, why="it says May", data_sheet=wrong)
    sheet(person, revised_on=date(2026, 5, 11), place="folder 4")
    assert "Ethanol, 99 % (folder 4) of" in page.get(step).text


@pytest.mark.parametrize("place", ["javascript:alert(1)", "data:text/html,x", "//evil.example", "folder 4, shelf 2"])
def test_only_an_address_of_the_web_becomes_a_link(page, person, place):
    sheet(person, place=place)
    text = page.get(reverse("data-sheets")).text
    assert place in text
    assert f'href="{place}' not in text


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"hazards": []}, "“none” was ticked: a sheet has its cautions"),
        ({"hazards": ["witchcraft"]}, "witchcraft"),
        ({"place": ""}, "is missing"),
        ({"revised_on": "last year"}, "is not a date"),
        ({"revised_on": "2999-01-01"}, "is in the future"),
        ({"material": "ETHANOL, 99 %"}, "this edition is recorded already"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_stored(page, person, said, words):
    sheet(person)
    typed = {"material": "Acetone", "hazards": ["solvent"], "place": "folder 5", "revised_on": "2026-01-05"}
    answer = page.post(reverse("data-sheet-add"), typed | said)
    assert words in answer.text
    assert DataSheet.objects.count() == 1


def test_sheets_stand_beside_methods_liquids_and_new_runs(page, person):
    sheet(person, material="Diiodomethane", hazards=["probe_liquid"], place="folder 7")
    liquids.create(by=person, code="DIM", name="Diiodomethane", hazards=["probe_liquid"])
    version = make_method_version(
        person, "probe_liquid_angles", {"component_set": "set_a", "model": "owrk", "angle_kind": "resting"}
    )
    assert "probe_liquid" in version.declaration.hazards
    addresses = [reverse("liquids"), reverse("methods"), f"{reverse('run-new')}?method_version={version.pk}"]
    for address in addresses:
        assert "Diiodomethane (folder 7) of" in page.get(address).text, address


def test_a_page_with_many_cautions_asks_for_the_sheets_once(page, person):
    for number in range(3):
        liquids.create(by=person, code=f"L{number}", name="Hexane", hazards=["solvent"])
    with CaptureQueriesContext(connection) as asked:
        page.get(reverse("liquids"))
    assert len([query for query in asked if 'FROM "labrecords_datasheet"' in query["sql"]]) == 1


def test_what_was_recorded_stays_as_it_was(person):
    """The database's own rules: nothing of an edition changes, and what was withdrawn stays so."""
    made = sheet(person)
    for change in ({"place": "folder 9"}, {"revised_on": date(2026, 2, 1)}, {"hazards": ["caustic"]}):
        with pytest.raises(DatabaseError, match="Cannot update rows"), transaction.atomic(), recorded("tests", "try"):
            DataSheet.objects.filter(pk=made.pk).update(**change)
    data_sheets.withdraw(by=person, why="wrong sheet", data_sheet=made)
    with pytest.raises(DatabaseError, match="Cannot update rows"), transaction.atomic(), recorded("tests", "try"):
        DataSheet.objects.filter(pk=made.pk).update(withdrawn_by=None, withdrawn_because="")
