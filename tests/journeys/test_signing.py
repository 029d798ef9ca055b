"""Signing and amending as a new user does them, in a real browser: every step by hand, each by its own person."""

import os
import time
from pathlib import Path

import pytest

from labrecords.management import scenario
from labrecords.models import Person, Qualification
from tests.factories import PASSWORD
from tests.journeys.conftest import DESKTOP, TABLET

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def demo():
    scenario.load(PASSWORD)


def fits(page, name):
    """The page is no wider than the screen. KEEP_PICTURES names a folder for pictures to look at."""
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"], name
    if os.environ.get("KEEP_PICTURES"):
        path = Path(os.environ["KEEP_PICTURES"], f"{name}-{page.viewport_size['width']}.png")
        page.screenshot(path=path, full_page=True)


def at_the_machine(page, sign_in, name):
    """Another person signs in and takes what waits for them from today’s page."""
    if page.get_by_role("button", name="Sign out").count():
        page.get_by_role("button", name="Sign out").click()
    sign_in(page, Person.objects.get(username=name))
    fits(page, f"today-{name}")


def signed(page, sign_in, name, role):
    at_the_machine(page, sign_in, name)
    page.locator("section", has_text="Waiting for your signature").get_by_role("link").first.click()
    fits(page, f"to-sign-as-{role}")
    page.get_by_label("Your password, once again").fill(PASSWORD)
    page.get_by_role("button", name=f"Sign as {role}", exact=True).click()
    page.get_by_role("status").get_by_text(f"Signed as {role}").wait_for()


def issued(page):
    page.get_by_role("button", name="Issue the report", exact=True).click()
    page.get_by_role("heading", name="Report QR-").wait_for()


def way(page, sign_in):
    """From the author's draft, which is open, to the report."""
    page.get_by_label("Your password, once again").fill(PASSWORD)
    page.get_by_role("button", name="Sign as author", exact=True).click()
    page.get_by_role("status").get_by_text("Signed as author").wait_for()
    signed(page, sign_in, "oda", "reviewer")
    signed(page, sign_in, "pell", "approver")
    issued(page)


@pytest.mark.parametrize("size", [DESKTOP, pytest.param(TABLET, marks=pytest.mark.thorough)], ids=["desktop", "tablet"])
def test_report_is_signed_issued_and_replaced_in_under_a_minute_each(demo, size, browser_page, sign_in):
    page = browser_page
    page.set_viewport_size(size)
    at_the_machine(page, sign_in, "mirun")
    started = time.monotonic()
    page.goto("/batches/D-A/")
    page.get_by_role("link", name="Qualify").click()
    page.get_by_label("Specification").select_option(index=1)
    page.get_by_role("button", name="Show the outcome").click()
    fits(page, "qualify")
    page.get_by_role("button", name="Prepare the report").click()
    page.get_by_role("heading", name="Assessment").wait_for()
    fits(page, "draft")
    page.get_by_label("Your password, once again").fill("not my password")
    page.get_by_role("button", name="Sign as author", exact=True).click()
    page.get_by_role("alert").get_by_text("this is not the password of").wait_for()
    fits(page, "wrong-password")
    way(page, sign_in)
    fits(page, "report")
    taken = time.monotonic() - started
    print(f"\nprepared, signed by three people at one machine, issued: {taken:.0f} s")
    assert taken < 60
    first = Qualification.objects.get()
    at_the_machine(page, sign_in, "mirun")
    started = time.monotonic()
    page.goto(f"/qualifications/{first.report_number}/")
    page.get_by_role("link", name="Amend or replace").click()
    page.get_by_label("it replaces it").check()
    page.get_by_label("What changes and why").fill("The customer’s name was misspelt.")
    fits(page, "amend")
    page.get_by_role("button", name="Prepare the amendment").click()
    page.get_by_role("heading", name="Assessment").wait_for()
    way(page, sign_in)
    taken = time.monotonic() - started
    print(f"replaced by a new report, the same way: {taken:.0f} s")
    assert taken < 60
    fits(page, "amended")
    page.goto(f"/qualifications/{first.report_number}/")
    assert "Superseded" in page.locator("main").inner_text()
    fits(page, "superseded")
    for address in ("/qualifications/", "/batches/D-A/", "/"):
        page.goto(address)
        assert "superseded by QR-" in page.locator("main").inner_text()
        fits(page, f"list{address.replace('/', '-')}")
