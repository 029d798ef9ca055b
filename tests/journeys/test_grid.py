"""The entry grid in a real browser: keys, marks at once, running statistics, reload, conflict."""

import pytest
from playwright.sync_api import expect

from labrecords.actions import runs
from labrecords.models import Reading
from tests.factories import make_method_version, make_person, make_run

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def person():
    return make_person("quality", full_name="First Hand")


@pytest.fixture
def opened(browser_page, sign_in, person):
    """The page of a new sliding-angle run with its empty grid."""

    def open_run(method="sliding_angle"):
        run = make_run(person, method_version=make_method_version(person, method))
        sign_in(browser_page, person)
        browser_page.goto(f"/runs/{run.code}/")
        return run, browser_page

    return open_run


def cell(page, row, quantity="sliding_angle"):
    return page.locator(f"#value-{row}-{quantity}")


def running(page, name, quantity="sliding_angle"):
    return page.locator(f'[data-sum="{quantity}"] [data-out="{name}"]').inner_text()


def saved():
    return [(r.position, r.quantity, r.value, r.qualifier) for r in Reading.objects.current().order_by("id")]


def test_five_drops_by_keyboard_alone(opened):
    _, page = opened()
    cell(page, 0).focus()
    for keys in ("3,5", "5.7", "n", "p", "x"):
        page.keyboard.type(keys)
        if keys == "x":
            page.keyboard.type("bubble")
        page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "save"
    page.keyboard.press("Enter")
    page.get_by_text("Readings saved.").wait_for()
    assert saved() == [
        ("1", "sliding_angle", 3.5, "measured"),
        ("2", "sliding_angle", 5.7, "measured"),
        ("3", "sliding_angle", 30.0, "not_moved"),
        ("4", "sliding_angle", 0.0, "moved_on_placing"),
        ("5", "sliding_angle", None, "lost"),
    ]
    assert Reading.objects.get(qualifier="lost").reason == "bubble"


def test_enter_goes_through_both_angles_of_a_drop_and_shift_enter_back(opened):
    _, page = opened("advancing_receding")
    cell(page, 0, "advancing_angle").focus()
    page.keyboard.type("113,1")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "value-0-receding_angle"
    page.keyboard.type("111.3")
    assert page.locator("tbody tr").first.locator("output").inner_text() == "1.80"  # hand: 113.1 − 111.3
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "value-1-advancing_angle"
    page.keyboard.press("Shift+Enter")
    assert page.evaluate("document.activeElement.id") == "value-0-receding_angle"
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.id") == "value-1-receding_angle"
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("document.activeElement.id") == "value-1-advancing_angle"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("91", "outside 0 to 90°"),
        ("31", "beyond the stage limit of 30°"),
        ("-1", "outside 0 to 90°"),
        ("1_0", "not a plain number"),
        ("1e1", "not a plain number"),
        ("٣", "not a plain number"),
    ],
)
def test_impossible_value_is_marked_at_once(opened, typed, words):
    _, page = opened()
    cell(page, 0).fill(typed)
    assert page.locator("#problem-0-sliding_angle").inner_text() == words
    assert cell(page, 0).get_attribute("aria-invalid") == "true"
    cell(page, 0).fill("3,5")
    assert page.locator("#problem-0-sliding_angle").inner_text() == ""


def test_receding_above_advancing_is_marked_at_once(opened):
    _, page = opened("advancing_receding")
    cell(page, 0, "advancing_angle").fill("110")
    cell(page, 0, "receding_angle").fill("110,1")
    assert page.locator("#problem-0-receding_angle").inner_text() == "receding above advancing"


def test_running_statistics_keep_what_did_not_move(opened):
    # published in the lab's worked example (invented data): 11.8, 18.8, 9.4 and two not moved -> median 18.8
    _, page = opened()
    for row, value in enumerate(["11.8", "18,8", "9.4"]):
        cell(page, row).fill(value)
    assert running(page, "mean") == "13.33°"  # hand: 40.0 / 3
    assert running(page, "sd") == "4.88°"  # hand: √((1.533² + 5.467² + 3.933²) / 2)
    for row in (3, 4):
        cell(page, row).focus()
        page.keyboard.press("n")
    assert running(page, "n") == "5"
    assert running(page, "stuck") == "2 of 5"
    assert running(page, "median") == "18.8°"
    assert running(page, "mean") == "not given"
    assert "interval" not in page.locator(".tiles").inner_text()


def test_reload_loses_nothing_and_a_save_clears_what_was_kept(opened):
    _, page = opened()
    cell(page, 0).fill("3,5")
    cell(page, 1).focus()
    page.keyboard.press("n")
    page.get_by_role("button", name="Add rows").click()
    cell(page, 5).fill("4.4")
    page.reload()
    assert cell(page, 0).input_value() == "3,5"
    assert page.locator("td.cell").nth(1).get_attribute("data-qualifier") == "not_moved"
    assert cell(page, 5).input_value() == "4.4"
    assert "3 entries typed here" in page.locator(".restored").inner_text()
    page.get_by_role("button", name="Save readings").click()
    page.get_by_text("Readings saved.").wait_for()
    assert page.evaluate("localStorage.length") == 0
    assert [value for _, _, value, _ in saved()] == [3.5, 30.0, 4.4]


def test_second_person_keeps_what_was_typed_sees_the_other_and_saves_again(opened):
    run, page = opened()
    cell(page, 0).fill("3,5")
    other = make_person("operator", full_name="Second Hand")
    runs.record(
        by=other,
        run=run,
        readings=[
            runs.Typed("sliding_angle", position="1", value="9.9"),
            runs.Typed("sliding_angle", position="2", value="8.8"),
        ],
    )
    page.get_by_role("button", name="Save readings").click()
    page.get_by_text("after you opened it").wait_for()
    assert cell(page, 0).input_value() == "3,5"
    assert "saved: 9.9" in page.locator("td.cell").first.inner_text()
    assert cell(page, 1).input_value() == "8.8"
    page.reload()  # still nothing lost
    assert cell(page, 0).input_value() == "3,5"
    page.get_by_label("Why is a stored reading changed?").fill("the other read the wrong drop")
    page.get_by_role("button", name="Save readings").click()
    page.get_by_text("Readings saved.").wait_for()
    assert [(position, value) for position, _, value, _ in saved()] == [("2", 8.8), ("1", 3.5)]
    assert Reading.objects.get(is_current=False).value == 9.9


def test_reason_is_asked_only_while_a_stored_reading_is_changed_and_by_keyboard_alone(opened, person):
    run, page = opened()
    runs.record(by=person, run=run, readings=[runs.Typed("sliding_angle", value="3.5")])
    page.reload()
    why = page.locator("#why")
    assert not why.is_visible()
    page.get_by_role("button", name="Add rows").click()
    cell(page, 1).focus()  # a new value asks for nothing
    page.keyboard.type("4,4")
    assert not why.is_visible()
    cell(page, 0).fill("3.6")
    assert why.is_visible()
    cell(page, 0).fill("3.5")
    assert not why.is_visible()
    cell(page, 0).fill("3.6")
    page.locator("input.value").last.focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "why"
    page.keyboard.type("misread")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "save"
    page.keyboard.press("Enter")
    page.get_by_text("Readings saved.").wait_for()
    assert not why.is_visible()
    assert [(position, value) for position, _, value, _ in saved()] == [("1", 3.6), ("2", 4.4)]
    assert "misread" in page.locator("table").last.inner_text()


def test_save_without_the_reason_leads_to_its_field_with_nothing_lost(opened, person):
    run, page = opened()
    runs.record(by=person, run=run, readings=[runs.Typed("sliding_angle", value="3.5")])
    page.reload()
    page.get_by_role("button", name="Add rows").click()
    cell(page, 0).fill("3.6")
    cell(page, 1).fill("4.4")
    page.get_by_role("button", name="Save readings").click()
    page.get_by_text("Say why", exact=False).first.wait_for()
    expect(page.locator("#why")).to_be_focused()
    assert (cell(page, 0).input_value(), cell(page, 1).input_value()) == ("3.6", "4.4")
    page.keyboard.type("misread")
    page.reload()  # the reason is kept like everything that was typed
    assert page.locator("#why").input_value() == "misread"
    page.get_by_role("button", name="Save readings").click()
    page.get_by_text("Readings saved.").wait_for()
    assert [value for _, _, value, _ in saved()] == [3.6, 4.4]


def test_refusal_of_the_action_is_shown_without_losing_the_grid(opened):
    _, page = opened()
    cell(page, 0).fill("31")
    page.get_by_role("button", name="Save readings").click()
    page.get_by_text("is beyond the stage limit of 30°", exact=False).first.wait_for()
    assert cell(page, 0).input_value() == "31"
    page.wait_for_timeout(200)  # htmx settles: it gives elements their attributes as sent back
    assert not page.locator("select.qualifier").first.is_visible()
    assert not Reading.objects.exists()


def test_touch_button_marks_and_moves_on(opened):
    _, page = opened()
    cell(page, 0).focus()
    button = page.get_by_role("button", name="Not moved up to the stage limit")
    assert button.bounding_box()["height"] >= 44
    button.click()
    assert page.locator("td.cell").first.get_attribute("data-qualifier") == "not_moved"
    assert page.evaluate("document.activeElement.id") == "value-1-sliding_angle"


def test_column_copied_from_a_spreadsheet_fills_the_cells_below(opened):
    _, page = opened("advancing_receding")
    cell(page, 0, "advancing_angle").focus()
    page.evaluate("""() => {
        const data = new DataTransfer(); data.setData("text", "113,1\\t111,3\\n114.1\\t111.3\\n");
        const paste = new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true});
        document.activeElement.dispatchEvent(paste);
    }""")
    assert [cell(page, row, key).input_value() for row in (0, 1) for key in ("advancing_angle", "receding_angle")] == [
        "113,1",
        "111,3",
        "114.1",
        "111.3",
    ]


def test_grid_is_a_plain_form_without_javascript(chromium, live_server, person, sign_in):
    run = make_run(person)
    context = chromium.new_context(java_script_enabled=False, base_url=live_server.url)
    page = context.new_page()
    sign_in(page, person)
    page.goto(f"/runs/{run.code}/")
    cell(page, 0).fill("3,5")
    page.locator('[name="qualifier-1-sliding_angle"]').select_option("not_moved")
    page.get_by_role("button", name="Save readings").click()
    context.close()
    assert [value for _, _, value, _ in saved()] == [3.5, 30.0]


def test_choosing_a_method_keeps_what_was_typed_and_brings_its_volume(browser_page, sign_in, person):
    version = make_method_version(person, drop_volume_ul=7)
    sign_in(browser_page, person)
    browser_page.goto("/runs/new/")
    browser_page.locator("#id_coupons").fill("TYPED FIRST")
    browser_page.locator("#id_method_version").select_option(str(version.pk))
    browser_page.get_by_role("heading", name=str(version)).wait_for()
    assert browser_page.locator("#id_coupons").input_value() == "TYPED FIRST"
    assert browser_page.locator("#id_drop_volume_ul").input_value() == "7"


def test_criterion_shows_the_parameters_of_its_kind_only(browser_page, sign_in, person):
    sign_in(browser_page, person)
    browser_page.goto("/specifications/new/")
    drops, coverage = browser_page.locator("#id_c0-p_fewest_drops"), browser_page.locator("#id_c0-p_coverage")
    assert not drops.is_visible()
    browser_page.locator("#id_c0-kind").select_option("count_not_moved")
    assert drops.is_visible()
    assert not coverage.is_visible()
