"""The command line: each command calls an action, and refuses in the same words."""

import csv
import hashlib
import io
import json
import os
import statistics
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from pypdf import PdfReader

from labrecords.actions import coupons
from labrecords.errors import (
    FileRefused,
    NotAllowed,
    PasswordMissing,
    ReasonMissing,
    SigningRefused,
    UnknownCode,
    ValueRefused,
)
from labrecords.models import Assessment, Coupon, Laboratory, Person, Qualification, Reading, TestRun
from tests.factories import (
    PASSWORD,
    make_batch,
    make_coupon,
    make_criteria,
    make_instrument,
    make_liquid_lot,
    make_lot,
    make_method_version,
    make_person,
    sign,
)

HEADER = "run,coupon,method,liquid,drop_volume_ul,dose,position,drop,quantity,value,qualifier\n"
MANAGE = Path(__file__).resolve().parents[3] / "manage.py"


def said(*arguments, **options):
    out = io.StringIO()
    call_command(*arguments, stdout=out, **options)
    return out.getvalue()


@pytest.fixture
def by(db):
    return make_person()


@pytest.fixture
def write_file(tmp_path):
    def write(*lines):
        path = tmp_path / "readings.csv"
        path.write_text(HEADER + "".join(f"{line}\n" for line in lines))
        return str(path)

    return write


def sliding_lines(run, coupon, lot, values):
    return [
        f"{run},{coupon.code},sliding_angle,{lot.code},10,0,1,{drop},sliding_angle,{value},"
        for drop, value in enumerate(values, 1)
    ]


def test_log_coupons_prints_one_code_a_line(by):
    lot = make_lot(by)
    printed = said("log_coupons", "--lot", lot.code, "--marks", "A01,A02", "--length-mm", "40", "--area-mm2", "1600,5")
    codes = printed.split()
    made = [coupons.find(code) for code in codes]
    assert [coupon.mark for coupon in made] == ["A01", "A02"]
    assert {(c.length_mm, c.exposed_area_mm2, c.created_by) for c in made} == {(40.0, 1600.5, by)}


def test_log_coupons_into_a_batch_is_all_or_nothing(by):
    batch = make_batch(by)
    code = said("log_coupons", "--lot", batch.lot.code, "--batch", batch.code, "--role", "control").strip()
    assert batch.members.get(coupon__code=code).role == "control"
    before = Coupon.objects.count()
    with pytest.raises(ValueRefused, match="is not of the batch's substrate lot"):
        said("log_coupons", "--lot", make_lot(by).code, "--batch", batch.code)
    with pytest.raises(ValueRefused, match="Role"):
        said("log_coupons", "--lot", batch.lot.code, "--batch", batch.code, "--role", "spare")
    assert Coupon.objects.count() == before


@pytest.mark.parametrize(
    "arguments", [["--count", "2.5"], ["--count", "0"], ["--length-mm", "4 cm"], ["--length-mm", "nan"]]
)
def test_log_coupons_reads_numbers_strictly(by, arguments):
    with pytest.raises(ValueRefused):
        said("log_coupons", "--lot", make_lot(by).code, *arguments)
    assert Coupon.objects.count() == 0


def test_record_readings_stores_and_counts(by, write_file):
    coupon, lot, rig = make_coupon(by), make_liquid_lot(by), make_instrument(by)
    make_method_version(by)
    path = write_file(*sliding_lines("S1", coupon, lot, ["3.5", "5.7"]))
    options = ["--temperature", "23,5", "--humidity", "45", "--instrument", rig.code,
               "--observed-at", "2026-03-02T09:00", "--operators", by.username, "--why", "bench copy"]  # fmt: skip
    assert "1 runs and 2 readings added" in said("record_readings", path, *options)
    run = TestRun.objects.get()
    assert (run.room_temperature_c, run.room_humidity_pct, run.instrument, run.not_recorded) == (23.5, 45, rig, "")
    assert Reading.objects.first().events.get().pgh_context.metadata["why"] == "bench copy"
    assert "0 runs and 0 readings added; 1 runs and 2 readings were there" in said("record_readings", path, *options)


def test_record_readings_names_drafts(by, write_file):
    coupon, lot = make_coupon(by), make_liquid_lot(by)
    make_method_version(by, "advancing_receding")
    path = write_file(f"A1,{coupon.code},advancing_receding,{lot.code},10,0,1,1,advancing_angle,112,")
    assert "In draft, because readings are missing: A1" in said("record_readings", path)


def test_record_readings_prints_every_refused_line(by, write_file):
    coupon, lot = make_coupon(by), make_liquid_lot(by)
    make_method_version(by)
    path, errors = write_file(*sliding_lines("S1", coupon, lot, ["abc", "31", ""])), io.StringIO()
    with pytest.raises(FileRefused, match="Lines refused in the file: 3"):
        said("record_readings", path, stderr=errors)
    assert errors.getvalue().splitlines() == [
        "line 2, column value, “abc”: is not a plain number (digits, one decimal comma or point)",
        "line 3, column value, “31”: is beyond the stage limit of 30°",
        "line 4, column value: needs a number in °",
    ]
    assert TestRun.objects.count() == 0


def test_record_readings_of_no_file(by, tmp_path):
    with pytest.raises(ValueRefused, match="cannot be read: No such file"):
        said("record_readings", str(tmp_path / "none.csv"))


def test_results_in_three_formats(by, write_file):
    batch = make_batch(by, n=2)
    lot, angles = make_liquid_lot(by), [["3.5", "5.7", "4.0"], ["4.4", "4.2"]]
    make_method_version(by)
    lines = [
        line
        for number, (member, values) in enumerate(zip(batch.members.all(), angles, strict=True))
        for line in sliding_lines(f"S{number}", member.coupon, lot, values)
    ]
    said("record_readings", write_file(*lines))
    # independent: the standard library's median of each coupon, and their mean
    expected = statistics.mean(statistics.median(map(float, values)) for values in angles)
    rows = csv.DictReader(io.StringIO(said("results", "--batch", batch.code, "--format", "csv")))
    (row,) = [row for row in rows if (row["level"], row["key"]) == ("batch", "sliding_angle_median")]
    assert (float(row["value"]), row["n_coupons"], row["n_drops"]) == (pytest.approx(expected), "2", "5")
    data = json.loads(said("results", "--batch", batch.code, "--format", "json"))
    told = {item["key"]: item for item in data["batches"][0]["result"]["groups"][0]["statistics"]}
    assert told["sliding_angle_median"]["value"] == pytest.approx(expected)
    assert f"{expected:.1f} °" in said("results", "--batch", batch.code)
    assert "Run S1" in said("results", "--run", "S1")
    assert "Coupon" in said("results", "--coupon", batch.members.first().coupon.code)
    assert f"Batch {batch.code}" in said("results")


def test_results_of_unknown_codes(by):
    for arguments in (["--batch", "X"], ["--run", "X"]):
        with pytest.raises(UnknownCode):
            said("results", *arguments)
    with pytest.raises(CommandError, match="not allowed with argument"):
        said("results", "--batch", "X", "--run", "Y")


def qualifiable(by):
    """A batch of three coupons with sliding angles far below 10°, entered through the command."""
    batch = make_batch(by)
    lot = make_liquid_lot(by)
    make_method_version(by)
    revision = make_criteria(by)
    lines = [
        line
        for i, member in enumerate(batch.members.all())
        for line in sliding_lines(f"S{i}", member.coupon, lot, ["3.5", "3.6", "3.4"])
    ]
    return batch, revision, lines


@pytest.fixture
def password_file(tmp_path):
    path = tmp_path / "password"
    path.write_text(f"{PASSWORD}\n")
    return str(path)


def prepared(by, write_file):
    """The number of an assessment made by the command, of a batch whose runs were entered by the command."""
    batch, revision, lines = qualifiable(by)
    said("record_readings", write_file(*lines), "--observed-at", "2026-03-02T09:00")
    printed = said("qualify_batch", batch.code, "--criteria", f"{revision.criterion_set.code}:1", "--by", by.username)
    assessment = Assessment.objects.get()
    assert printed.splitlines() == [
        "verdict: pass",
        f"assessment: {assessment.pk}",
        f"SHA-256 of content: {assessment.content.content_sha256}",
        f"next: manage.py assessment {assessment.pk} complete --by USERNAME",
    ]
    return str(assessment.pk)


def test_steps_of_an_assessment_write_the_issued_file(by, write_file, password_file, tmp_path):
    number, out = prepared(by, write_file), tmp_path / "report.pdf"
    people = {"complete": make_person("developer"), "review": make_person("reviewer"), "approve": by}
    states = {
        "complete": "complete; next: review",
        "review": "reviewed; next: approve",
        "approve": "approved; next: issue",
    }
    for step, person in people.items():
        printed = said("assessment", number, step, "--by", person.username, "--password-file", password_file)
        assert printed.splitlines()[1] == f"assessment {number}: {states[step]}"
        assert printed.startswith(f"{person.full_name} signed version 1 as ")
        assert PASSWORD not in printed
    printed = said("assessment", number, "issue", "--out", str(out))
    issued = Qualification.objects.get()
    assert out.read_bytes() == bytes(issued.file)
    assert out.read_bytes().startswith(b"%PDF")
    digest = hashlib.sha256(out.read_bytes()).hexdigest()
    assert printed.splitlines() == [
        str(out), f"verdict: {issued.verdict}", f"report number: {issued.report_number}", f"SHA-256: {digest}",
    ]  # fmt: skip
    code = issued.criterion_revision.criterion_set.code
    with pytest.raises(UnknownCode, match="revision of"):
        said("qualify_batch", issued.batch.code, "--criteria", f"{code}:7", "--by", by.username)


def test_assessment_command_refuses_in_the_words_of_the_actions(by, write_file, tmp_path, monkeypatch):
    number, wrong = prepared(by, write_file), tmp_path / "wrong"
    wrong.write_text("not it\n")
    printed = io.StringIO()
    with pytest.raises(SigningRefused, match="not the password of"):
        call_command(
            "assessment", number, "complete", "--by", by.username, "--password-file", str(wrong), stdout=printed
        )
    assert printed.getvalue() == ""  # nobody signed anything
    monkeypatch.setattr("sys.stdin", io.StringIO())
    with pytest.raises(PasswordMissing, match="Password: there is no terminal to ask at; use --password-file or"):
        said("assessment", number, "complete", "--by", by.username)
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{PASSWORD}\n"))
    said("assessment", number, "complete", "--by", by.username)
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{PASSWORD}\n"))
    with pytest.raises(ValueRefused, match="signed this content as author"):
        said("assessment", number, "review", "--by", by.username)
    with pytest.raises(ReasonMissing):
        said("assessment", number, "withdraw", "--by", by.username)
    said("assessment", number, "withdraw", "--by", by.username, "--why", "another batch was meant")
    assert Assessment.objects.get().state == "withdrawn"
    with pytest.raises(UnknownCode, match="no assessment"):
        said("assessment", "99999", "withdraw", "--by", by.username, "--why", "none")


def test_nothing_is_issued_that_could_not_be_written(by, write_file, tmp_path):
    number = prepared(by, write_file)
    sign(Assessment.objects.get())
    for out in (["--out", str(tmp_path / "no" / "x.pdf")], []):
        with pytest.raises(ValueRefused, match=r"cannot be written|is missing"):
            said("assessment", number, "issue", "--by", by.username, *out)
    assert Qualification.objects.count() == 0


def test_draft_is_written_beside_the_outcome(by, write_file, tmp_path):
    batch, revision, lines = qualifiable(by)
    said("record_readings", write_file(*lines))
    code, out = revision.criterion_set.code, tmp_path / "draft.pdf"
    with pytest.raises(ValueRefused, match="cannot be written"):
        said("qualify_batch", batch.code, "--criteria", code, "--draft", str(tmp_path / "no" / "x.pdf"))
    assert Assessment.objects.count() == 0
    said("qualify_batch", batch.code, "--criteria", code, "--draft", str(out))
    sheets = PdfReader(out).pages
    assert all("DRAFT, NOT ISSUED" in sheet.extract_text() for sheet in sheets)


@pytest.mark.django_db
def test_first_person_is_an_administrator_who_adds_the_others(monkeypatch):
    monkeypatch.setenv("LABRECORDS_NEW_PASSWORD", PASSWORD)
    with pytest.raises(ValueRefused, match="the first person is an administrator"):
        said("add_person", "ada", "--name", "Ada Example", "--role", "operator")
    said("add_person", "ada", "--name", "Ada Example", "--role", "administrator")
    assert said("add_person", "bo", "--name", "Bo Example", "--role", "operator") == "bo: Bo Example, operator\n"
    person = Person.objects.get(username="bo")
    assert person.check_password(PASSWORD)
    assert person.events.get().pgh_context.metadata["who"] == "ada"


def test_person_command_does_what_the_people_page_does(db, monkeypatch):
    administrator, person = make_person("administrator"), make_person("operator")
    with pytest.raises(ReasonMissing):
        said("person", "end-sessions", person.username)
    why = ["--by", administrator.username, "--why", "asked at the bench"]
    assert "developer" in said("person", "role", person.username, "--role", "developer", *why)
    printed = said("person", "start-password", person.username, *why)
    start = printed.strip().rpartition(" ")[2]
    person.refresh_from_db()
    assert (person.role, person.has_start_secret, person.check_password(start)) == ("developer", True, True)
    monkeypatch.setenv("LABRECORDS_PASSWORD", start)
    monkeypatch.setenv("LABRECORDS_NEW_PASSWORD", "tilted-drop-2026")
    said("person", "own-password", person.username)
    for verb in ("lift-block", "reset-second-factor", "end-sessions", "disable"):
        said("person", verb, person.username, *why)
    person.refresh_from_db()
    assert (person.is_active, person.has_start_secret) == (False, False)
    assert person.events.order_by("-pgh_id").first().pgh_context.metadata["why"] == "asked at the bench"
    with pytest.raises(NotAllowed):
        said("person", "disable", administrator.username, "--by", make_person("quality").username, "--why", "to try")


@pytest.mark.django_db
def test_password_is_never_empty_or_short(monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO())
    with pytest.raises(PasswordMissing, match="password: there is no terminal to ask at; set LABRECORDS_NEW_PASSWORD"):
        said("add_person", "ada", "--name", "Ada Example", "--role", "administrator")
    monkeypatch.setenv("LABRECORDS_NEW_PASSWORD", "short")
    with pytest.raises(ValueRefused, match="too short"):
        said("add_person", "ada", "--name", "Ada Example", "--role", "administrator")
    assert Person.objects.count() == 0


def test_copy_of_an_unknown_kind_lists_the_kinds_there_are(by, tmp_path):
    with pytest.raises(UnknownCode, match=r"no kind of record “run”; there are .*test-run"):
        said("copy_record", "run", "RA", str(tmp_path / "x.zip"), "--by", by.username)


def test_set_up_lab(by):
    printed = said("set_up_lab", "--name", "Invented Lab", "--address", "1 Example Lane", "--site", "xy")
    assert printed.startswith("Invented Lab, site XY")
    assert Laboratory.objects.get().address == "1 Example Lane"


def test_who_acts_is_named_when_more_than_one_could(by):
    lot, other = make_lot(by), make_person("operator")
    with pytest.raises(ValueRefused, match="could each do this: name one with --by"):
        said("log_coupons", "--lot", lot.code)
    code = said("log_coupons", "--lot", lot.code, "--by", other.username.upper()).strip()
    assert Coupon.objects.get(code=code).created_by == other
    with pytest.raises(UnknownCode, match="sign-in name"):
        said("log_coupons", "--lot", lot.code, "--by", "nobody")
    with pytest.raises(NotAllowed):
        said("log_coupons", "--lot", lot.code, "--by", make_person("administrator").username)


def test_nobody_who_may_act(db):
    with pytest.raises(ValueRefused, match="is open to nobody here yet"):
        said("set_up_lab", "--name", "x", "--address", "y", "--site", "z")


def test_blank_reason_is_refused(by):
    with pytest.raises(ReasonMissing):
        said("log_coupons", "--lot", make_lot(by).code, "--why", "  ")


def test_from_an_empty_folder_through_the_shell(open_folder):
    """Tables, people and refusals with their exit codes, each in a process of its own."""
    environment = os.environ | {"LABRECORDS_DATA": str(open_folder / "data"), "LABRECORDS_NEW_PASSWORD": PASSWORD}

    def manage(*arguments):
        command = [sys.executable, str(MANAGE), *arguments]
        return subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=60)

    try:
        assert manage("db", "start").returncode == 0
        early = manage("results")
        assert (early.returncode, early.stderr) == (
            1,
            "Refused: The database has no tables yet: run manage.py migrate first.\n",
        )
        assert manage("migrate", "-v0", "--data", environment["LABRECORDS_DATA"]).returncode == 0
        assert manage("add_person", "ada", "--name", "Ada Example", "--role", "administrator").returncode == 0
        broken = open_folder / "broken.csv"
        broken.write_text(HEADER.replace("value", "angle"))
        assert manage("add_person", "bo", "--name", "Bo Example", "--role", "operator").returncode == 0
        environment |= {"LABRECORDS_PASSWORD": PASSWORD, "LABRECORDS_NEW_PASSWORD": "tilted-drop-2026"}
        assert manage("person", "own-password", "bo").stdout == "bo has another password.\n"
        refused = manage("record_readings", str(broken))
        assert refused.returncode == 1
        lines = refused.stderr.splitlines()
        assert lines[0].startswith("line 1, column angle, “angle”: is no known column")
        assert lines[-1] == "Refused: Lines refused in the file: 2. Nothing was stored."
    finally:
        manage("db", "stop")
