"""A copy of a record is checked by a script that knows nothing of the program."""

import csv
import hashlib
import io
import json
import zipfile

import pytest

from labrecords import trail
from labrecords.actions import account, attachments, chain, projects, runs
from labrecords.exchange.record_copy import copy_of
from labrecords.models import BatchMember, TestRun
from tests.factories import (
    PASSWORD,
    issue_report,
    make_batch,
    make_coupon,
    make_criteria,
    make_lab,
    make_person,
    make_run,
    make_tested_batch,
    sliding,
)

pytestmark = pytest.mark.django_db(transaction=True)


def check(data, noted=None):
    """Problems found with the standard library alone, by the four steps of HOW-TO-CHECK.txt."""
    archive = zipfile.ZipFile(io.BytesIO(data))
    before, hashes, digests = bytes(32), {}, {}
    for line in csv.DictReader(io.StringIO(archive.read("chain.csv").decode())):
        before = hashlib.sha256(before + bytes.fromhex(line["entry_sha256"])).digest()
        if before.hex() != line["hash"]:
            return [f"chain breaks at {line['number']}"]
        hashes[int(line["number"])], digests[int(line["number"])] = line["hash"], line["entry_sha256"]
    problems, last = [], {}
    for line in map(json.loads, archive.read("history.jsonl").decode().splitlines()):
        if hashlib.sha256(line["entry"].encode()).hexdigest() != digests[line["number"]]:
            problems.append(f"entry {line['number']} is not the one in the chain")
        said = json.loads(line["entry"])
        last[said["source"], said["event"]["pgh_obj_id"]] = said["event"]
    if noted and hashes.get(noted["number"]) != noted["hash"]:
        problems.append("the noted head is not in the chain")
    files = {hashlib.sha256(archive.read(name)).hexdigest() for name in archive.namelist() if name.startswith("files/")}
    for record in json.loads(archive.read("record.json")):
        if set(record["values"]) == {"kind", "size", "sha256"}:  # a file out of sight: its content alone
            if record["values"]["sha256"] not in files:
                problems.append(f"file of {record['table']} is missing")
            continue
        event = last[record["table"], record["row"]]
        for name, value in record["values"].items():
            is_plain = not isinstance(value, float | str)  # times and numbers may be spelled in another way
            if is_plain and name in event and event[name] != value:
                problems.append(f"{record['table']}.{name} differs")
            if isinstance(value, str) and value.startswith("sha256:") and value[7:] not in files:
                problems.append(f"file of {record['table']} is missing")
    return problems


def altered(data, name, change):
    """The same archive with one member changed."""
    source, out = zipfile.ZipFile(io.BytesIO(data)), io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for member in source.namelist():
            text = source.read(member)
            archive.writestr(member, change(text) if member == name else text)
    return out.getvalue()


def test_copy_of_a_run_holds_corrected_readings_with_reasons_and_fits_the_chain():
    by = make_person()
    run = make_run(by)
    runs.record(by=by, run=run, readings=sliding([4.5, ">"]))
    noted = chain.head()
    runs.record(by=by, run=run, readings=sliding([4.6]), why="misread the scale")
    data = copy_of(by, TestRun.objects.get(pk=run.pk))
    assert check(data, noted) == []
    history = zipfile.ZipFile(io.BytesIO(data)).read("history.jsonl").decode()
    assert "misread the scale" in history
    values = [row["values"].get("value") for row in json.loads(zipfile.ZipFile(io.BytesIO(data)).read("record.json"))]
    assert {4.5, 4.6} <= set(values)


def test_copy_of_a_report_holds_its_file_byte_for_byte():
    by = make_person()
    report = issue_report(make_tested_batch(by, n=2, drops=2), make_criteria(by))
    data = copy_of(by, report)
    assert check(data) == []
    assert zipfile.ZipFile(io.BytesIO(data)).read(f"files/qualification-{report.pk}.pdf") == bytes(report.file)


@pytest.mark.parametrize(("member", "change", "found"), [
    ("history.jsonl", lambda text: text.replace(b"run opened", b"run forged"), "is not the one in the chain"),
    ("chain.csv", lambda text: text.replace(text.splitlines(keepends=True)[2], b""), "chain breaks"),
    ("record.json", lambda text: text.replace(b'"version": 1', b'"version": 9'), "version differs"),
])  # fmt: skip
def test_altered_copy_is_found_out(member, change, found):
    data = altered(copy_of(person := make_person(), make_run(person)), member, change)
    assert any(found in problem for problem in check(data))


def test_another_chain_does_not_hold_the_noted_head():
    by = make_person()
    make_run(by)
    data = copy_of(by, make_run(by))
    assert check(data, {"number": 3, "hash": "0" * 64}) == ["the noted head is not in the chain"]


def test_copy_leaves_out_what_the_person_may_not_see():
    """A coupon of one's own that was a reference in a members-only project of others."""
    keeper = make_person()
    theirs = projects.start(by=keeper, code="P-X", title="Hidden", members_only=True)
    coupon = make_coupon(keeper)
    batch = make_batch(keeper, n=1, project=theirs)
    with trail.recorded("tests", "a tie from before the rule that keeps them together"):
        BatchMember.objects.create(batch=batch, coupon=coupon, role="reference", created_by=keeper)
    stranger = make_person("developer")
    tables = {
        name: [
            row["table"] for row in json.loads(zipfile.ZipFile(io.BytesIO(copy_of(who, coupon))).read("record.json"))
        ]
        for name, who in (("keeper", keeper), ("stranger", stranger))
    }
    assert "labrecords_batchmember" in tables["keeper"]
    assert "labrecords_batchmember" not in tables["stranger"]


def test_file_that_belongs_to_a_record_is_in_its_copy():
    by = make_person()
    coupon = make_coupon(by)
    attachments.add(by=by, owner=coupon, name="note.txt", data=b"edge chipped")
    archive = zipfile.ZipFile(io.BytesIO(copy_of(by, coupon)))
    assert b"edge chipped" in [archive.read(name) for name in archive.namelist() if name.startswith("files/")]
    assert check(copy_of(by, coupon)) == []


def test_copy_of_a_person_holds_neither_password_nor_tokens():
    by = make_person("administrator")
    other = make_person("developer")
    account.issue_token(by=other, name="script", scope="read", days=1, password=PASSWORD)
    text = zipfile.ZipFile(io.BytesIO(copy_of(by, other))).read("record.json").decode()
    assert other.username in text
    assert "apitoken" not in text
    assert other.password not in text


def test_a_file_that_a_hidden_project_holds_too_comes_with_its_content_alone():
    keeper, stranger = make_person("developer"), make_person("developer")
    make_lab(make_person("quality"))
    hidden = projects.start(by=keeper, code="P-KEPT", title="Kept", members_only=True)
    same = b"supplier certificate 4711"
    attachments.add(
        by=keeper, owner=make_coupon(keeper, project=hidden), name="a.txt", data=same, why="a secret errand"
    )
    own = make_coupon(stranger)
    for name, data in (("b.txt", same), ("c.txt", b"nobody else has this")):
        attachments.add(by=stranger, owner=own, name=name, data=data)
    data = copy_of(stranger, own)
    archive = zipfile.ZipFile(io.BytesIO(data))
    told = b"".join(archive.read(name) for name in ("record.json", "history.jsonl"))
    assert b"secret errand" not in told
    assert keeper.username.encode() not in told
    assert hashlib.sha256(same).hexdigest().encode() in told
    assert same in [archive.read(name) for name in archive.namelist()]
    assert check(data) == []
    assert b"secret errand" in zipfile.ZipFile(
        io.BytesIO(copy_of(keeper, own.__class__.objects.get(project=hidden)))
    ).read("history.jsonl")
