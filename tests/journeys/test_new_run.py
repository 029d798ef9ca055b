"""The form of a new run in a real browser, over a slow network."""

import pytest
from playwright.sync_api import expect

from tests.factories import make_coupon, make_method_version, make_person

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def slow_form(browser_page, sign_in):
    """The page of a new run, and its requests for what a method needs, each held until the test lets it through."""
    person, waiting = make_person("quality"), []
    methods = [make_method_version(person, name, drop_volume_ul=20) for name in ("sliding_angle", "static_angle")]
    coupon = make_coupon(person)
    sign_in(browser_page, person)
    browser_page.goto("/runs/new/")
    browser_page.route("**/runs/new/?*", lambda route: waiting.append(route))
    browser_page.get_by_label("Coupons").fill(coupon.code)
    return browser_page, methods, waiting


def choose(page, waiting, version):
    asked = len(waiting)
    page.locator("[name=method_version]").select_option(str(version.pk))
    for _ in range(500):
        if len(waiting) > asked:
            return
        page.wait_for_timeout(10)
    raise AssertionError("the choice was not asked about")


def test_what_is_typed_while_the_method_is_fetched_stays(slow_form):
    page, methods, waiting = slow_form
    choose(page, waiting, methods[0])
    volume, operator = page.locator("[name=drop_volume_ul]"), page.locator("[name=operators]").first
    volume.fill("17,5")
    page.locator("[name=room_humidity_pct]").fill("45")
    operator.uncheck()
    page.locator("[name=drops]").focus()
    waiting[0].continue_()
    page.locator("section.card h2").wait_for()
    expect(volume).to_have_value("17,5")  # the method's own volume does not push it out
    expect(page.locator("[name=room_humidity_pct]")).to_have_value("45")
    expect(operator).not_to_be_checked()
    expect(page.locator("[name=drops]")).to_be_focused()


def test_what_was_typed_before_gives_way_to_what_the_method_fixes(slow_form):
    page, methods, waiting = slow_form
    page.locator("[name=drop_volume_ul]").fill("17,5")
    choose(page, waiting, methods[0])
    waiting[0].continue_()
    page.locator("section.card h2").wait_for()
    expect(page.locator("[name=drop_volume_ul]")).to_have_value("20")


def test_of_two_methods_chosen_in_haste_the_last_one_counts(slow_form):
    page, methods, waiting = slow_form
    for version in methods:
        choose(page, waiting, version)
    waiting[1].continue_()
    card = page.locator("section.card h2")
    card.wait_for()
    assert card.inner_text() == str(methods[1])
    expect(page.locator("[name=method_version]")).to_have_value(str(methods[1].pk))
