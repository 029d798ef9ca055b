"""A real browser for the journeys: Debian's chromium, driven by playwright."""

import os
import shutil

import pytest

from tests.factories import PASSWORD

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
DESKTOP, TABLET = {"width": 1280, "height": 900}, {"width": 820, "height": 1180}


@pytest.fixture(scope="session")
def chromium():
    if shutil.which("chromium") is None:
        reason = "chromium is not installed (Debian: apt-get install chromium)"
        pytest.fail(reason) if os.environ.get("LABRECORDS_MUST_RUN") == "1" else pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium") or CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def browser_page(chromium, live_server):
    """A page of a fresh browser context at desktop size; what its scripts complain about fails the test."""
    context = chromium.new_context(viewport=DESKTOP, base_url=live_server.url)
    context.set_default_timeout(10_000)
    page = context.new_page()
    complaints = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    context.close()
    assert complaints == []


@pytest.fixture
def sign_in():
    """Sign a person in through the real form."""

    def through_the_form(page, person):
        page.goto("/sign-in/")
        page.get_by_label("Sign-in name").fill(person.username)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "sign-in" not in url)

    return through_the_form
