"""`manage.py db backup`, `restore` and `drill` as people run them: real processes, real folders, an earlier release."""

import gzip
import hashlib
import os
import re
import tarfile
from pathlib import Path

import pytest
from django.core.management import load_command_class

from labrecords.archive.container import DUMP, opened
from tests.labrecords.archive.conftest import never
from tests.labrecords.archive.test_container import rebuilt
from tests.labrecords.archive.test_restore import forge
from tests.labrecords.postgresql.lab import NORMAL_USER, Lab, account, is_one_sentence, new_folder

EARLIER = Path(__file__).parents[1] / "postgresql" / "archives" / "release-285313b.dump.gz"
# As printed when the report was issued (see NOTE.md there).
EARLIER_REPORT = (60446, "030545997584778e01afeb9d1832ebdcbe2328b9a57f4b1f706187213ce43308")
RECORDS = """
from django.core.management import call_command
call_command("migrate", verbosity=0)
from tests.factories import issue_report, make_person, make_shedding_criteria, make_tested_batch
from labrecords.reports import qualification
by = make_person("quality")
batch = make_tested_batch(by, n=2, drops=2, reviewer=make_person("reviewer"), control=False)
# Without the seal, whose key the test puts there itself.
print(issue_report(batch, make_shedding_criteria(by), render=qualification.render).report_number)
"""
ONE_TOKEN = """
from tests.factories import PASSWORD, make_person
from labrecords.actions import account
from django.test import Client
by = make_person("operator", username="rigkeeper")
Client().force_login(by)
print(account.issue_token(by=by, password=PASSWORD, name="rig", days=30)[1])
"""
TOKENS = """
from django.conf import settings
settings.ALLOWED_HOSTS = ["testserver"]
from rest_framework.test import APIClient
client = APIClient()
client.credentials(HTTP_AUTHORIZATION="Token {token}")
from labrecords.actions import chain
from labrecords.models import ApiToken
row = ApiToken.objects.get()
said = [event.pgh_context.metadata for event in row.events.order_by("pgh_id")][1:]
counted = ask("SELECT (SELECT count(*) FROM knox_authtoken), (SELECT count(*) FROM django_session)")[0]
broken = [str(b) for b in chain.breaks(chain.noted())]
print([client.get("/api/coupons/").status_code, row.revoked_at is not None, *counted, said, broken])
"""
REPORTS = """
import hashlib
from labrecords.models import Qualification, Reading
files = [(len(q.file), hashlib.sha256(q.file).hexdigest(), q.sha256) for q in Qualification.objects.all()]
print(Reading.objects.count(), files)
"""


def real_lab(folder, name="data"):
    """The whole project in a folder of its own, worked in by a normal user."""
    made = Lab(folder, NORMAL_USER, name)
    made.environment = {"LABRECORDS_THROWAWAY": "1", "DJANGO_SETTINGS_MODULE": "labrecords.settings"}
    made.data.mkdir()
    give(made.data)
    return made


def give(path):
    if NORMAL_USER:
        os.chown(path, account(NORMAL_USER)["user"], account(NORMAL_USER)["group"])


@pytest.fixture(scope="module")
def source():
    """A lab with a report and a sealing key, and its archive."""
    made = real_lab(new_folder())
    assert made.run(RECORDS).stdout == "QR-26-0001"
    (made.data / "certificate").mkdir()
    (made.data / "certificate" / "lab.key").write_text("an invented key")
    give(made.data / "certificate")
    give(made.data / "certificate" / "lab.key")
    done = made.manage("db", "backup", str(made.data / "lab.tar"))
    assert done.returncode == 0, done.stderr
    made.said = done.stdout.splitlines()
    made.archive = made.data / "lab.tar"
    yield made
    made.remove()


@pytest.fixture
def target():
    made = real_lab(new_folder())
    yield made
    made.remove()


def given(lab, name, content):
    path = lab.data / name
    path.write_bytes(content)
    give(path)
    return path


def test_backup_says_what_it_holds(source):
    size = source.archive.stat().st_size / 2**20
    assert source.said[0] == f"Database “labrecords” was written to {source.archive} ({size:.1f} MB)."
    assert re.fullmatch(r"\d+ tables, \d+ rows, 1 files, as of \d{4}-\d\d-\d\d \d\d:\d\d:\d\d UTC\.", source.said[1])
    assert source.said[2].startswith("It holds the key that seals reports, not encrypted")
    digest = hashlib.sha256(source.archive.read_bytes()).hexdigest()
    assert source.said[3] == f"SHA-256 {digest}: note it elsewhere, and compare it before a restore."
    assert (source.data / "last-backup.json").exists()


def test_help_says_that_an_archive_is_run_as_the_owner():
    said = " ".join(load_command_class("labrecords", "db").create_parser("manage.py", "db").format_help().split())
    assert "only one whose origin you know" in said
    assert "SHA-256" in said


def test_restored_lab_goes_on_working(source, target):
    done = target.manage("db", "restore", str(source.archive))
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[1:] == [
        "Files: certificate/lab.key.",
        "Everybody signs in anew: sessions and API tokens of the archive have ended (tokens: 0).",
    ]
    assert (target.data / "certificate" / "lab.key").read_text() == "an invented key"
    assert (target.data / "certificate" / "lab.key").stat().st_uid == target.data.stat().st_uid
    assert target.run(REPORTS).stdout == source.run(REPORTS).stdout
    more = """
        from labrecords.models import Coupon, Person, SubstrateLot
        from labrecords.actions import coupons
        by, lot = Person.objects.filter(role="quality").first(), SubstrateLot.objects.first()
        print([c.code[:10] for c in coupons.log(by=by, lot=lot, exposed_area_mm2=1600.0)], Coupon.objects.count())
    """
    assert target.run(more).stdout == "['TS-26-0003'] 3"


@pytest.mark.thorough
def test_tokens_and_sessions_of_the_archive_end_with_the_restore(target):
    """They may have been signed out or revoked since it was made. The drill compares them and finds them equal."""
    other = real_lab(new_folder())
    try:
        assert (
            target.run(
                "from django.core.management import call_command\ncall_command('migrate', verbosity=0)"
            ).returncode
            == 0
        )
        token = target.run(ONE_TOKEN).stdout
        looked = TOKENS.replace("{token}", token)
        assert target.run(looked).stdout == "[200, False, 1, 1, [], []]"
        file = target.data / "lab.tar"
        assert target.manage("db", "backup", str(file)).returncode == 0
        code, said, errors = drill(target, file)
        assert (code, said[-1]) == (0, "Nothing differs."), errors
        done = other.manage("db", "restore", str(file))
        assert done.returncode == 0, done.stderr
        ended = "Everybody signs in anew: sessions and API tokens of the archive have ended (tokens: 1)."
        assert done.stdout.splitlines()[-1] == ended
        told = "[{'who': 'restore', 'why': 'restored from an archive'}]"
        assert other.run(looked).stdout == f"[401, True, 0, 0, {told}, []]"
    finally:
        other.remove()


@pytest.mark.thorough
def test_encrypted_by_a_passphrase_file(source, target):
    right = given(source, "right", b"correct horse staple\n")
    wrong, short = given(source, "wrong", b"another horse staple"), given(source, "short", b"short")
    file = source.data / "lab.tar.age"
    refused = source.manage("db", "backup", str(file), "--passphrase-file", str(short))
    assert is_one_sentence(refused.stderr)
    assert "at least 12 characters" in refused.stderr
    done = source.manage("db", "backup", str(file), "--passphrase-file", str(right))
    assert "; encrypted." in done.stdout
    assert "not encrypted" not in done.stdout
    for arguments in ([], ["--passphrase-file", str(wrong)]):
        refused = target.manage("db", "restore", str(file), *arguments)
        assert is_one_sentence(refused.stderr)
        assert "passphrase" in refused.stderr
    assert target.run("print(connection.introspection.table_names())").stdout == "[]"
    done = target.manage("db", "restore", str(file), LABRECORDS_PASSPHRASE="correct horse staple")
    assert done.returncode == 0, done.stderr
    assert target.run(REPORTS).stdout == source.run(REPORTS).stdout


def test_encrypt_without_a_terminal_is_refused(source):
    done = source.manage("db", "backup", str(source.data / "x.age"), "--encrypt")
    assert is_one_sentence(done.stderr)
    assert not (source.data / "x.age").exists()


def test_archive_of_an_earlier_release_opens_and_is_brought_up(target):
    file = given(target, "earlier.dump", gzip.decompress(EARLIER.read_bytes()))
    done = target.manage("db", "restore", str(file))
    assert done.returncode == 0, done.stderr
    assert "It is a dump of an earlier release, which says nothing to compare it with." in done.stdout
    size, sha256 = EARLIER_REPORT
    assert target.run(REPORTS).stdout == f"27 [({size}, '{sha256}', '{sha256}')]"
    assert target.manage("migrate", "--check").returncode == 0
    # From here on it is a lab of this release: it is backed up and proved like any other.
    assert target.manage("db", "backup", str(target.data / "now.tar")).returncode == 0
    drilled = target.manage("db", "drill", str(target.data / "now.tar"))
    assert drilled.returncode == 0, drilled.stdout + drilled.stderr
    assert "1 of 1 fit their SHA-256" in drilled.stdout


def test_drill_refuses_a_dump_that_proves_nothing(target):
    file = given(target, "earlier.dump", gzip.decompress(EARLIER.read_bytes()))
    done = target.manage("db", "drill", str(file))
    assert done.returncode == 1
    assert is_one_sentence(done.stderr)
    assert "says nothing to compare it with" in done.stderr


def drill(source, file):
    give(file)
    temporary = source.folder / "temporary"
    temporary.mkdir(exist_ok=True)
    give(temporary)
    done = source.manage("db", "drill", str(file), TMPDIR=str(temporary))
    assert list(temporary.iterdir()) == [], "the drill leaves nothing behind"
    return done.returncode, done.stdout.splitlines(), done.stderr


def test_drill_proves_rows_files_and_reports_and_prints_rpo_and_rto(source):
    code, said, errors = drill(source, source.archive)
    assert (code, errors) == (0, ""), said
    lines = {line[:14].strip(): line[15:] for line in said}
    with opened(source.archive, never) as archive:
        tables, rows = len(archive.manifest.tables), archive.manifest.rows
    assert lines["Tables"] == f"{tables} of {tables} equal in rows and SHA-256 ({rows} rows)"
    assert lines["Files"] == "1 of 1 equal"
    assert lines["Reports"] == "1 of 1 fit their SHA-256"
    assert re.match(r"QR-26-0001 of .* opens \([1-9]\d* pages\)", lines["Oldest report"])
    assert re.match(r"\d+:\d\d:\d\d \(age of the archive", lines["RPO"])
    assert re.match(r"\d+\.\d s \(empty folder", lines["RTO"])
    assert said[-1] == "Nothing differs."


# Negative controls: the same archive with one thing wrong; the drill has to fail and say what it is. ------------


@pytest.mark.thorough
def test_drill_fails_without_one_of_the_files(source):
    file = source.data / "dropped.tar"
    file.write_bytes(source.archive.read_bytes())
    rebuilt(file, lambda content: [one for one in content if one[0] != "certificate/lab.key"])
    code, said, _ = drill(source, file)
    assert code == 1
    assert "certificate/lab.key is missing" in said[-2]
    assert said[-1] == "The drill failed."


@pytest.mark.thorough
def test_drill_fails_with_one_byte_flipped(source):
    file = source.data / "flipped.tar"
    whole = bytearray(source.archive.read_bytes())
    whole[source.archive.stat().st_size // 2] ^= 1
    file.write_bytes(whole)
    code, said, _ = drill(source, file)
    assert code == 1
    assert "database.dump was changed" in said[-2]


@pytest.mark.thorough
def test_drill_fails_with_one_row_removed(source, target):
    """Every sum of the archive is right; only the dump lacks a reading that the manifest counts."""
    assert target.manage("db", "restore", str(source.archive)).returncode == 0
    remove = """
        connection.settings_dict["AS_OWNER"] = True
        ask("SET session_replication_role = replica")
        ask("DELETE FROM labrecords_reading WHERE id = (SELECT max(id) FROM labrecords_reading)")
    """
    assert target.run(remove).returncode == 0
    assert target.manage("db", "backup", str(target.data / "less.tar")).returncode == 0
    with opened(target.data / "less.tar", never) as less:
        file = forge(source.archive, source.data / "less.tar", less.stream(DUMP).read())
    code, said, _ = drill(source, file)
    assert code == 1
    assert re.search(r"table public\.labrecords_reading has 11 rows, the manifest says 12", said[-2])


@pytest.mark.thorough
def test_drill_fails_with_a_report_that_does_not_fit_its_sum(source, target):
    """Rows and manifest agree, but the stored report is not the one that was issued: changed before the back-up."""
    assert target.manage("db", "restore", str(source.archive)).returncode == 0
    change = """
        connection.settings_dict["AS_OWNER"] = True
        ask("SET session_replication_role = replica")
        ask("ALTER TABLE labrecords_qualification DROP CONSTRAINT qualification_file_matches_sha256")
        ask("UPDATE labrecords_qualification SET file = set_byte(file, 1000, 255 - get_byte(file, 1000))")
    """
    assert target.run(change).returncode == 0
    assert target.manage("db", "backup", str(target.data / "changed.tar")).returncode == 0
    code, said, _ = drill(target, target.data / "changed.tar")
    assert code == 1
    assert any("WRONG: 0 of 1 fit their SHA-256; QR-26-0001 does not" in line for line in said)


@pytest.mark.thorough
def test_drill_here_is_refused_outside_a_throw_away_place(source, target):
    target.environment = {"DJANGO_SETTINGS_MODULE": "labrecords.settings"}
    done = target.manage("db", "drill", str(source.archive), "--here")
    assert is_one_sentence(done.stderr)
    assert "throw-away place" in done.stderr
    assert not (target.data / "pg").exists()


def test_archive_opens_without_this_program(source, tmp_path):
    """tar, sha256sum and pg_restore alone give back a report's bytes."""
    with tarfile.open(source.archive) as tar:
        tar.extractall(tmp_path, filter="data")
    assert (tmp_path / DUMP).read_bytes()[:5] == b"PGDMP"
    sums = dict(reversed(line.split("  ")) for line in (tmp_path / "SHA256SUMS").read_text().splitlines())
    assert sums == {name: hashlib.sha256((tmp_path / name).read_bytes()).hexdigest() for name in sums}
    assert set(sums) == {DUMP, "certificate/lab.key", "manifest.json"}
