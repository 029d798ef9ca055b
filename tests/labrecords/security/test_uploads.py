"""Files on the way in and out (ASVS 5.0, W11 to W13): by content, capped, harmless names, safe downloads."""

import hashlib
import io
import re
import resource
import struct
import time
import zipfile
import zlib
from base64 import b64encode
from contextlib import contextmanager

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image
from pypdf import PdfWriter
from rest_framework.test import APIClient

from labrecords import history
from labrecords.actions import attachments, content, pdf_page, runs
from labrecords.errors import NotAllowed, Refusal, ValueRefused
from labrecords.exchange.readings import import_file
from labrecords.models import Attachment, StoredFile
from labrecords.models.attachment import FILE_KINDS, MOST_BYTES, OWNERS
from tests.factories import (
    make_batch,
    make_coupon,
    make_instrument,
    make_liquid_lot,
    make_lot,
    make_method_version,
    make_person,
    make_run,
)

pytestmark = pytest.mark.django_db


def picture(kind="PNG", size=(8, 6), mode="RGB", **options):
    file = io.BytesIO()
    Image.new(mode, size, 128).save(file, kind, **options)
    return file.getvalue()


def huge_png(width, height):
    """A PNG that says it has so many pixels, in few bytes: rows of zeros, compressed."""

    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    deflate, rows = zlib.compressobj(9), b""
    for _ in range(height):
        rows += deflate.compress(bytes(1 + width))
    rows += deflate.flush()
    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def zipped(name="readings.csv"):
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr(name, "a,b\n1,2\n" * 50)
    return file.getvalue()


def document(encrypted=False):
    """A PDF of one empty page."""
    writer, file = PdfWriter(), io.BytesIO()
    writer.add_blank_page(72, 72)
    if encrypted:
        writer.encrypt("a word", algorithm="RC4-128")
    writer.write(file)
    return file.getvalue()


def tree(*nodes, root=b"1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n"):
    """A PDF with these nodes of its page tree, numbered from 2 on; where they stand is left to the reader."""
    told = b"".join(b"%d 0 obj<</Type/Pages%s>>endobj\n" % (number, node) for number, node in enumerate(nodes, start=2))
    return b"%PDF-1.4\n" + root + told + b"trailer<</Root 1 0 R/Size 99>>\n%%EOF\n"


PDF = document()
# Each level names the next ten times: a million times a million pages, were they ever unfolded.
UNFOLDING = tree(*(b"/Kids[%s]" % (b"%d 0 R " % (level + 1) * 10) for level in range(2, 14)), b"/Kids[]")
UNPACKING = b"".join([
    b"%PDF-1.5\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n",
    b"5 0 obj<</Type/ObjStm/N 1/First 4/Filter/FlateDecode/Length 99>>",
    b"stream\n", zlib.compress(b"2 0 " + b" " * 400_000_000 + b"<</Type/Pages/Kids[]>>", 1),
    b"\nendstream endobj\ntrailer<</Root 1 0 R/Size 99>>\n%%EOF\n",
])  # fmt: skip
TAKEN = {
    "a.png": ("png", picture("PNG")),
    "grey16.png": ("png", picture("PNG", mode="I;16")),
    "a.jpg": ("jpeg", picture("JPEG")),
    "A.JPEG": ("jpeg", picture("JPEG")),
    "a.tif": ("tiff", picture("TIFF")),
    "a.tiff": ("tiff", picture("TIFF", compression="tiff_lzw")),
    "a.pdf": ("pdf", PDF),
    "a.csv": ("csv", b"drop;angle\n1;4,5\n"),
    "bom.csv": ("csv", "\ufeffdrop;θ [°]\n1;4,5\n".encode()),
    "a.txt": ("text", "Tilt at 1 °/s, −5.2 µL\r\n".encode()),
    "readings.2026-03-02.txt": ("text", b"x"),
}
SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
HTML = b"<!doctype html><script>alert(1)</script>"
REFUSED = {
    "page.html": HTML,
    "drawing.svg": SVG,
    "archive.zip": zipped(),
    "table.xlsx": zipped("xl/workbook.xml"),
    "program.exe": b"MZ\x90\x00" + bytes(60),
    "no-extension": picture(),
    "double.png.html": picture(),
    ".png": b"x",
    # The name says one kind, the content is another.
    "page.png": HTML,
    "drawing.png": SVG,
    "drawing.txt": SVG,
    "page.csv": b"\xef\xbb\xbf  \n" + HTML,
    "jpeg.png": picture("JPEG"),
    "png.jpg": picture("PNG"),
    "png.tif": picture("PNG"),
    "gif.png": picture("GIF", mode="P"),
    "pdf.png": PDF,
    "pdf.txt": PDF,
    "png.csv": picture("PNG"),
    "zip.png": zipped(),
    "zip.csv": zipped(),
    "text.pdf": b"a text",
    # Begins like a PDF, and has no page that can be reached.
    "words.pdf": b"%PDF-1.4\nnot really",
    "bare.pdf": tree(b"/Kids[]"),
    "catalogue.pdf": tree(root=b"1 0 obj<</Type/Catalog>>endobj\n"),
    "round.pdf": tree(b"/Kids[2 0 R]"),
    "unfolding.pdf": UNFOLDING,
    "unpacking.pdf": UNPACKING,
    "cut.pdf": PDF[:60],
    "locked.pdf": document(encrypted=True),
    "late.pdf": b"\n" * 2000 + PDF,
    # A picture and an archive at once.
    "both.png": picture() + zipped(),
    "both.jpg": picture("JPEG") + zipped(),
    "both.pdf": PDF + zipped(),
    # Damaged and odd ones.
    "empty.png": b"",
    "cut.png": picture(size=(300, 300))[:120],
    "cut.jpg": picture("JPEG", size=(300, 300))[:300],
    "cut.tif": picture("TIFF", size=(300, 300))[:200],
    "head.png": b"\x89PNG\r\n\x1a\n",
    "latin.csv": "µL;°\n".encode("latin-1"),
    "wide.txt": "words".encode("utf-16"),
    "nul.txt": b"a\0b",
    "bell.csv": b"a,b\a\n",
    "turned.txt": "a\u202etxt".encode(),
}


@pytest.fixture
def person():
    return make_person("quality")


@pytest.fixture
def coupon(person):
    return make_coupon(person)


@pytest.mark.parametrize("name", TAKEN)
def test_allowed_kinds_are_taken_and_told_by_their_content(person, coupon, name):
    kind, data = TAKEN[name]
    added = attachments.add(by=person, owner=coupon, name=name, data=data)
    stored = added.stored
    assert (added.name, stored.kind, stored.size, bytes(stored.file)) == (name, kind, len(data), data)
    assert stored.sha256 == hashlib.sha256(data).hexdigest()


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_allowed_kind_is_refused_by_name_or_content(person, coupon, name):
    with pytest.raises(ValueRefused) as refused:
        attachments.add(by=person, owner=coupon, name=name, data=REFUSED[name])
    assert refused.value.field == "file"
    assert not Attachment.objects.exists()
    assert not StoredFile.objects.exists()


@pytest.mark.parametrize("name", ["unfolding.pdf", "unpacking.pdf", "endless.pdf"])
def test_hostile_pdf_costs_neither_time_nor_memory(name, person, coupon):
    data = REFUSED.get(name, b"%PDF-1.4\n" + b"1 0 obj\n" * 2_000_000)
    began, before = time.monotonic(), resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    with pytest.raises(ValueRefused, match=r"no page of it can be reached|takes too long"):
        attachments.add(by=person, owner=coupon, name=name, data=data)
    assert time.monotonic() - began < content.MOST_SECONDS + 5
    assert resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss <= max(before, pdf_page.MOST_BYTES // 1024)


def test_pdf_that_takes_too_long_is_refused(person, coupon, monkeypatch, tmp_path):
    slow = tmp_path / "slow.py"
    slow.write_text("import time\ntime.sleep(60)\n")
    monkeypatch.setattr(content, "PAGE_READER", slow)
    monkeypatch.setattr(content, "MOST_SECONDS", 0.5)
    with pytest.raises(ValueRefused, match="takes too long"):
        attachments.add(by=person, owner=coupon, name="a.pdf", data=PDF)


def test_locked_pdf_is_told_as_locked(person, coupon):
    with pytest.raises(ValueRefused, match="is encrypted"):
        attachments.add(by=person, owner=coupon, name="locked.pdf", data=REFUSED["locked.pdf"])


def test_every_declared_kind_has_a_case():
    assert {kind for kind, _ in TAKEN.values()} == set(FILE_KINDS)


# ---- sizes (W12) ---------------------------------------------------------------------------------------


def test_picture_bomb_is_refused_before_it_is_decoded(person, coupon):
    """The 81-megapixel picture in some 80 kB of standards.md 5.3: refused by its header, in no time."""
    bomb = huge_png(9000, 9000)
    assert len(bomb) < 100_000
    began = time.process_time()
    with pytest.raises(ValueRefused, match="million"):
        attachments.add(by=person, owner=coupon, name="bomb.png", data=bomb)
    assert time.process_time() - began < 0.5


@pytest.mark.parametrize(("width", "taken"), [(5000, True), (5001, False)])
def test_pixel_limit_is_25_million(person, coupon, width, taken):
    data = huge_png(width, 5000)
    if taken:
        assert attachments.add(by=person, owner=coupon, name="large.png", data=data).stored.kind == "png"
    else:
        with pytest.raises(ValueRefused, match="million"):
            attachments.add(by=person, owner=coupon, name="large.png", data=data)


def test_a_warning_of_the_decoder_refuses_too(person, coupon, monkeypatch):
    """Where our own look at the size fails, the library's warning is an error."""
    monkeypatch.setattr(content, "MOST_PIXELS", 10**12)
    with pytest.raises(ValueRefused, match="million pixels"):
        attachments.add(by=person, owner=coupon, name="bomb.png", data=huge_png(6000, 5000))


def test_size_limit_is_20_mib(person, coupon):
    data = b"x" * MOST_BYTES
    assert attachments.add(by=person, owner=coupon, name="full.txt", data=data).stored.size == 20 * 2**20
    with pytest.raises(ValueRefused, match="at most 20 MB"):
        attachments.add(by=person, owner=coupon, name="over.txt", data=data + b"x")


def test_a_record_holds_a_bounded_number_of_files_and_bytes(person, coupon, monkeypatch):
    monkeypatch.setattr(attachments, "MOST_FILES", 2)
    for number in range(2):
        attachments.add(by=person, owner=coupon, name=f"{number}.txt", data=b"%d" % number)
    with pytest.raises(ValueRefused, match="is too much"):
        attachments.add(by=person, owner=coupon, name="third.txt", data=b"third")
    monkeypatch.setattr(attachments, "MOST_BYTES_OF_RECORD", 10)
    other = make_coupon(person)
    attachments.add(by=person, owner=other, name="six.txt", data=b"123456")
    with pytest.raises(ValueRefused, match="is too much"):
        attachments.add(by=person, owner=other, name="five.txt", data=b"12345")


@pytest.fixture
def page(client, person):
    client.force_login(person)
    return client


def send(page, owner, name, data, **more):
    url = reverse("files", args=[history.noun_of(owner), history.name_of(owner)])
    return page.post(url, {"file": SimpleUploadedFile(name, data)} | more)


def test_form_drops_a_file_that_is_too_large_and_says_so(page, coupon):
    answer = send(page, coupon, "over.txt", b"x" * (MOST_BYTES + 1))
    assert answer.status_code == 400
    assert "“over.txt” is larger than 20 MB" in answer.text
    assert not StoredFile.objects.exists()


def test_api_drops_a_file_that_is_too_large_and_names_it(person, coupon):
    caller = APIClient()
    caller.force_authenticate(person)
    file = SimpleUploadedFile("over.txt", b"x" * (MOST_BYTES + 1))
    answer = caller.post("/api/attachments/", {"coupon": coupon.code, "file": file}, format="multipart")
    assert (answer.status_code, answer.json()["field"]) == (400, "file")
    assert "“over.txt” is larger than 20 MB" in answer.json()["message"]
    assert not StoredFile.objects.exists()


def test_form_without_a_file_says_so(page, coupon):
    url = reverse("files", args=[history.noun_of(coupon), history.name_of(coupon)])
    answer = page.post(url, {"note": "forgotten"})
    assert (answer.status_code, "No file came with this" in answer.text) == (400, True)


def test_form_far_larger_than_any_file_is_ended_unread(page, coupon):
    answer = send(page, coupon, "over.txt", b"x" * (2 * MOST_BYTES))
    assert answer.status_code == 400
    assert not StoredFile.objects.exists()


# ---- names (W13) ---------------------------------------------------------------------------------------

NAMES = [
    "../../etc/passwd.txt",
    "..\\..\\windows\\system.txt",
    "/etc/passwd.txt",
    "C:\\boot.txt",
    "nul\0byte.txt",
    "line\r\nSet-Cookie: a=b.txt",
    'quote".txt',
    "<script>alert(1)</script>.txt",
    "=HYPERLINK(1).txt",
    "übermäßig-θ-接触角.txt",
    "turned\u202etxt.txt",
    "a" * 5000 + ".txt",
    "." * 300 + ".txt",
    "-rf .txt",
    "%2e%2e%2f.txt",
    "CON.txt",
]


@pytest.mark.parametrize("name", NAMES, ids=lambda name: ascii(name)[:30])
def test_name_is_kept_as_data_shown_escaped_and_never_a_path(page, person, coupon, name):
    added = attachments.add(by=person, owner=coupon, name=name, data=b"a text")
    assert len(added.name) <= 255
    assert added.name.endswith(".txt")
    assert not re.search(r"[\x00-\x1f\u202a-\u202e]", added.name)
    shown = page.get(reverse("coupon", args=[coupon.code]))
    assert shown.status_code == 200
    assert "<script>alert" not in shown.text
    answer = page.get(reverse("attachment", args=[added.pk]))
    header = answer.headers["Content-Disposition"]
    assert re.fullmatch(r'attachment; filename="[A-Za-z0-9-]{1,80}\.txt"', header), header
    assert answer.content == b"a text"


def test_name_that_holds_nothing_odd_is_kept_letter_for_letter(person, coupon):
    for number, name in enumerate(["Probe 7, θ (links).txt", "../../etc/passwd.txt", "x" * 251 + ".txt"]):
        assert attachments.add(by=person, owner=coupon, name=name, data=b"%d" % number).name == name


def test_no_file_is_written_outside_the_database(page, coupon, tmp_path, monkeypatch, settings):
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert send(page, coupon, "../../large.txt", b"x" * (3 * 2**20)).status_code == 302  # goes through a passing file
    assert list(tmp_path.rglob("*")) == []
    assert Attachment.objects.get().name == "large.txt"  # the form's own reader takes the last part


# ---- downloads -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["a.png", "a.pdf", "a.csv", "a.txt"])
def test_download_is_byte_for_byte_and_runs_in_no_browser(page, person, coupon, name):
    kind, data = TAKEN[name]
    added = attachments.add(by=person, owner=coupon, name=name, data=data)
    token = APIClient()
    token.force_authenticate(person)
    for answer in (page.get(reverse("attachment", args=[added.pk])), token.get(f"/api/attachments/{added.pk}/file/")):
        assert answer.status_code == 200
        assert answer.content == data
        assert answer.headers["Content-Type"] == FILE_KINDS[kind].media_type
        assert answer.headers["Content-Disposition"].startswith("attachment; filename=")
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        digest = b64encode(hashlib.sha256(data).digest()).decode()
        assert answer.headers["Repr-Digest"] == f"sha-256=:{digest}:"


def test_nobody_downloads_without_signing_in(client, person, coupon):
    added = attachments.add(by=person, owner=coupon, name="a.txt", data=b"x")
    assert client.get(reverse("attachment", args=[added.pk])).status_code == 302
    assert APIClient().get(f"/api/attachments/{added.pk}/file/").status_code == 401


# ---- what is kept --------------------------------------------------------------------------------------


def test_each_kind_of_owner_takes_files_and_shows_them(page, person):
    owners = {
        "coupon": make_coupon(person),
        "run": make_run(person),
        "batch": make_batch(person, n=1),
        "instrument": make_instrument(person),
        "lot": make_lot(person),
        "liquid_lot": make_liquid_lot(person),
    }
    assert set(owners) == set(OWNERS)
    for field, owner in owners.items():
        assert send(page, owner, f"{field}.txt", field.encode(), note=f"of the {field}").status_code == 302, field
        added = Attachment.objects.get(**{field: owner})
        assert (added.owner, added.note) == (owner, f"of the {field}")
        url = reverse("files", args=[history.noun_of(owner), history.name_of(owner)])
        assert f"{field}.txt" in page.get(url).text
    for noun in ("coupon", "run", "batch"):
        assert f"{noun}.txt" in page.get(reverse(noun, args=[owners[noun].code])).text


def test_what_takes_no_files_has_no_page_of_them(page, person):
    assert page.get(reverse("files", args=["person", person.username])).status_code == 404


def test_same_bytes_are_stored_once_and_may_belong_to_several_records(person, coupon):
    other = make_coupon(person)
    first = attachments.add(by=person, owner=coupon, name="one.txt", data=b"the same")
    second = attachments.add(by=person, owner=other, name="two.txt", data=b"the same")
    assert first.stored == second.stored
    assert StoredFile.objects.count() == 1
    with pytest.raises(ValueRefused, match=r"“three\.txt” is attached to this record already, as “one\.txt”"):
        attachments.add(by=person, owner=coupon, name="three.txt", data=b"the same")


def test_withdrawn_file_asks_for_a_reason_and_stays_readable(page, person, coupon):
    added = attachments.add(by=person, owner=coupon, name="wrong.txt", data=b"of another coupon")
    url = reverse("attachment-withdraw", args=[added.pk])
    assert page.post(url, {"why": " "}).status_code == 400
    assert page.get(url).status_code == 405
    assert page.post(url, {"why": "of another coupon"}).status_code == 302
    shown = page.get(reverse("coupon", args=[coupon.code])).text
    assert "withdrawn" in shown
    assert "of another coupon" in shown
    assert page.get(reverse("attachment", args=[added.pk])).content == b"of another coupon"
    assert page.post(url, {"why": "again"}).status_code == 400
    # The same bytes may come back, as a new attachment.
    assert attachments.add(by=person, owner=coupon, name="right.txt", data=b"of another coupon").pk != added.pk


def test_role_without_the_verb_attaches_nothing(coupon):
    with pytest.raises(NotAllowed):
        attachments.add(by=make_person("administrator"), owner=coupon, name="a.txt", data=b"x")


@contextmanager
def calling(person):
    client = APIClient()
    client.force_authenticate(person)
    yield client


def test_api_takes_lists_and_withdraws_files(person, coupon):
    with calling(person) as api:
        body = {"coupon": coupon.code, "note": "detail", "file": SimpleUploadedFile("a.png", picture())}
        answer = api.post("/api/attachments/", body, format="multipart")
        assert answer.status_code == 201, answer.content
        made = answer.json()
        assert (made["coupon"], made["run"], made["kind"], made["name"]) == (coupon.code, None, "png", "a.png")
        assert made["sha256"] == hashlib.sha256(picture()).hexdigest()
        listed = api.get("/api/attachments/", {"coupon": coupon.code, "is_withdrawn": "false"}).json()
        assert [row["id"] for row in listed["results"]] == [made["id"]]
        withdraw = f"/api/attachments/{made['id']}/withdraw/"
        assert api.post(withdraw, {}, format="json").json()["code"] == "ReasonMissing"
        assert api.post(withdraw, {"why": "blurred"}, format="json").json()["withdrawn_because"] == "blurred"
        assert api.get("/api/attachments/", {"is_withdrawn": "false"}).json()["count"] == 0


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "owner"),
        ({"coupon": "own", "run": "own"}, "owner"),
        ({"coupon": "own"}, "file"),
        ({"coupon": "own", "file": SimpleUploadedFile("a.svg", SVG)}, "file"),
        ({"coupon": "own", "file": SimpleUploadedFile("a.png", b"")}, "file"),
        ({"coupon": "own", "kind": "png", "file": SimpleUploadedFile("a.png", HTML)}, "kind"),
        ({"coupon": "own", "withdrawn_by": "x", "file": SimpleUploadedFile("a.txt", b"x")}, "withdrawn_by"),
    ],
)
def test_api_refuses_with_the_field_and_stores_nothing(person, coupon, body, field):
    codes = {"coupon": coupon.code, "run": make_run(person).code}
    body = {name: codes[name] if value == "own" else value for name, value in body.items()}
    with calling(person) as api:
        answer = api.post("/api/attachments/", body, format="multipart")
    assert (answer.status_code, answer.json()["field"]) == (400, field), answer.content
    assert not Attachment.objects.exists()


# ---- imported files ------------------------------------------------------------------------------------

HEAD = "run,coupon,method,liquid,drop_volume_ul,dose,quantity,position,drop,value,qualifier\n"


def imported(person, coupon, lot, codes, value="4.5"):
    lines = [f"{code},{coupon.code},sliding_angle,{lot.code},10,0,sliding_angle,1,1,{value},\n" for code in codes]
    return (HEAD + "".join(lines)).encode()


def test_imported_file_is_kept_once_beside_every_run_it_made(page, person, coupon):
    make_method_version(person)
    lot = make_liquid_lot(person)
    data = imported(person, coupon, lot, ["F-1", "F-2", "F-3"])
    import_file(by=person, data=data, name="march.csv")
    stored = StoredFile.objects.get()
    assert (bytes(stored.file), stored.kind) == (data, "csv")
    assert [row.run.code for row in Attachment.objects.all()] == ["F-1", "F-2", "F-3"]
    assert "march.csv" in page.get(reverse("run", args=["F-1"])).text
    import_file(by=person, data=data, name="march.csv")  # the same again adds nothing
    assert (StoredFile.objects.count(), Attachment.objects.count()) == (1, 3)


def test_refused_import_keeps_nothing(person, coupon):
    make_method_version(person)
    data = imported(person, coupon, make_liquid_lot(person), ["F-1"], value="95")
    with pytest.raises(Refusal):
        import_file(by=person, data=data, name="march.csv")
    assert not StoredFile.objects.exists()


def test_further_file_of_a_known_run_is_kept_too(person, coupon):
    make_method_version(person)
    lot = make_liquid_lot(person)
    first = imported(person, coupon, lot, ["F-1"])
    import_file(by=person, data=first, name="one.csv")
    runs.reopen(by=person, why="one more drop", run=Attachment.objects.get().run)
    second = first + f"F-1,{coupon.code},sliding_angle,{lot.code},10,0,sliding_angle,1,2,5.5,\n".encode()
    import_file(by=person, data=second, name="two.csv")
    assert [row.name for row in Attachment.objects.filter(run__code="F-1")] == ["one.csv", "two.csv"]
