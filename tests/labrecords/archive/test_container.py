"""The archive as a file: every byte counts, nothing is replaced, nothing half is left."""

import io
import random
import subprocess
import tarfile
from datetime import UTC, datetime

import pytest

from labrecords.archive import container, files
from labrecords.archive.container import DUMP, MANIFEST, SUMS, Writer, new_file, opened
from labrecords.archive.manifest import Manifest, Table
from labrecords.errors import ArchiveRefused
from tests.labrecords.archive.conftest import never

DUMPED = b"PGDMP" + bytes(range(256)) * 3 + b"odd"
MEMBERS = {DUMP: DUMPED, "certificate/lab.key": b"key", "attachments/ä.bin": b"\0" * 512}


def manifest(files=(), **fields):
    said = {
        "program": "1", "analysis": "2", "postgresql": "18.4", "database": "labrecords",
        "taken_at": datetime(2026, 11, 25, 8, tzinfo=UTC), "migrations": ("labrecords.0001_initial",),
        "chain_head": {"seq": 3, "hash": "ab"}, "tables": {"public.t": Table(1, "cd")},
    }  # fmt: skip
    return Manifest(**said | fields, files=tuple(files))


def write(path, members=MEMBERS, **fields):
    with open(path, "w+b") as file:
        writer = Writer(file)
        for name, content in members.items():
            writer.add(name, [content[:7], content[7:]])
        writer.finish(manifest(writer.files, **fields))
    return path


def problems(path):
    """What is wrong with it: the refusal's or the archive's own words; empty when nothing is."""
    try:
        with opened(path, never) as archive:
            return archive.problems()
    except ArchiveRefused as refusal:
        return [str(refusal)]


def rebuilt(path, change):
    """The same archive with `change` applied to its list of (name, content), written by tarfile alone."""
    with tarfile.open(path) as tar:
        content = change([(member.name, tar.extractfile(member).read()) for member in tar.getmembers()])
    with tarfile.open(path, "w") as tar:
        for name, body in content:
            member = tarfile.TarInfo(name)
            member.size = len(body)
            tar.addfile(member, io.BytesIO(body))
    return path


def test_what_was_written_is_read_back(tmp_path):
    with opened(write(tmp_path / "a.tar"), never) as archive:
        assert archive.problems() == []
        assert {name: archive.stream(name).read() for name in MEMBERS} == MEMBERS
        assert archive.manifest == manifest(archive.manifest.files)


def test_ordinary_tools_open_and_check_it(tmp_path):
    write(tmp_path / "a.tar")
    subprocess.run(["tar", "xf", "a.tar"], cwd=tmp_path, check=True)
    done = subprocess.run(["sha256sum", "--check", "--strict", SUMS], cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert len(done.stdout.splitlines()) == len(MEMBERS) + 1


def flips(path, places):
    """Those places where a changed bit passes unnoticed."""
    whole = path.read_bytes()
    missed = []
    for place in places:
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1 << place % 8]) + whole[place + 1 :])
        if not problems(path):
            missed.append(place)
    path.write_bytes(whole)
    return missed


def test_a_changed_bit_is_noticed_in_1000_of_1000_random_places(tmp_path):
    path = write(tmp_path / "a.tar")
    draw = random.Random(20261125)
    assert flips(path, [draw.randrange(path.stat().st_size) for _ in range(1000)]) == []
    assert problems(path) == [], "and without a change nothing is noticed"


@pytest.mark.slow
def test_a_changed_bit_is_noticed_in_every_place(tmp_path):
    path = write(tmp_path / "a.tar")
    assert flips(path, range(path.stat().st_size)) == []


@pytest.mark.parametrize("length", [0, 1, 511, 512, 1000, -1, -512, -1024, -1500])
def test_a_cut_off_archive_is_noticed(tmp_path, length):
    path = write(tmp_path / "a.tar")
    path.write_bytes(path.read_bytes()[:length])
    assert problems(path)


@pytest.mark.parametrize("name", [DUMP, "certificate/lab.key", SUMS])
def test_a_missing_file_is_named(tmp_path, name):
    path = rebuilt(write(tmp_path / "a.tar"), lambda content: [one for one in content if one[0] != name])
    assert problems(path) == [f"{name} is missing"]


def test_a_changed_file_is_named(tmp_path):
    def change(content):
        return [(name, b"kex" if name == "certificate/lab.key" else body) for name, body in content]

    assert problems(rebuilt(write(tmp_path / "a.tar"), change)) == ["certificate/lab.key was changed"]


def test_a_file_too_many_is_named(tmp_path):
    path = rebuilt(write(tmp_path / "a.tar"), lambda content: [*content, ("certificate/other.key", b"x")])
    assert problems(path) == ["certificate/other.key is not in the manifest"]


def test_a_file_that_stands_twice_is_noticed(tmp_path):
    assert problems(rebuilt(write(tmp_path / "a.tar"), lambda content: [content[0], *content]))


def test_a_later_format_is_refused(tmp_path):
    assert "format 2; this program reads format 1" in problems(write(tmp_path / "a.tar", format=2))[0]


@pytest.mark.parametrize("content", [b"", b"no archive at all", b"\0" * 10240])
def test_another_file_is_refused(tmp_path, content):
    path = tmp_path / "a.tar"
    path.write_bytes(content)
    assert "is no archive" in problems(path)[0]


@pytest.mark.parametrize(
    "name",
    ["../secret-key", "certificate/../../x", "/etc/passwd", "secret-key", "reports/x.pdf", "pg/data/x", "certificate"],
)
def test_a_name_that_leads_elsewhere_is_refused(name):
    with pytest.raises(ArchiveRefused, match="has no place in the data folder"):
        files.of_manifest(manifest([container.File(name, 1, "x")]), DUMP)


def test_only_the_right_passphrase_opens_an_encrypted_archive(tmp_path):
    path = tmp_path / "a.tar.age"
    plain = container.Memory(write(tmp_path / "a.tar").read_bytes())
    path.write_bytes(container.encrypted(plain, "a long passphrase"))
    assert b"PGDMP" not in path.read_bytes()
    with opened(path, lambda: "a long passphrase") as archive:
        assert archive.problems() == []
        assert archive.stream(DUMP).read() == DUMPED
    with pytest.raises(ArchiveRefused, match="The passphrase does not open"):
        opened(path, lambda: "another passphrase").__enter__()


def test_more_than_the_limit_is_not_encrypted(tmp_path, monkeypatch):
    monkeypatch.setattr(container, "LARGEST_ENCRYPTED", 1000)
    memory = container.Memory()
    memory.write(bytes(1000))
    with pytest.raises(ArchiveRefused, match="the most that is encrypted here"):
        memory.write(b"x")


def test_new_file_has_its_name_only_when_it_is_complete(tmp_path):
    target = tmp_path / "a.tar"
    with new_file(target) as file:
        file.write(b"content")
        assert not target.exists()
    assert target.read_bytes() == b"content"
    assert target.stat().st_mode & 0o777 == 0o600
    assert list(tmp_path.iterdir()) == [target]


def test_new_file_that_fails_leaves_nothing(tmp_path):
    def fail():
        with new_file(tmp_path / "a.tar") as file:
            file.write(b"content")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert list(tmp_path.iterdir()) == []


def test_new_file_never_replaces_one_that_came_meanwhile(tmp_path):
    target = tmp_path / "a.tar"

    def write_at_the_same_time():
        with new_file(target) as file:
            file.write(b"mine")
            target.write_bytes(b"precious")

    with pytest.raises(ArchiveRefused, match="never replaces"):
        write_at_the_same_time()
    assert target.read_bytes() == b"precious"
    assert list(tmp_path.iterdir()) == [target]


def test_new_file_sweeps_what_a_killed_attempt_left(tmp_path):
    with subprocess.Popen(["true"]) as gone:
        gone.wait()
    left, other = tmp_path / f"a.tar.{gone.pid}.partial", tmp_path / "a.tar.1.partial"  # process 1 lives
    for path in (left, other):
        path.write_bytes(b"half")
    with new_file(tmp_path / "a.tar") as file:
        file.write(b"x")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.tar", "a.tar.1.partial"]


def test_manifest_that_is_no_manifest_is_refused(tmp_path):
    for said in (b"[]", b"{}", b'{"format": 1}', b"\xff", b'{"format": 1, "strange": 2}'):
        path = rebuilt(
            write(tmp_path / "a.tar"),
            lambda content, said=said: [(name, said if name == MANIFEST else body) for name, body in content],
        )
        assert "its manifest cannot be read" in problems(path)[0]
