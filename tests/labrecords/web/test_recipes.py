"""Recipes on the pages: written, revised, compared; kinds, cautions and bounds come from the declarations."""

import re

import pytest
from django.urls import reverse

from labrecords.actions import recipes
from labrecords.models import Recipe
from labrecords.processes import DEFER, FAMILIES, KINDS
from tests.factories import make_batch, make_recipe

pytestmark = pytest.mark.django_db

HEAD = {"code": "B-97", "title": "Boiled", "do": "save"}
BOILING = {
    "step": ["1"],
    "step-1-kind": "boiling",
    "step-1-instruction": "lid on",
    "step-1-value_temperature_c": "97,5",
    "step-1-tolerance_temperature_c": "2",
}


def htmx(page, address, data):
    return page.post(address, data, headers={"HX-Request": "true"})


def test_new_recipe_offers_every_declared_kind_by_family(page):
    text = page.get(reverse("recipe-new")).text
    for kind in KINDS.values():
        assert f'value="{kind.key}"' in text
    for family in FAMILIES.values():
        assert f'label="{family}"' in text


def test_recipe_is_stored_with_values_and_tolerances(page):
    typed = HEAD | BOILING | {"step": ["1", "2"], "step-2-kind": "dry", "step-2-value_way": "nitrogen"}
    answer = page.post(reverse("recipe-new"), typed)
    assert answer.url == reverse("recipe", args=["B-97"])
    steps = list(Recipe.objects.get().revisions.get().steps.values_list("order", "kind", "planned"))
    assert steps == [
        (1, "boiling", {"temperature_c": {"value": 97.5, "tolerance": 2}}),
        (2, "dry", {"way": {"text": "nitrogen"}}),
    ]


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.key)
def test_chosen_kind_shows_its_fields_and_cautions_and_proposes_no_amount(page, kind):
    answer = htmx(page, reverse("recipe-new"), {"do": "show", "step": ["1"], "step-1-kind": kind.key})
    assert "<html" not in answer.text
    names = set(re.findall(r'name="step-1-(?:value|tolerance)_(\w+)"', answer.text))
    assert names == {item.key for item in kind.fields}
    inputs = re.findall(r"<input[^>]*step-1-(?:value|tolerance)_[^>]*>", answer.text)
    assert not [tag for tag in inputs if " value=" in tag or "placeholder" in tag]
    assert (DEFER in answer.text) == bool(kind.hazards)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"step-1-value_temperature_c": "2000"}, "is outside -50 to 1500 °C"),
        ({"step-1-value_temperature_c": "hot"}, "is not a plain number"),
        ({"step-1-value_temperature_c": ""}, "a tolerance stands without its planned value"),
        ({"step-1-tolerance_temperature_c": "-1"}, "Tolerance of Temperature"),
        ({"step-1-kind": ""}, "Choose the kind of this step"),
        ({"step": []}, "a recipe has at least one step"),
        ({"code": ""}, "Code is missing"),
    ],
)
def test_refused_recipe_stores_nothing_and_keeps_what_was_typed(page, typed, words):
    answer = page.post(reverse("recipe-new"), HEAD | BOILING | typed)
    assert words in answer.text
    assert 'value="Boiled"' in answer.text
    assert ("lid on" in answer.text) == (typed != {"step": []})
    assert Recipe.objects.count() == 0


def test_taken_code_is_refused_at_its_field(page, person):
    make_recipe(person, code="B-97")
    answer = page.post(reverse("recipe-new"), HEAD | BOILING)
    assert "it is taken already" in answer.text
    assert 'value="97,5"' in answer.text
    assert Recipe.objects.count() == 1


@pytest.mark.parametrize(
    ("do", "keys"),
    [
        ("add", ["1", "7", "8"]),
        ("up-7", ["7", "1"]),
        ("down-1", ["7", "1"]),
        ("remove-1", ["7"]),
        ("up-1", ["1", "7"]),
        ("nonsense-9", ["1", "7"]),
    ],
)
def test_steps_are_rearranged_without_storing_and_keep_what_was_typed(page, do, keys):
    typed = {"do": do, "step": ["1", "7"], "step-7-kind": "boiling", "step-7-value_temperature_c": "97,5"}
    answer = page.post(reverse("recipe-new"), typed)
    assert re.findall(r'name="step" value="(\d+)"', answer.text) == keys
    assert 'value="97,5"' in answer.text
    assert Recipe.objects.count() == 0


def test_revision_needs_a_reason_and_the_page_shows_what_changed(page, person):
    recipe = make_recipe(person, code="B-97").recipe
    address = reverse("recipe-revise", args=["B-97"])
    text = page.get(address).text
    assert re.search(r'name="step-1-value_temperature_c" value="97"', text)
    typed = {"do": "save", "step": ["1", "3"], "step-1-kind": "boiling", "step-1-value_temperature_c": "95",
             "step-1-tolerance_temperature_c": "2", "step-3-kind": "rinse"}  # fmt: skip
    assert "Say why" in page.post(address, typed).text
    page.post(address, typed | {"why": "gentler on the lens"})
    assert recipe.revisions.count() == 2
    text = page.get(reverse("recipe", args=["B-97"])).text
    assert "gentler on the lens" in text
    changed = [re.sub(r"<[^>]+>", "|", row) for row in re.findall(r'<tr class="changed">(.*?)</tr>', text)]
    cells = [[cell for cell in row.split("|") if cell] for row in changed]
    assert cells == [
        ["1 Boiling in water", "Duration [min]", "20 ± 2", "–"],
        ["1 Boiling in water", "Temperature [°C]", "97 ± 2", "95 ± 2"],
        ["2 Drying", "step", "was there", "removed"],
        ["2 Rinsing", "step", "–", "added"],
    ]


def test_recipe_page_shows_cautions_batches_and_properties(page, person):
    from labrecords.actions import liquids

    batch = make_batch(person)
    recipe = batch.recipe_revision.recipe
    liquids.add_property(by=person, recipe=recipe, quantity="roughness_factor", value=1.8, source="invented")
    text = page.get(reverse("recipe", args=[recipe.code])).text
    for expected in ("scald and splash", DEFER, batch.code, "Roughness factor", "97 ± 2"):
        assert expected in text


def test_code_with_a_slash_has_a_page_too(page, person):
    make_recipe(person, code="B/97")
    assert page.get(reverse("recipe", args=["B/97"])).status_code == 200
    assert page.get(reverse("recipe-revise", args=["B/97"])).status_code == 200
    assert page.get(reverse("recipes")).status_code == 200


def test_operator_may_look_but_not_write(operator_page, person):
    recipe = make_recipe(person).recipe
    assert reverse("recipe-new") not in operator_page.get(reverse("recipes")).text
    address = reverse("recipe-revise", args=[recipe.code])
    assert address not in operator_page.get(reverse("recipe", args=[recipe.code])).text
    answer = operator_page.post(reverse("recipe-new"), HEAD | BOILING)
    assert "may not enter a recipe: that is open to developer" in answer.text
    assert Recipe.objects.count() == 1


def test_queries_do_not_grow_with_recipes_revisions_and_steps(page, person, queries_of):
    recipe = make_batch(person).recipe_revision.recipe
    addresses = [reverse("recipes"), reverse("recipe", args=[recipe.code])]
    before = queries_of(page, addresses)
    for number in range(4):
        make_recipe(person)
        steps = [{"kind": "rinse"} for _ in range(number + 2)]
        recipes.revise(by=person, why="longer", recipe=recipe, steps=steps)
    assert queries_of(page, addresses) == before
