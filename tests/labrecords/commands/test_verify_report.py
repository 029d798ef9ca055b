"""`manage.py verify_report`: a copy is checked with no database, and whatever was done to it is named.

None of these tests may ask the database anything (see `no_database`).
"""

import copy
import io
import json
import os
import random
import re
import subprocess
import sys
import time
from pathlib import Path

import pypdf
import pytest
from django.core.management import CommandError, call_command
from django.test import override_settings

from labrecords import content
from labrecords.management.commands import verify_report
from labrecords.models import Laboratory
from labrecords.reports import certificate, qualification
from labrecords.reports.qualification import package, verification
from tests.labrecords.reports import forging

pytestmark = pytest.mark.django_db  # the session's report is issued in the test database, before any test here
MANAGE = Path(__file__).resolve().parents[3] / "manage.py"
SEED = 20261126


@pytest.fixture(autouse=True)
def no_database(issued, db, django_db_blocker, tmp_path):
    """Whoever asks the database from here on gets an error; and no certificate is known from the data folder."""
    with django_db_blocker.block(), override_settings(DATA=tmp_path / "none"):
        with pytest.raises(RuntimeError, match="Database access not allowed"):
            Laboratory.objects.exists()
        yield


@pytest.fixture
def evidence(issued):
    return issued[0]


@pytest.fixture
def report(issued, tmp_path):
    path = tmp_path / "report.pdf"
    path.write_bytes(issued[1])
    return path


@pytest.fixture
def fingerprint(evidence):
    return evidence["report"]["certificate"]["fingerprint"]


def said(path, *arguments):
    """What the command prints, and its exit code."""
    out = io.StringIO()
    try:
        call_command("verify_report", str(path), *arguments, stdout=out)
    except SystemExit as end:
        return out.getvalue(), end.code
    except CommandError as refusal:
        return str(refusal), refusal.returncode
    return out.getvalue(), 0


def found(path, *arguments):
    """The lines of what differs, by what was looked at, and the exit code."""
    text, code = said(path, *arguments, "--json")
    rows = json.loads(text)["findings"]
    return {f"{row['group']}: {row['what']}".removeprefix(": "): row for row in rows if not row["agrees"]}, code


def test_a_report_as_issued_agrees_in_everything(report, evidence, fingerprint):
    text, code = said(report, "--fingerprint", fingerprint)
    assert code == 0, text
    assert "DIFFERS" not in text
    assert "sealed by a known certificate" in text
    assert evidence["report"]["number"] in text
    for item in evidence["judgement"]["outcomes"]:
        assert re.search(rf"agrees   {item['label']}: .* {item['verdict']}\n", text)
    assert "The pages are those that the evidence gives; byte for byte" in text
    for name in set(package.ABOUT) - {package.DESCRIPTOR}:
        assert f"agrees   {name}" in text


def test_each_printed_number_is_among_what_was_computed_again(report, evidence):
    text, _ = said(report, "--json")
    rows = [row for row in json.loads(text)["findings"] if row["kind"]]
    lines = len(package.columns.read(package.RESULTS, package.files(evidence)["results.csv"], "results.csv"))
    assert len(rows) == lines
    assert all(row["printed"] == row["recomputed"] for row in rows)


@pytest.mark.parametrize("known", ["nothing", "data folder", "certificate", "fingerprint", "lower case, no colons"])
def test_who_sealed_it_is_told_by_what_is_known(known, report, fingerprint, issued, tmp_path):
    options = {
        "certificate": ["--certificate", str(tmp_path / "lab.pem")],
        "fingerprint": ["--fingerprint", fingerprint],
        "lower case, no colons": ["--fingerprint", fingerprint.replace(":", "").lower()],
    }
    if known == "data folder":
        _keep(tmp_path / "none" / "certificate" / "old.pem", issued[1])
    _keep(tmp_path / "lab.pem", issued[1])
    text, code = said(report, *options.get(known, ()))
    assert code == 0
    assert ("sealed by a known certificate" in text) is (known != "nothing")
    assert ("who sealed the file is NOT shown" in text) is (known == "nothing")
    assert (tmp_path / "none").exists() is (known == "data folder")


def _keep(path, file):
    from cryptography.hazmat.primitives.serialization import Encoding

    from labrecords.reports.unsealing import unsealed

    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(unsealed(file, "x").certificate.public_bytes(Encoding.PEM))
    return path


def test_another_certificate_than_the_one_named_is_found(report):
    rows, code = found(report, "--fingerprint", "ab" * 32)
    assert (code, list(rows)) == (1, ["The certificate is a known one"])


@pytest.mark.parametrize("wrong", ["", " ", ":", "12", "xy" * 32, "ab" * 33])
def test_a_mistyped_or_empty_fingerprint_is_refused(wrong, report):
    text, code = said(report, "--fingerprint", wrong)
    assert code == 2
    assert "64 hexadecimal digits" in text


def changed_reading(evidence):
    """The first reading of the first treated run of sliding angles, 3.9°, made 5.5° in the table and on the pages."""
    run = next(run for run in evidence["runs"] if run["method"] == "sliding_angle" and run["role"] == "treated")
    row = next(row for row in evidence["readings"] if row["run"] == run["code"] and row["state"] == "current")
    row["value"] = run["readings"][0]["value"] = 5.5


def test_a_changed_reading_signed_with_another_key_is_found_twice(report, issued, fingerprint, tmp_path):
    report.write_bytes(forging.resealed(issued[1], tmp_path / "forger", change=changed_reading))
    rows, code = found(report, "--fingerprint", fingerprint)
    assert code == 1
    assert "The certificate is a known one" in rows
    (name,) = [name for name in rows if name.startswith("C2: ")]
    assert rows[name]["printed"] != rows[name]["recomputed"]
    assert not any(name.startswith(("C1", "C3", "C5")) for name in rows)
    text, _ = said(report, "--fingerprint", fingerprint)
    assert re.search(r"DIFFERS  C2: .*; printed .*, computed again ", text)
    # Even without knowing the lab's certificate the numbers give it away.
    assert found(report)[1] == 1


def test_a_changed_reading_whose_new_numbers_are_printed_too_is_found_by_the_certificate_alone(
    report,
    issued,
    fingerprint,
    tmp_path,
):
    """Limit: who changes everything consistently and signs it is found by the fingerprint only; the notes say so."""

    def consistent(evidence):
        changed_reading(evidence)
        evidence.update(verification.replay.again(copy.deepcopy(evidence)))
        forging.signed_anew(evidence)

    report.write_bytes(forging.resealed(issued[1], tmp_path / "forger", change=consistent))
    rows, code = found(report, "--fingerprint", fingerprint)
    assert (code, list(rows)) == (1, ["The certificate is a known one"])
    text, code = said(report)
    assert "who sealed the file is NOT shown" in text


CONTENT = "The attached evidence is the signed content"
TOGETHER = "An issued report's signatures are there, each once"
AUTHOR, REVIEW, APPROVAL = (
    "Signature as author by Developer",
    "Signature as review by R. Eviewer",
    "Signature as approval by Q. Uality",
)


def other_numbers(evidence):
    changed_reading(evidence)
    evidence.update(verification.replay.again(copy.deepcopy(evidence)))


def other_hash_too(evidence):
    other_numbers(evidence)
    evidence["report"]["content_sha256"] = content.content_sha256(evidence)


def signature(place, **changes):
    return lambda evidence: evidence["report"]["signatures"][place].update(changes)


def digest_anew(place, **changes):
    """The digest is made to fit; what else the report says is not."""

    def change(evidence):
        row = evidence["report"]["signatures"][place]
        row |= changes
        row["digest"] = content.signature_digest(row)

    return change


def reviewed_by_the_author(evidence):
    digest_anew(1, person=evidence["report"]["signatures"][0]["person"])(evidence)


def kept(*places):
    def change(evidence):
        evidence["report"]["signatures"] = [evidence["report"]["signatures"][place] for place in places]

    return change


FORGED = {
    "readings and results": (other_numbers, [CONTENT, AUTHOR, REVIEW, APPROVAL], "is printed, the evidence has"),
    "readings, results and hash": (other_hash_too, [AUTHOR, REVIEW, APPROVAL], "other content was signed"),
    "name": (signature(1, name="S. Omebody"), ["Signature as review by S. Omebody"], "its digest does not fit"),
    "sign-in name": (signature(1, username="else"), [REVIEW], "its digest does not fit"),
    "digest": (signature(2, digest="0" * 64), [APPROVAL], "its digest does not fit"),
    "assessment": (digest_anew(2, assessment=99), [APPROVAL], "another assessment or version"),
    "version": (digest_anew(2, version=99), [APPROVAL], "another assessment or version"),
    "title of the role": (
        signature(2, role_title="director"),
        [APPROVAL],
        "“director” is printed for the role quality",
    ),
    "printed time": (signature(0, at="2026-01-01 08:00"), [AUTHOR], "“2026-01-01 08:00” is printed for"),
    "time that is none": (signature(0, signed_at="today"), ["The signatures that the report prints"], "cannot be"),
    "two dropped": (kept(0), [TOGETHER], "signed as author; an issued report is as author, review, approval"),
    "all dropped": (kept(), [TOGETHER], "signed as nothing"),
    "one twice": (kept(0, 1, 2, 2), [TOGETHER], "signed as author, review, approval, approval"),
    "reviewed by the author": (reviewed_by_the_author, [TOGETHER], "who signed as author signed as another, too"),
}


@pytest.mark.parametrize("what", FORGED)
def test_a_signature_that_is_not_of_this_content_and_person_is_found(what, report, issued, tmp_path):
    """All else is consistent, and sealed with a key of the forger's own: the lab's certificate is not known here."""
    change, expected, why = FORGED[what]
    author = issued[0]["report"]["signatures"][0]["name"]
    report.write_bytes(forging.resealed(issued[1], tmp_path / "forger", change=change))
    rows, code = found(report)
    assert (code, list(rows)) == (1, [name.replace("Developer", author) for name in expected])
    assert why in next(iter(rows.values()))["why"]


def test_each_signature_is_a_line(report, evidence):
    text, _ = said(report)
    for row in evidence["report"]["signatures"]:
        assert f"agrees   Signature as {row['meaning']} by {row['name']}\n" in text
    assert f"agrees   {CONTENT}\n" in text
    assert f"agrees   {TOGETHER}\n" in text


def test_a_changed_printed_number_signed_anew_is_found_by_drawing_the_pages(report, issued, tmp_path):
    def printed(evidence):
        evidence["judgement"]["outcomes"][0]["value"] -= 0.5

    report.write_bytes(forging.resealed(issued[1], tmp_path / "forger", draw=printed))
    rows, code = found(report)
    assert (code, list(rows)) == (1, ["The pages are those that the evidence gives"])


def test_pages_of_another_version_are_held_against_their_numbers(report, issued, tmp_path):
    """Another version draws other bytes; a changed number is found all the same."""
    evidence = package.evidence_of(forging.attached(issued[1]))
    with forging.another_key(tmp_path / "forger") as other:
        evidence["report"]["certificate"] = other.facts()
        files = package.files(evidence, {"analysis": "2026.1", "reportlab": "5.0", "sources": "sha256:00"})
        drawn = copy.deepcopy(evidence)
        drawn["laboratory"]["address"] += ", as another version prints it"
        report.write_bytes(forging.sealed(qualification.render(drawn), files, other))
        text, code = said(report)
        assert code == 0, text
        assert "drawn by another version" in text
        assert "agrees   The pages hold every printed result" in text
        assert "Everything agrees" in text  # the seal of a known certificate vouches for the bytes of the pages
        for change in ({"verdict": "pass"}, {"outcomes": _lower(drawn["judgement"]["outcomes"])}):
            forged = drawn | {"judgement": drawn["judgement"] | change}
            report.write_bytes(forging.sealed(qualification.render(forged), files, other))
            rows, code = found(report)
            assert (code, list(rows)) == (1, ["The pages hold every printed result"])


def drawn_over(evidence):
    """The pages with a picture over the first: their text is still there, and nobody sees it."""
    from PIL import Image
    from reportlab.lib.utils import ImageReader
    from reportlab.pdfgen import canvas

    writer = pypdf.PdfWriter(io.BytesIO(qualification.render(evidence)))
    size = writer.pages[0].mediabox.width, writer.pages[0].mediabox.height
    over, out = io.BytesIO(), io.BytesIO()
    sheet = canvas.Canvas(over, pagesize=size)
    sheet.drawImage(ImageReader(Image.new("RGB", (60, 80), "white")), 0, 0, *size)
    sheet.save()
    writer.pages[0].merge_page(pypdf.PdfReader(io.BytesIO(over.getvalue())).pages[0])
    writer.write(out)
    return out.getvalue()


def test_pages_that_nothing_vouches_for_end_with_3(report, issued, tmp_path):
    """Whoever names another program has the pages compared by their text alone, and only the certificate is left."""
    evidence = package.evidence_of(forging.attached(issued[1]))
    with forging.another_key(tmp_path / "forger") as other:
        evidence["report"]["certificate"] = other.facts()
        files = package.files(evidence, package.this_program() | {"sources": "sha256:00"})
        report.write_bytes(forging.sealed(drawn_over(evidence), files, other))
    text, code = said(report)
    assert code == 3, text
    assert "are NOT COMPARED" in text
    assert text.rstrip().splitlines()[-1].startswith("NOT SHOWN:")
    assert not re.search("[Ee]verything agrees|looked at agree with each other", text)
    told = json.loads(said(report, "--json")[0])
    assert (told["agrees"], told["pages_compared"], told["vouches_for_pages"]) == (True, False, False)
    assert said(report, "--fingerprint", "ab" * 32)[1] == 1
    assert said(report, "--fingerprint", other.facts()["fingerprint"])[1] == 0


def _lower(outcomes):
    return [outcomes[0] | {"value": outcomes[0]["value"] - 0.5}, *outcomes[1:]]


def test_the_other_form_of_the_signature_is_told(report, issued, fingerprint):
    """Limit: it needs no key and leaves a valid seal, so it is no fault; but no sentence denies that bytes changed."""
    assert "Of the two forms of its signature" not in said(report)[0]
    report.write_bytes(forging.turned(issued[1]))
    text, code = said(report, "--fingerprint", fingerprint)
    assert code == 0
    assert "Note: Of the two forms of its signature the file has the one that" in text
    assert "agrees   No byte that the signature covers was changed\n" in text


def test_an_appended_update_is_named(report):
    writer = pypdf.PdfWriter(str(report), incremental=True)
    writer.add_metadata({"/Subject": "changed later"})
    out = io.BytesIO()
    writer.write(out)
    report.write_bytes(out.getvalue())
    text, code = said(report)
    assert code == 1
    assert re.search(r"DIFFERS  Nothing was added after the seal; \d+ bytes, 1 incremental update:", text)


def test_a_report_stripped_of_its_seal_is_not_taken_for_one(report, evidence):
    report.write_bytes(qualification.render(evidence))
    text, code = said(report)
    assert code == 1
    assert "DIFFERS  Signature; the file is not signed" in text
    assert "not attached: datapackage.json" in text


@pytest.mark.parametrize("name", sorted(set(package.ABOUT) - {package.DESCRIPTOR}))
def test_a_file_that_is_not_the_described_one_is_named(name, report, issued, tmp_path):
    files = dict(forging.attached(issued[1]))
    files[name] = files[name].replace(b"e", b"E", 1)
    with forging.another_key(tmp_path / "forger") as other:
        report.write_bytes(forging.sealed(qualification.render(issued[0]), files, other))
    rows, code = found(report)
    assert code == 1
    assert rows[name]["why"] == "it is not the file that was described"


@pytest.mark.parametrize("version", [str(package.FORMAT), "2", 1, None])
def test_files_that_do_not_say_the_same_are_named(version, report, issued, tmp_path):
    """Described anew with the right hashes, but results.csv is another table's; no other form is a way around it."""
    files = dict(forging.attached(issued[1]))
    told = json.loads(files[package.DESCRIPTOR]) | {"version": version}
    files["results.csv"] = files["results.csv"].replace(b",pass,", b",fail,", 1)
    (row,) = [row for row in told["resources"] if row["path"] == "results.csv"]
    row |= {name: package._resource("results.csv", files["results.csv"])[name] for name in ("hash", "bytes")}
    files[package.DESCRIPTOR] = package._json(told)
    with forging.another_key(tmp_path / "forger") as other:
        report.write_bytes(forging.sealed(qualification.render(issued[0]), files, other))
    rows, code = found(report)
    expected = "results.csv" if version == str(package.FORMAT) else f"of form {version!r}, known here is"
    assert expected in rows["The files agree with each other"]["why"]
    assert code == 1


HOSTILE = {
    "a further file": {"extra.csv": b"x"},
    "no description": {package.DESCRIPTOR: None},
    "no object": {package.DESCRIPTOR: b"3"},
    "no resources": {package.DESCRIPTOR: b"{}"},
    "other columns": {"readings.csv": b"a,b\r\n1,2\r\n"},
    "no readings": {"readings.csv": b""},
    "no text": {"readings.csv": bytes(range(256))},
    "no evidence": {"evidence.json": b"{}"},
}


@pytest.mark.parametrize("what", HOSTILE)
def test_odd_attachments_end_in_a_sentence(what, report, issued, tmp_path):
    files = {name: data for name, data in (forging.attached(issued[1]) | HOSTILE[what]).items() if data is not None}
    with forging.another_key(tmp_path / "forger") as other:
        report.write_bytes(forging.sealed(qualification.render(issued[0]), files, other))
    text, code = said(report)
    assert code == 1
    assert "DIFFERS" in text
    assert "Traceback" not in text


@pytest.mark.parametrize("key", ["courses", "report", "judgement", "coupons"])
@pytest.mark.parametrize("drawn_by", ["this program", "another version"])
def test_evidence_that_lacks_a_part_ends_in_a_sentence(key, drawn_by, report, issued, tmp_path):
    files = dict(forging.attached(issued[1]))
    files["evidence.json"] = package._json({k: v for k, v in json.loads(files["evidence.json"]).items() if k != key})
    if drawn_by == "another version":
        files[package.DESCRIPTOR] = package._json(json.loads(files[package.DESCRIPTOR]) | {"made_with": {}})
    with forging.another_key(tmp_path / "forger") as other:
        report.write_bytes(forging.sealed(qualification.render(issued[0]), files, other))
    text, code = said(report)
    assert code == 1
    assert "DIFFERS" in text


STRANGE = {
    "NaN": lambda evidence: evidence["readings"][0].update(value=float("nan")),
    "infinite": lambda evidence: evidence["readings"][0].update(value=float("inf")),
    "an unknown method": lambda evidence: evidence["inputs"]["runs"][0].update(method="divination"),
    "an unknown quantity": lambda evidence: evidence["readings"][0].update(quantity="luck"),
    "an unknown kind of criterion": lambda evidence: evidence["inputs"]["criteria"][0].update(kind="coin"),
    "an unknown run": lambda evidence: evidence["readings"][0].update(run="R-0"),
    "no runs": lambda evidence: evidence["inputs"].update(runs=[]),
    "a date that is none": lambda evidence: evidence["inputs"]["runs"][0].update(observed_at="yesterday"),
}


@pytest.mark.parametrize("what", STRANGE)
def test_odd_evidence_ends_in_a_sentence(what, report, issued, tmp_path):
    report.write_bytes(forging.resealed(issued[1], tmp_path / "forger", change=STRANGE[what]))
    text, code = said(report)
    assert code == 1
    assert "DIFFERS" in text


def test_control_characters_of_a_file_do_not_reach_the_terminal(report, issued, tmp_path):
    def named(evidence):
        evidence["laboratory"]["name"] = "Lab\x1b[2J\u202e"
        evidence["specification"]["title"] = "\x1b]0;x\x07"

    report.write_bytes(forging.resealed(issued[1], tmp_path / "forger", change=named))
    text, _ = said(report)
    assert "Lab[U+001B][2J[U+202E]" in text
    assert "\x1b" not in text


@pytest.mark.parametrize(
    ("content", "why"), [(None, "No such file"), (b"", "no PDF"), (b"hello", "no PDF"), (b"%PDF-1.7\n%%EOF\n", "whole")]
)
def test_what_cannot_be_read_ends_with_2(content, why, tmp_path):
    path = tmp_path / "x.pdf"
    if content is not None:
        path.write_bytes(content)
    text, code = said(path)
    assert code == 2
    assert why in text


@pytest.mark.parametrize("count", [5, pytest.param(100, marks=pytest.mark.slow)])
def test_a_flipped_bit_ends_with_1_or_2(count, report, issued):
    draw = random.Random(SEED)
    codes = []
    for _ in range(count):
        changed = bytearray(issued[1])
        changed[draw.randrange(len(changed))] ^= 1 << draw.randrange(8)
        report.write_bytes(changed)
        codes.append(said(report)[1])
    print(f"\nbits flipped: {count}; exit code 1: {codes.count(1)}, 2: {codes.count(2)}, 0: {codes.count(0)}")
    assert set(codes) <= {1, 2}


@pytest.fixture
def elsewhere(tmp_path):
    """Another machine: no data folder, a database that nobody listens for, nothing of this project's environment."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("LABRECORDS", "DJANGO"))}
    return kept | {
        "LABRECORDS_DATA": str(tmp_path / "absent"),
        "DATABASE_URL": "postgresql://nobody:x@127.0.0.1:9/none",
        "HOME": str(tmp_path),
    }


def run(environment, *arguments):
    command = [sys.executable, str(MANAGE), "verify_report", *map(str, arguments)]
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=120)


@pytest.mark.parametrize(
    "database", ["a server that is not there", pytest.param("the embedded one, absent", marks=pytest.mark.thorough)]
)
def test_a_copy_elsewhere_is_verified_and_nothing_is_made(database, report, elsewhere, fingerprint, tmp_path):
    if database.startswith("the embedded"):
        del elsewhere["DATABASE_URL"]
    before = sorted(tmp_path.rglob("*"))
    started = time.perf_counter()
    done = run(elsewhere, report, "--fingerprint", fingerprint)
    taken = time.perf_counter() - started
    print(f"\nverify_report in a process of its own: {taken:.1f} s")
    assert (done.returncode, done.stderr) == (0, ""), done.stdout + done.stderr
    assert "Everything agrees" in done.stdout
    assert sorted(tmp_path.rglob("*")) == before
    assert taken < 60


def test_exit_codes_of_the_process(report, elsewhere, tmp_path):
    (tmp_path / "x.pdf").write_bytes(b"no pdf")
    done = run(elsewhere, tmp_path / "x.pdf")
    assert (done.returncode, "Traceback" in done.stderr) == (2, False)
    assert run(elsewhere, report, "--fingerprint", "ab" * 32).returncode == 1


def test_the_options_of_who_sealed_it_exclude_each_other(report, tmp_path):
    with pytest.raises(CommandError, match="not allowed with argument"):
        call_command("verify_report", str(report), "--fingerprint", "ab" * 32, "--certificate", str(tmp_path))
    text, code = said(report, "--certificate", str(tmp_path / "none.pem"))
    assert (code, "holds no certificate" in text) == (2, True)


def test_known_certificates_are_looked_for_and_never_made(tmp_path):
    with override_settings(DATA=tmp_path):
        assert verify_report._known(None, None) is None
        assert certificate.known() == []
    assert list(tmp_path.iterdir()) == []
