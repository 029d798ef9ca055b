"""The issued PDF, read back: ISO/IEC 17025:2017, 7.8.2.1 a–p, on paper as on record."""

import copy
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
from io import BytesIO

import numpy as np
import pypdf
import pytest
from django.db import transaction
from reportlab.platypus import Spacer
from scipy import stats

from labrecords.actions import assessments
from labrecords.reports import look, pages, qualification
from labrecords.reports.text import paragraph
from tests import factories as make
from tests.labrecords.reports.scenario import HOSTILE, rich_evidence

pytestmark = pytest.mark.django_db  # the fixture of the module needs the test database, whichever tests are picked


@pytest.fixture(scope="module")
def evidence(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), transaction.atomic():
        found = rich_evidence()
        transaction.set_rollback(True)
    return found


@pytest.fixture(scope="module")
def file(evidence):
    return qualification.render(evidence)


@pytest.fixture(scope="module")
def reader(file):
    return pypdf.PdfReader(BytesIO(file))


@pytest.fixture(scope="module")
def sheets(reader):
    return [page.extract_text() for page in reader.pages]


@pytest.fixture(scope="module")
def text(sheets):
    return squeezed(" ".join(sheets))


def squeezed(words):
    return re.sub(r"\s+", " ", words)


ITEMS = {
    "a title": "Test report: batch qualification",
    "b laboratory": "Invented Surface Lab",
    "b address": "1 Example Lane",
    "c where": "at the laboratory's address given above; instruments at: Room 7",
    "d number": "QR-",
    "d end": "End of report QR-",
    "e customer": "Station network North",
    "e contact": "The test desk",
    "f method": "Advancing and receding contact angle (by volume change), own version 1",
    "f edition": "ISO 19403-6:2024",
    "g state": "in test",
    "g traceability": "SHEET-",
    "h receipt": "Received",
    "i dates of tests": "Dates of the tests 2026-03-02",
    "j date of issue": "Date of issue",
    "k sampling plan": "three of three, by place in the rack",
    "l items tested": "Results relate only to the items tested",
    "m units": "mN/m",
    "n deviations": "Deviations from recipe, method, specification or plan",
    "o authorised": "Q. Uality, quality",
    "p outside": "none from outside is on record",
    "note": "shall not be reproduced except in full",
    "customer's wording": "sheds as agreed in clause 4",
    "decision rule": "lies wholly inside the limit, fail when wholly outside",
    "risk": "with a risk of at most 2.5 %",
    "inconclusive leads to": "six further coupons, once",
    "caution": "Nitric acid (H272 H290 H331 H314 EUH071)",
    "defer": "Defer to the current safety data sheet, local rules and a qualified person.",
    "pfas": "Invented oil belongs to the PFAS",
    "limits": "Finished parts and other batches were not tested",
    "control": "untreated control",
    "no reference": "No reference coupon was tested",
    "mass": "5018.5",
    "lubricant lot": "OIL-LOT-3",
    "climate": "room temperature 23 °C",
    "uncertainty": "were not evaluated numerically",
    "reviewed": "R. Eviewer",
}  # fmt: skip


@pytest.mark.parametrize("item", ITEMS)
def test_each_item_of_a_test_report_is_there(item, text):
    assert ITEMS[item] in text


DEVIATIONS = [
    "Boiling in water: Temperature 93 °C, planned 95 to 99 °C", "cold tap line",
    "Rack was turned", "door jammed", "impact: none seen",
    "No record that step 4 Drying was done",
    "planned, but no actual value recorded: Duration",
    "after its last day 2026-02-01",
    "A condition of the run was not recorded", "logger was off",
    "drop volume 10 µL instead of 5 µL",
    "used after its calibration was due on 2026-02-01",
    "revision 1 was fixed on 2026-06-01, after the first run",
    "after the first run, entered on",
    "Treated coupons without a completed run",
    "have not been reviewed by a second person",
    "excluded by Q. Uality: dust under the drop",
    "lost: rolled off the edge & gone",
    "misread the scale", "3.4° to 3.9°",
]  # fmt: skip


@pytest.mark.parametrize("words", DEVIATIONS)
def test_whatever_was_not_as_planned_is_named(words, text):
    assert words in text


def test_number_and_page_n_of_n_stand_on_every_page(sheets, evidence):
    for place, sheet in enumerate(sheets, start=1):
        assert evidence["report"]["number"] in sheet
        assert f"page {place} of {len(sheets)}" in squeezed(sheet)
    assert f"End of report {evidence['report']['number']}" in squeezed(sheets[-1])


def test_no_page_is_empty_and_none_ends_with_a_heading(sheets):
    titles = tuple(f"{place} {title}" for place, (title, _) in enumerate(qualification.SECTIONS, start=1))
    leads = (*titles, ">: not moved up to the stage limit; placing")  # the line under a heading, too
    for sheet in sheets:
        lines = [squeezed(line) for line in sheet.splitlines() if line.strip()]
        body = [
            line
            for line in lines
            if not line.startswith(("page ", "QR-", "Test report: batch", "Invented Surface Lab ·"))
        ]
        assert len(body) > 3
        assert not body[-1].startswith(leads)


def test_names_that_look_like_markup_print_as_typed(text, file):
    assert text.count(HOSTILE) >= 4  # batch, specification, step, bath
    assert b"/URI" not in file
    assert b"/Subtype /Image" not in file


@pytest.mark.parametrize(
    "typed",
    ["x <script>FAIL</script> y", '<font color="white">FAIL</font>', "theta<b and more", '<img src="http://127.0.0.1:9/x.png"/>',
     '<a href="javascript:alert(1)">h</a>', "a\u202eb\x07c", "w" * 400, "θ ± ≥ ² ⁻ µ", "漢字"],
)  # fmt: skip
def test_a_hostile_name_never_stops_the_report(typed, evidence):
    changed = copy.deepcopy(evidence)
    changed["batch"]["title"] = changed["customer"]["name"] = changed["steps"][0]["name"] = typed
    changed["coupons"][0]["remark"] = changed["runs"][0]["remark"] = changed["deviations"][0]["reason"] = typed
    changed["groups"][0]["figures"][0]["coupons"][0]["name"] = typed
    found = "".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(qualification.render(changed))).pages)
    wanted = typed.replace("\u202e", "[U+202E]").replace("\x07", "[U+0007]").replace("漢字", "[U+6F22][U+5B57]")
    assert re.sub(r"\s", "", wanted) in re.sub(r"\s", "", found)


@pytest.mark.parametrize(
    "where", [("deviations", 0, "what"), ("runs", 0, "remark"), ("batch", "sampling"), ("steps", 0, "instruction")]
)
def test_a_text_longer_than_a_page_breaks_over_pages(where, evidence):
    changed = copy.deepcopy(evidence)
    *path, last = where
    place = changed
    for part in path:
        place = place[part]
    place[last] = "A long remark. " * 700 + "And its end."
    found = squeezed(
        " ".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(qualification.render(changed))).pages)
    )
    assert "And its end." in found


def test_only_embedded_fonts(reader, file):
    fonts = {font for page in reader.pages for font in page["/Resources"]["/Font"].values()}
    for font in fonts:
        described = font.get_object()
        assert "Roboto" in described["/BaseFont"]
        assert "/FontFile2" in described["/FontDescriptor"]
    assert b"Helvetica" not in file


def test_greek_and_raised_signs_survive(evidence):
    changed = copy.deepcopy(evidence)
    changed["batch"]["remark"] = "θa θr Δ γ ± ≥ ≤ ² ³ ⁻¹ µ ° · – “x”"
    found = "".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(qualification.render(changed))).pages)
    assert changed["batch"]["remark"] in squeezed(found)


def test_same_evidence_gives_the_same_bytes_also_after_storing(evidence, file):
    stored = json.loads(json.dumps(evidence, sort_keys=True))
    assert qualification.render(evidence) == file
    assert qualification.render(stored) == file


def test_same_bytes_in_other_processes_with_other_hash_seeds(evidence, file, tmp_path):
    path = tmp_path / "evidence.json"
    path.write_text(json.dumps(evidence))
    code = (
        "import sys, json, hashlib, django; django.setup();"
        "from labrecords.reports.qualification import render;"
        "print(hashlib.sha256(render(json.load(open(sys.argv[1])))).hexdigest())"
    )
    for seed, epoch in (("1", "0"), ("2", "1700000000")):
        environment = os.environ | {
            "PYTHONHASHSEED": seed,
            "SOURCE_DATE_EPOCH": epoch,
            "DJANGO_SETTINGS_MODULE": "labrecords.settings",
        }
        done = subprocess.run(
            [sys.executable, "-c", code, path], env=environment, capture_output=True, text=True, check=True
        )
        assert done.stdout.strip() == hashlib.sha256(file).hexdigest()


def test_the_file_carries_the_true_date_of_issue_and_its_number(reader, evidence):
    assert int(reader.metadata.creation_date.timestamp()) == evidence["report"]["issued_epoch"]
    assert evidence["report"]["number"] in reader.metadata.title
    assert reader.trailer["/Root"]["/Lang"] == "en"


def test_every_reading_stands_in_the_annex(text, evidence):
    annex = text[text.rindex("Annex: runs and every reading") :]
    for run in evidence["runs"]:
        assert f"Run {run['code']}" in annex
    assert annex.count("lost") >= sum(row["qualifier"] == "lost" for run in evidence["runs"] for row in run["readings"])
    assert "(3.6)" in annex  # excluded: drop 2 of the first sliding run, typed as 3.6
    assert "3.9*" in annex  # corrected
    assert annex.count("> 30.0") == 4  # hand: one drop not moved on each of three treated coupons and the control


def test_figures_are_vectors_with_their_words(text, file):
    assert "limit at most 3.5°" in text
    assert "C1: Contact angle hysteresis" in text
    assert "Sliding angle over the dose" in text
    assert b"/Subtype /Image" not in file


def test_printed_numbers_equal_a_calculation_done_apart(text, evidence):
    """independent (numpy and scipy of requirements.txt), from the readings in the evidence."""
    means = []
    for run in evidence["runs"]:
        if run["method"] == "advancing_receding" and run["role"] == "treated":
            angle = {(row["quantity"], row["drop"]): row["value"] for row in run["readings"]}
            drops = {drop for _, drop in angle}
            means.append(np.mean([angle["advancing_angle", drop] - angle["receding_angle", drop] for drop in drops]))
    low, high = stats.t.interval(0.95, len(means) - 1, loc=np.mean(means), scale=stats.sem(means))
    outcome = evidence["judgement"]["outcomes"][0]
    assert (outcome["value"], outcome["low"], outcome["high"]) == pytest.approx((np.mean(means), low, high))
    assert f"{np.mean(means):.2f}° [{low:.2f}, {high:.2f}]° (95 %)" in text
    assert outcome["n_coupons"] == 3


def test_medians_with_a_drop_not_moved_equal_numpy(text, evidence):
    """independent (numpy): a drop that did not move ranks above all others; excluded and lost ones are left out."""
    medians = []
    for run in evidence["runs"]:
        if run["method"] == "sliding_angle" and run["role"] == "treated" and run["dose"] == "fresh":
            rows = [row for row in run["readings"] if not row["excluded"] and row["qualifier"] != "lost"]
            medians.append(np.median([np.inf if row["qualifier"] == "not_moved" else row["value"] for row in rows]))
    assert evidence["judgement"]["outcomes"][1]["value"] == pytest.approx(np.mean(medians))
    assert f"{np.mean(medians):.1f}°" in text


def test_a_blank_list_of_deviations_says_none_recorded(evidence):
    changed = copy.deepcopy(evidence)
    changed["deviations"], changed["corrections"] = [], []
    for run in changed["runs"]:
        run["readings"] = [row for row in run["readings"] if not row["excluded"] and row["qualifier"] != "lost"]
    found = squeezed(
        " ".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(qualification.render(changed))).pages)
    )
    assert found.count("None recorded.") == 3  # hand: deviations, exclusions, corrections


@pytest.mark.parametrize("verdict", ["pass", "fail", "inconclusive"])
def test_the_verdict_stands_first(verdict, evidence):
    changed = copy.deepcopy(evidence)
    changed["judgement"]["verdict"] = verdict
    first = pypdf.PdfReader(BytesIO(qualification.render(changed))).pages[0].extract_text()
    assert f"{verdict.upper()}: " in first


def test_a_limit_is_never_printed_as_the_value_beside_it(evidence):
    changed = copy.deepcopy(evidence)
    changed["judgement"]["outcomes"][0] |= {"value": 3.4, "low": 3.3, "high": 3.501, "limit": 3.5}
    found = squeezed(pypdf.PdfReader(BytesIO(qualification.render(changed))).pages[0].extract_text())
    assert "[3.300, 3.501]°" in found


@pytest.mark.poppler
@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")
def test_a_second_reader_finds_the_same_words(file, tmp_path):
    path = tmp_path / "report.pdf"
    path.write_bytes(file)
    found = subprocess.run(["pdftotext", "-enc", "UTF-8", path, "-"], capture_output=True, text=True, check=True).stdout
    for words in ("Test report: batch qualification", "θr", "> 30.0", "µL", "mm²", "page 1 of"):
        assert words in found


@pytest.mark.poppler
@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not installed")
def test_nothing_is_drawn_into_the_margins(file, tmp_path):
    """Pictures of all pages: ink only inside the frame, and on every page."""
    from PIL import Image

    path = tmp_path / "report.pdf"
    path.write_bytes(file)
    subprocess.run(["pdftoppm", "-r", "40", "-gray", "-png", path, tmp_path / "page"], check=True)
    margin = look.MARGIN / 72 * 40 - 3
    for picture in sorted(tmp_path.glob("page*.png")):
        with Image.open(picture) as page:
            box = page.point(lambda grey: 255 if grey < 200 else 0).getbbox()
            assert box[0] > margin
            assert box[2] < page.width - margin


def test_pages_are_the_same_whoever_renders_them():
    """Nothing of the machine's clock or environment goes into the file."""
    details = {"number": "QR-1", "title": "T", "footer": "F", "author": "A", "epoch": 1_700_000_000}
    first = pages.build([paragraph("x")], **details)
    time.sleep(1.1)
    assert pages.build([paragraph("x")], **details) == first
    assert pages.build([paragraph("x")], **details | {"epoch": 1_700_000_001}) != first


@pytest.mark.alone
@pytest.mark.parametrize(("n", "drops"), [(6, 30)])
def test_six_coupons_with_thirty_drops_take_under_two_seconds(n, drops):
    by = make.make_person("quality")
    revision, batch = make.make_shedding_criteria(by), make.make_tested_batch(by, n, drops)
    started = time.perf_counter()
    assessment = assessments.prepare(by=by, batch=batch, criterion_revision=revision)
    prepared = time.perf_counter() - started
    assessment = make.sign(assessment)
    started = time.perf_counter()
    issued = qualification.issue(by=by, assessment=assessment)
    assert prepared + time.perf_counter() - started < 2
    assert len(pypdf.PdfReader(BytesIO(issued.file)).pages) < 20


@pytest.mark.parametrize("place", range(len(qualification.SECTIONS)))
def test_no_heading_stands_alone_whatever_comes_before_it(place, evidence):
    """Limit: pushed down in small steps, the heading meets every place at the foot of a page."""
    title, section = qualification.SECTIONS[place]
    details = {"number": "QR-1", "title": "T", "footer": "F", "author": "A", "epoch": 1_700_000_000}
    for height in range(520, 715, 12):
        story = qualification._headed(paragraph(f"{place + 1}  {title}", "heading"), section(evidence)[:8])
        reader = pypdf.PdfReader(BytesIO(pages.build([Spacer(1, height), *story], **details)))
        lines = [squeezed(line).strip() for line in reader.pages[0].extract_text().splitlines() if line.strip()]
        body = [line for line in lines if line not in ("F", "T", "QR-1") and not line.startswith("page ")]
        assert not body or body[-1] != f"{place + 1} {title}", height


def test_check_that_rests_on_two_sources_names_both(evidence):
    changed = [row for row in evidence["checks"] if row["title"] == "Unchanged since dose 0"]
    assert "Hollander & Wolfe" in changed[0]["source"]


def test_chance_and_exposure_are_told_before_the_checks(text):
    assert "up to one run in twenty does not hold by chance alone" in text
    assert "not a fault of the run" in text


def test_requirement_is_printed_once_with_its_limit_in_a_column(text):
    first = text[: text.index("What each outcome rests on")]
    assert first.count("at most 3.50°") == 1


def test_specification_entered_after_the_first_test_says_so_on_the_first_page(evidence):
    changed = copy.deepcopy(evidence)
    first = pypdf.PdfReader(BytesIO(qualification.render(changed))).pages[0].extract_text()
    assert ", after the first test" in squeezed(first)
    changed["specification"]["entered_at"] = "2020-01-01 08:00"
    first = pypdf.PdfReader(BytesIO(qualification.render(changed))).pages[0].extract_text()
    assert ", after the first test" not in squeezed(first)
