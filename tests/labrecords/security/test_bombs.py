"""A small spreadsheet file that unpacks to hundreds of megabytes (ASVS 5.0, 5.2.3): refused by what it is, unopened."""

import io
import time
import tracemalloc
import zipfile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from labrecords.actions import attachments
from labrecords.errors import Refusal
from labrecords.exchange.readings import import_file
from labrecords.models import StoredFile, TestRun
from tests.factories import make_coupon, make_lot, make_person

pytestmark = pytest.mark.django_db
UNPACKED = 212_000_000
CELLS = b'<c r="A1" t="n"><v>1</v></c>' * 10_000
NAMES = ["readings.xlsx", "readings.csv", "readings.txt", "plate.png"]


@pytest.fixture(scope="module")
def bomb():
    """A sheet of some eight million cells in a file that is far smaller than what an upload may be."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "[Content_Types].xml", '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>'
        )
        with archive.open("xl/worksheets/sheet1.xml", "w") as sheet:
            for _ in range(UNPACKED // len(CELLS)):
                sheet.write(CELLS)
    data = file.getvalue()
    assert len(data) < 2**20
    return data


def cost_of(job):
    """Seconds and greatest memory [bytes] of a job, which is done twice: looking at the memory takes time itself."""
    begun = time.perf_counter()
    job()
    seconds = time.perf_counter() - begun
    tracemalloc.start()
    job()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return seconds, peak


def test_to_unpack_it_would_be_seen(bomb):
    """Control: what is measured notices a reader that unpacks."""

    def unpack():
        with zipfile.ZipFile(io.BytesIO(bomb)) as archive:
            archive.read("xl/worksheets/sheet1.xml")

    assert cost_of(unpack)[1] > 200e6


@pytest.mark.parametrize("name", NAMES)
def test_as_an_attachment(bomb, name):
    by = make_person()
    coupon = make_coupon(by, make_lot(by))

    def attach():
        with pytest.raises(Refusal):
            attachments.add(by=by, owner=coupon, name=name, data=bomb)

    seconds, peak = cost_of(attach)
    assert seconds < 2
    assert peak < 20e6
    assert not StoredFile.objects.exists()


@pytest.mark.parametrize("name", NAMES[:2])
def test_as_a_file_of_readings(bomb, name):
    by = make_person()

    def read():
        with pytest.raises(Refusal):
            import_file(by=by, name=name, data=bomb)

    seconds, peak = cost_of(read)
    assert seconds < 2
    assert peak < 20e6
    assert not TestRun.objects.exists()


def test_by_the_api(bomb):
    by = make_person()
    coupon = make_coupon(by, make_lot(by))
    client, answers = APIClient(), []
    client.force_login(by)

    def send():
        body = {"coupon": coupon.code, "file": SimpleUploadedFile(NAMES[0], bomb)}
        answers.append(client.post("/api/attachments/", body, format="multipart"))
        answers.append(client.generic("POST", "/api/readings/import/", bomb, content_type="text/csv"))

    client.get("/api/attachments/")  # whatever the first request of all has to read
    seconds, peak = cost_of(send)
    assert {answer.status_code for answer in answers} == {400}, [answer.content for answer in answers]
    assert seconds < 2
    assert peak < 40e6
