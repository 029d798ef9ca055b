"""Coupons on the pages: found, logged, split, moved, amended."""

import re
import time
from datetime import UTC, datetime

import pytest
from django.urls import reverse

from labrecords.actions import batches, coupons, processing, runs
from labrecords.models import Coupon, SubstrateLot
from tests.factories import make_batch, make_coupon, make_lot, make_run, sliding

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 3, 2, 9, tzinfo=UTC)


def test_nobody_sees_a_coupon_without_signing_in(client, person):
    coupon = make_coupon(person)
    answer = client.get(reverse("coupon", args=[coupon.code]))
    assert answer.status_code == 302
    assert answer.url.startswith(reverse("sign-in"))


@pytest.mark.parametrize("words", ["TS-", "K7", "drawer", "SHEET-X", "polycarb", "polycarb k7"])
def test_search_finds_by_code_mark_place_lot_and_material(page, person, words):
    lot = make_lot(person, code="SHEET-X", material="Polycarbonate")
    wanted = make_coupon(person, lot=lot, marks=["K7"], place="drawer 4")
    other = make_coupon(person, lot=make_lot(person, code="OTHER"))
    text = page.get(reverse("coupons"), {"q": words}).text
    assert wanted.code in text
    assert (other.code in text) == (words == "TS-")


def test_state_filter_and_paging(page, person):
    made = coupons.log(by=person, lot=make_lot(person), count=51)
    coupons.move(by=person, why="bent", coupon=made[3], state="discarded")
    first, second = page.get(reverse("coupons")).text, page.get(reverse("coupons"), {"page": 2}).text
    assert made[50].code in first
    assert made[0].code not in first
    assert made[0].code in second
    discarded = page.get(reverse("coupons"), {"state": "discarded"}).text
    assert made[3].code in discarded
    assert made[4].code not in discarded


def test_mistyped_code_is_explained(page, person):
    code = make_coupon(person).code
    wrong = code[:-1] + ("0" if code[-1] != "0" else "1")
    assert "probably mistyped" in page.get(reverse("coupons"), {"q": wrong}).text
    answer = page.get(reverse("coupon", args=[wrong]))
    assert answer.status_code == 404
    assert "probably mistyped" in answer.text


def test_log_one_goes_to_its_page(page, person):
    lot = make_lot(person)
    typed = {"lot": lot.pk, "count": "1", "exposed_area_mm2": "1600,5", "marks": "A1"}
    answer = page.post(reverse("coupon-log"), typed)
    coupon = Coupon.objects.get()
    assert answer.url == reverse("coupon", args=[coupon.code])
    assert (coupon.exposed_area_mm2, coupon.mark, coupon.created_by) == (1600.5, "A1", person)


def test_log_many_with_marks_in_order(page, person):
    page.post(reverse("coupon-log"), {"lot": make_lot(person).pk, "count": "3", "marks": "A1\nA2, A3"})
    assert [coupon.mark for coupon in Coupon.objects.order_by("number")] == ["A1", "A2", "A3"]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"count": "501"}, "is not between 1 and 500"),
        ({"count": "many"}, "is not a plain number"),
        ({"exposed_area_mm2": "1e3"}, "is not a plain number"),
        ({"marks": "A1,A2,A3"}, "3 are more than 2 coupons"),
        ({"lot": ""}, "Substrate lot is missing"),
        ({"mark": "x", "place": "p" * 81}, "at most 80 characters"),
    ],
)
def test_refused_log_stores_nothing_and_keeps_what_was_typed(page, person, wrong, words):
    typed = {
        "lot": make_lot(person).pk,
        "count": "2",
        "remark": "from the left edge",
        "exposed_area_mm2": "900",
    }
    answer = page.post(reverse("coupon-log"), typed | wrong)
    assert words in answer.text
    assert "from the left edge" in answer.text
    assert Coupon.objects.count() == 0


def test_log_without_the_role_is_refused_in_the_actions_words(client, person):
    from tests.factories import make_person

    lot = make_lot(person)
    client.force_login(make_person("administrator"))
    answer = client.post(reverse("coupon-log"), {"lot": lot.pk, "count": "1"})
    # The administrator looks at no records either, so the page itself is not open.
    assert (answer.status_code, "may not look at coupons: that is open to operator" in answer.text) == (403, True)
    assert Coupon.objects.count() == 0
    assert reverse("coupon-log") not in client.get(reverse("coupons")).text
    client.force_login(make_person("operator"))
    answer = client.post(reverse("material-log"), {"code": "NEW", "material": "Aluminium", "form": "sheet"})
    assert "may not log a substrate lot: that is open to developer" in answer.text
    assert SubstrateLot.objects.count() == 1


def test_split_gives_children_with_positions_and_shared_size(page, person):
    parent = make_coupon(person)
    typed = {
        "do": "split", "pieces": "2", "all-length_mm": "20", "all-width_mm": "10", "all-consume": "on",
        "piece-1-position": "left", "piece-2-position": "right", "piece-2-width_mm": "12,5",
    }  # fmt: skip
    page.post(reverse("coupon-split", args=[parent.code]), typed)
    parent.refresh_from_db()
    children = [(child.position, child.length_mm, child.width_mm) for child in parent.children.all()]
    assert children == [("left", 20, 10), ("right", 20, 12.5)]
    assert parent.state == "consumed"


def test_split_shows_more_rows_without_writing_and_keeps_what_was_typed(page, person):
    parent = make_coupon(person)
    typed = {"do": "rows", "pieces": "4", "piece-1-position": "upper left"}
    text = page.post(reverse("coupon-split", args=[parent.code]), typed).text
    assert 'name="piece-4-position"' in text
    assert 'value="upper left"' in text
    assert parent.children.count() == 0


def test_split_of_a_discarded_coupon_is_refused(page, person):
    parent = make_coupon(person)
    coupons.move(by=person, why="bent", coupon=parent, state="discarded")
    answer = page.post(reverse("coupon-split", args=[parent.code]), {"do": "split", "pieces": "2"})
    assert "it cannot become split from there" in answer.text
    assert parent.children.count() == 0


def test_move_needs_a_reason_and_shows_in_the_history(page, person):
    coupon = make_coupon(person)
    address = reverse("coupon-move", args=[coupon.code])
    assert "Say why" in page.post(address, {"state": "discarded", "why": " "}).text
    page.post(address, {"state": "discarded", "why": "bent in the vice"})
    text = page.get(reverse("coupon", args=[coupon.code])).text
    assert "bent in the vice" in text
    assert person.full_name in text
    assert "state: in stock → <strong>discarded</strong>" in text
    assert reverse("coupon-move", args=[coupon.code]) not in text


def test_move_offers_only_states_that_can_follow(page, person):
    coupon = make_coupon(person)
    coupons.move(by=person, why="kept", coupon=coupon, state="retained")
    text = page.get(reverse("coupon-move", args=[coupon.code])).text
    assert 'value="in_test"' in text
    assert 'value="in_process"' not in text


def test_amend_changes_what_was_changed_and_asks_for_the_reason(page, person):
    coupon = make_coupon(person, place="drawer 4")
    address = reverse("coupon-amend", args=[coupon.code])
    typed = {"place": "drawer 5", "exposed_area_mm2": "1600"}
    answer = page.post(address, typed)
    assert "Say why" in answer.text
    assert 'value="drawer 5"' in answer.text
    page.post(address, typed | {"why": "tidied"})
    coupon.refresh_from_db()
    assert (coupon.place, coupon.exposed_area_mm2) == ("drawer 5", 1600)
    assert "differs from what is stored" in page.post(address, typed | {"why": "again"}).text


def test_life_shows_batch_steps_cautions_runs_and_numbers(page, person):
    batch = make_batch(person, n=1)
    coupon = batch.members.get().coupon
    boiling = batch.recipe_revision.steps.get(order=1)
    done = {
        "actual": {"temperature_c": 92},
        "reasons": {"temperature_c": "thermostat stuck"},
        "masses": {coupon.code: (5012.5, None)},
    }
    processing.record(by=person, batch=batch, step=boiling, coupons=[coupon], started_at=NINE, **done)
    run = make_run(person, coupon=coupon)
    runs.record(by=person, run=run, readings=sliding(["4", "5", "6"]))
    text = page.get(reverse("coupon", args=[coupon.code])).text
    cautions = ["scald and splash", "Defer to the current safety data sheet"]
    for expected in [batch.code, *cautions, "thermostat stuck", "outside", "5012.5", run.code]:
        assert expected in text
    assert "<strong>5.0°" in text  # hand: the median of 4, 5 and 6
    assert "n = 3 drops" in text


def test_queries_of_list_and_life_do_not_grow_with_rows(page, person, queries_of):
    batch = make_batch(person, n=1)
    coupon = batch.members.get().coupon
    addresses = [reverse("coupons"), reverse("coupon", args=[coupon.code])]

    def more():
        run = make_run(person, coupon=coupon)
        runs.record(by=person, run=run, readings=sliding(["4", "5"]))
        coupons.log(by=person, lot=make_lot(person), count=12)
        for step in batch.recipe_revision.steps.all():
            processing.record(by=person, batch=batch, step=step, coupons=[coupon], started_at=NINE)

    more()
    before = queries_of(page, addresses)
    for _ in range(3):
        more()
    other = make_batch(person)
    batches.join(by=person, why="a second control", batch=other, coupon=coupon, role="control")
    assert queries_of(page, addresses) == before


@pytest.mark.alone
def test_list_answers_within_a_tenth_of_a_second(page, person):
    coupons.log(by=person, lot=make_lot(person), count=300)
    took = []
    for _ in range(5):
        start = time.perf_counter()
        page.get(reverse("coupons"), {"q": "alu TS-"})
        took.append(time.perf_counter() - start)
    assert min(took) < 0.1


def _typed(text):
    """What a form would send as it stands: name -> value."""
    form = re.search(r'<form method="post" class="card".*?</form>', text, re.S)[0]
    found = dict(re.findall(r'<input[^>]* name="(\w+)" value="([^"]*)"', form))
    texts = dict(re.findall(r'<textarea[^>]* name="(\w+)"[^>]*>\n?(.*?)</textarea>', form, re.S))
    return found | texts


def test_amending_from_a_page_of_before_another_amendment_is_refused(page, person):
    coupon = make_coupon(person, exposed_area_mm2=1600)
    address = reverse("coupon-amend", args=[coupon.code])
    early = _typed(page.get(address).text)
    coupons.amend(by=person, why="measured anew", coupon=coupon, exposed_area_mm2=900)
    answer = page.post(address, early | {"remark": "a scratch", "why": "saw a scratch"})
    assert "was changed by" in answer.text
    assert "Nothing of yours was stored" in answer.text
    coupon.refresh_from_db()
    assert (coupon.exposed_area_mm2, coupon.remark) == (900, "")
    page.post(address, _typed(page.get(address).text) | {"remark": "a scratch", "why": "saw a scratch"})
    coupon.refresh_from_db()
    assert (coupon.exposed_area_mm2, coupon.remark) == (900, "a scratch")


@pytest.mark.parametrize("size", [1234.123456789, 1600.0, 100 / 3, 0.1 + 0.2])
def test_amending_one_field_leaves_a_size_as_it_is_stored(page, person, size):
    coupon = make_coupon(person, exposed_area_mm2=size)
    address = reverse("coupon-amend", args=[coupon.code])
    page.post(address, _typed(page.get(address).text) | {"remark": "a scratch", "why": "saw a scratch"})
    coupon.refresh_from_db()
    assert (coupon.exposed_area_mm2, coupon.remark) == (size, "a scratch")
