"""W15, W17 (ASVS 1.2.1, 1.3.6, 3.2.1, 3.2.2), statement 13: hostile names print as typed on every page, in every list,
table and report, with no request to anywhere and no file read.
"""

import csv
import io
import json
import re
import socket
import sys
import threading
from html.parser import HTMLParser
from urllib.parse import quote

import pytest
from django.test import Client
from pypdf import PdfReader

from labrecords.actions import laboratory, people
from labrecords.errors import ValueRefused
from labrecords.exchange import results
from labrecords.models import Coupon, Person, Qualification
from labrecords.reports.text import shown as printed
from labrecords.web.unseen import shown
from tests.factories import make_batch, make_criteria, make_person, make_run
from tests.labrecords.security.addresses import World
from tests.labrecords.security.hostile import Filler, strings

pytestmark = pytest.mark.django_db
OPENED = []
WATCHED = set()
sys.addaudithook(lambda event, told: event == "open" and str(told[0]) in WATCHED and OPENED.append(told[0]))


@pytest.fixture
def listener():
    """A real server that counts who comes."""
    server, came = socket.create_server(("127.0.0.1", 0)), []

    def wait():
        while True:
            try:
                visitor, address = server.accept()
            except OSError:
                return
            came.append(address)
            visitor.close()

    threading.Thread(target=wait, daemon=True).start()
    yield server.getsockname()[1], came
    server.shutdown(socket.SHUT_RDWR)
    server.close()


@pytest.fixture
def bait(tmp_path):
    """A file that hostile names point at; every opening of it in this process is seen."""
    path = tmp_path / "bait.png"
    path.write_bytes(b"\x89PNG")
    WATCHED.add(str(path))
    yield path
    WATCHED.discard(str(path))
    OPENED.clear()


@pytest.fixture
def hostile(listener, bait):
    """A world of records with hostile names, and {mark: text as stored}."""
    port, came = listener
    person = make_person("quality")
    with Filler(strings(port, bait)) as filler:
        world = World(person)
    world.texts = filler.texts
    yield world
    assert came == []
    assert OPENED == []


UNSEEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200b-\u200f\u202a-\u202e\u2066-\u2069]")


class Reader(HTMLParser):
    """A page as a browser reads it: its elements, their attributes, its text."""

    def __init__(self):
        super().__init__()
        self.tags, self.attributes, self.text = [], [], []

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attributes]

    def handle_data(self, data):
        self.text.append(data)


def packed(text):
    return re.sub(r"\s", "", text)


def misprinted(texts, page, show):
    """Marks that stand on the page with something else behind them than what was typed."""
    page, found, wrong = packed(page), 0, []
    for mark, text in texts.items():
        expected = packed(show(text))
        for at in re.finditer(re.escape(mark), page):
            found += 1
            if not page[at.start() :].startswith(expected):
                wrong.append((expected, page[at.start() : at.start() + len(expected)]))
    return found, wrong


def test_both_traps_work(listener, bait):
    """Negative control: a request is counted, an opened file is seen."""
    port, came = listener
    socket.create_connection(("127.0.0.1", port)).close()
    bait.read_bytes()
    for _ in range(100):
        if came:
            break
        threading.Event().wait(0.02)
    assert len(came) == 1
    assert OPENED != []


def test_every_page_prints_every_name_as_typed(hostile):
    client = Client()
    client.force_login(hostile.person)
    seen, marks = 0, set()
    for address in hostile.addresses():
        answer = client.get(quote(address, safe="/"))
        assert answer.status_code < 500, address
        if not answer.headers.get("Content-Type", "").startswith("text/html"):
            continue
        page = Reader()
        page.feed(answer.text)
        text = "".join(page.text)
        found, wrong = misprinted(hostile.texts, text, shown)
        assert wrong == [], address
        seen += found
        marks |= {mark for mark in hostile.texts if mark in text}
        assert_harmless(page, address)
        for _, _, value in page.attributes:
            if value.startswith("«"):
                assert misprinted(hostile.texts, value, shown)[1] == [], (address, value)
    assert len(hostile.texts) > 60
    assert len(marks) > 40
    assert seen > 150


def assert_harmless(page, address):
    assert {"font", "b", "img", "para", "iframe", "object", "base"} & set(page.tags) == set(), address
    for tag, name, value in page.attributes:
        assert not name.startswith("on"), (address, tag, name)
        if name in ("href", "src", "action", "formaction", "hx-get", "hx-post", "xlink:href"):
            assert re.match(r"(/|\?|#|$)", value), (address, tag, value)
            assert not value.startswith("//"), (address, tag, value)


def test_no_sign_that_cannot_be_seen_reaches_a_page(hostile):
    client = Client()
    client.force_login(hostile.person)
    for address in hostile.addresses():
        answer = client.get(quote(address, safe="/"))
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            assert (
                re.findall("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200b-\u200f\u202a-\u202e\u2066-\u2069]", answer.text)
                == []
            )


def test_api_gives_every_name_back_as_stored(hostile):
    client = Client()
    client.force_login(hostile.person)
    told = set()
    for address in hostile.addresses():
        if address.startswith("/api/"):
            answer = client.get(quote(address, safe="/"))
            if answer.status_code == 200 and answer.headers["Content-Type"] == "application/json":
                told |= set(values(json.loads(answer.content)))
    missing = {text for text in hostile.texts.values() if text not in told}
    assert len(hostile.texts) - len(missing) > 60


def values(data):
    if isinstance(data, dict):
        for value in data.values():
            yield from values(value)
    elif isinstance(data, list):
        for value in data:
            yield from values(value)
    elif isinstance(data, str):
        yield data


def test_report_prints_every_name_as_typed_with_no_picture_and_no_link(hostile):
    reader = PdfReader(io.BytesIO(bytes(Qualification.objects.get().file)))
    text = "".join(page.extract_text() for page in reader.pages)
    found, wrong = misprinted(hostile.texts, text, printed)
    assert wrong == []
    assert found > 15
    assert [image.name for page in reader.pages for image in page.images] == []
    links = [annotation.get_object() for page in reader.pages for annotation in page.get("/Annots", [])]
    assert [link for link in links if "/URI" in str(link.get("/A", {}))] == []
    assert "/JavaScript" not in str(reader.trailer["/Root"])


def test_csv_holds_no_formula_and_every_cell_as_typed(hostile):
    rows = list(csv.reader(io.StringIO(results.as_csv(results.of_everything()), newline="")))
    assert len(rows) > 10
    live = [cell for row in rows for cell in row if cell[:1] in "=+@\t\r" and cell]
    assert live == []
    minus = [cell for row in rows for cell in row if cell.startswith("-")]
    assert all(float(cell) for cell in minus)


@pytest.mark.parametrize("number", range(20))
def test_person_with_a_hostile_name(keeper, administrator, number, listener, bait):
    name = strings(listener[0], bait)[number][:110].replace("\r\n", " ")
    made = people.add(
        by=administrator, username=f"p{number}", full_name=name, role="operator", password="wet-plate-7x9"
    )
    for address in ("/people/", f"/people/{made.pk}/", f"/people/{made.pk}/disable/", "/people/log/"):
        page = Reader()
        page.feed(keeper.get(address).text)
        assert_harmless(page, address)
    assert packed(shown(name)) in packed("".join(page_of(keeper, f"/people/{made.pk}/").text))
    assert Person.objects.get(pk=made.pk).full_name == name
    assert listener[1] == []


def page_of(client, address):
    page = Reader()
    page.feed(client.get(address).text)
    return page


@pytest.mark.parametrize("number", range(20))
def test_reason_of_a_change_stands_in_the_history_as_typed(number, listener, bait):
    from labrecords.actions import coupons
    from tests.factories import make_coupon

    person, client = make_person("quality"), Client()
    coupon, why = make_coupon(person), strings(listener[0], bait)[number]
    coupons.amend(by=person, why=why, coupon=coupon, place=why[:80].replace("\r\n", " "))
    client.force_login(person)
    page = page_of(client, f"/coupons/{coupon.code}/")
    assert packed(shown(why)) in packed("".join(page.text))
    assert_harmless(page, coupon.code)
    assert Coupon.objects.get(pk=coupon.pk).place == why[:80].replace("\r\n", " ").strip()
    assert listener[1] == []


@pytest.mark.parametrize("make", ["batch", "run", "specification", "laboratory", "scheme"])
def test_code_that_no_address_can_hold_is_refused_and_shuts_no_list(make):
    """One such row would make the list of all rows a fault, for everybody."""
    person, client = make_person("quality"), Client()
    lab = {"name": "Lab", "address": "Lane", "site": "TS"}
    made = {
        "batch": lambda: make_batch(person, n=1, code="A/B"),
        "run": lambda: make_run(person, code="R/1"),
        "specification": lambda: make_criteria(person, code="S/1"),
        "laboratory": lambda: laboratory.set_up(by=person, **lab | {"site": "T/S"}),
        "scheme": lambda: laboratory.set_up(by=person, **lab, coupon_scheme="{site}/{number}"),
    }
    with pytest.raises(ValueRefused, match="holds a slash"):
        made[make]()
    client.force_login(person)
    for address in ("/", "/batches/", "/runs/", "/specifications/", "/coupons/", "/lab/"):
        assert client.get(address).status_code == 200
