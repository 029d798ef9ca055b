"""An archive of real records goes into an empty place and comes out equal, or not at all."""

import dataclasses
import hashlib
import subprocess

import pytest
from django.db import connection

from labrecords import archive
from labrecords.archive import rows
from labrecords.archive.container import DUMP, Writer, opened
from labrecords.archive.restore import unapplied
from labrecords.errors import ArchiveRefused, DatabaseUnavailable
from labrecords.postgresql import transfer
from tests.labrecords.archive.conftest import never, restore

pytestmark = pytest.mark.django_db  # makes the suite's database; what is restored goes into another one


def tables(own):
    with own.cursor() as cursor:
        found = rows.stored(cursor)
    own.close()
    return found


def forge(source, target, dump=None, **fields):
    """Another archive from this one, right in every sum: with this dump, and these fields in its manifest."""
    with opened(source, never) as old, open(target, "w+b") as file:
        writer = Writer(file)
        for item in old.manifest.files:
            writer.add(item.name, [dump if dump and item.name == DUMP else old.stream(item.name).read()])
        writer.finish(dataclasses.replace(old.manifest, files=tuple(writer.files), **fields))
    return target


def test_rows_files_and_report_come_back_equal(lab, place, empty):
    done = restore(empty, place, lab.file)
    assert done.tables == lab.manifest.tables == tables(empty)
    assert lab.manifest.tables["public.labrecords_reading"].rows == 27  # 3 coupons, 3 drops: two angles and a tilt
    assert lab.manifest.rows == sum(table.rows for table in lab.manifest.tables.values()) > 300
    with empty.cursor() as cursor:
        cursor.execute("SELECT file, sha256 FROM labrecords_qualification")
        ((stored, sha256),) = cursor.fetchall()
    assert bytes(stored) == lab.report
    assert hashlib.sha256(stored).hexdigest() == sha256

    for name in ("certificate/lab.key", "certificate/lab.crt"):
        assert (place / name).read_bytes() == (lab.data / name).read_bytes()
        assert (place / name).stat().st_mode & 0o777 == 0o600
    assert sorted(path.name for path in place.rglob("*")) == ["certificate", "lab.crt", "lab.key"]


def test_archive_is_for_its_owner_alone(lab):
    assert [file.stat().st_mode & 0o777 for file in (lab.file, lab.encrypted)] == [0o600, 0o600]


def test_triggers_and_constraints_come_back_too(lab, place, empty):
    restore(empty, place, lab.file)
    # Of constraints the names: the server writes a list of texts in other words once it has been read in again.
    definitions = """
        SELECT pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal
        UNION ALL SELECT format('%s %s %s', conname, contype, conrelid::regclass) FROM pg_constraint
            WHERE connamespace = 'public'::regnamespace
        UNION ALL SELECT pg_get_functiondef(oid) FROM pg_proc WHERE pronamespace = 'public'::regnamespace ORDER BY 1"""
    suite = connection.copy()
    found = []
    try:
        for own in (suite, empty):
            with own.cursor() as cursor:
                cursor.execute(definitions)
                found.append(cursor.fetchall())
    finally:
        suite.close()
    assert found[0] == found[1]
    assert len(found[0]) > 300


def test_identifiers_go_on_after_the_last_one(lab, place, empty):
    restore(empty, place, lab.file)
    following = "SELECT nextval(pg_get_serial_sequence('labrecords_reading', 'id'))"
    highest = "SELECT max(id) FROM labrecords_reading"
    with empty.cursor() as cursor:
        numbers = []
        for query in (following, highest):
            cursor.execute(query)
            numbers.append(cursor.fetchone()[0])
    assert numbers[0] > numbers[1]


def test_hash_of_a_table_is_what_psql_and_sha256sum_say(lab, place, empty):
    """As README tells it, with the columns in their order."""
    restore(empty, place, lab.file)
    settings = "SET timezone = 'UTC'; SET datestyle = 'ISO, MDY'; SET bytea_output = 'hex';"
    for table in ("labrecords_qualification", "labrecords_coupon", "labrecords_couponevent"):
        key = "pgh_id" if table.endswith("event") else "id"
        query = f"{settings} COPY (SELECT * FROM {table} ORDER BY {key}) TO STDOUT"  # noqa: S608
        command = transfer._tool("psql", empty, "--quiet", "--no-psqlrc", "--command", query)
        with subprocess.Popen(command, env=transfer._environment(empty), stdout=subprocess.PIPE) as psql:
            said = subprocess.run(["sha256sum"], stdin=psql.stdout, capture_output=True, text=True, check=True).stdout
        assert said.split()[0] == lab.manifest.tables[f"public.{table}"].sha256


def test_order_of_rows_and_settings_of_the_session_do_not_matter(empty):
    values = [("ä", 1), ("Z", 1), ("a", 2), ("line\nbreak\t\\", 1)]

    def fill(cursor, values):
        for a, b in values:
            cursor.execute("INSERT INTO t VALUES (%s, %s, '2026-11-25 08:00+00')", [a, b])
            cursor.execute("INSERT INTO loose VALUES (%s)", [a])

    with empty.cursor() as cursor:
        cursor.execute("CREATE TABLE t (a text, b int, moment timestamptz, PRIMARY KEY (b, a))")
        cursor.execute("CREATE TABLE loose (x text)")
        fill(cursor, values)
        before = rows.stored(cursor)
        cursor.execute("TRUNCATE t, loose; SET timezone = 'Asia/Tokyo'; SET datestyle = 'German'")
        fill(cursor, reversed(values))
        assert rows.stored(cursor) == before
        assert {name: table.rows for name, table in before.items()} == {"public.t": 4, "public.loose": 4}
        cursor.execute("UPDATE t SET a = 'b' WHERE b = 2")
        assert rows.differences(before, rows.stored(cursor)) == ["rows of table public.t differ from the manifest"]


def test_encrypted_archive_comes_back_with_its_passphrase_only(lab, place, empty):
    assert b"labrecords" not in lab.encrypted.read_bytes()
    with pytest.raises(ArchiveRefused, match="The passphrase does not open"):
        restore(empty, place, lab.encrypted, lambda: "not this one")
    assert transfer.tables(empty) == 0
    assert restore(empty, place, lab.encrypted, lambda: "a long passphrase").tables == lab.manifest.tables


def test_restore_goes_only_into_an_empty_database(lab, place, empty):
    with empty.cursor() as cursor:
        cursor.execute("CREATE TABLE t (n int)")
    with pytest.raises(ArchiveRefused, match="is not empty"):
        restore(empty, place, lab.file)
    assert list(place.iterdir()) == []
    assert transfer.tables(empty) == 1


def test_restore_never_replaces_a_file(lab, place, empty, tmp_path):
    (place / "certificate").mkdir()
    (place / "certificate" / "lab.key").write_text("another lab's")
    with pytest.raises(ArchiveRefused, match="exists already"):
        restore(empty, place, lab.file)
    assert transfer.tables(empty) == 0
    assert (place / "certificate" / "lab.key").read_text() == "another lab's"
    assert not (place / "certificate" / "lab.crt").exists()


def test_files_of_a_restore_that_was_cut_off_do_not_hinder_the_next(lab, place, empty, tmp_path):
    (place / "certificate").mkdir()
    (place / "certificate" / "lab.key").write_bytes((lab.data / "certificate" / "lab.key").read_bytes())
    assert restore(empty, place, lab.file).files == ("certificate/lab.crt", "certificate/lab.key")


def test_files_that_cannot_be_placed_leave_the_database_empty(lab, place, empty, tmp_path):
    (place / "certificate").write_text("a file where a folder belongs")
    with pytest.raises(ArchiveRefused, match="The files cannot be written"):
        restore(empty, place, lab.file)
    assert transfer.tables(empty) == 0


def changed_dump(lab, place, empty, statement):
    """The dump of the archive's database after this statement, made past all guards; the database is empty again."""
    restore(empty, place, lab.file)
    with empty.cursor() as cursor:
        cursor.execute("SET session_replication_role = replica")
        cursor.execute(statement)
        cursor.execute("RESET session_replication_role")
    archive.back_up(empty, place, place / "other.tar")
    with empty.cursor() as cursor:
        cursor.execute("DROP SCHEMA public CASCADE")
        cursor.execute("CREATE SCHEMA public")
    with opened(place / "other.tar", never) as other:
        return other.stream(DUMP).read()


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        (
            "DELETE FROM labrecords_reading WHERE id = (SELECT min(id) FROM labrecords_reading)",
            r"table public\.labrecords_reading has 26 rows, the manifest says 27",
        ),
        (
            "UPDATE labrecords_coupon SET mark = mark || '.' WHERE id = (SELECT min(id) FROM labrecords_coupon)",
            r"rows of table public\.labrecords_coupon differ from the manifest",
        ),
        ("DROP TABLE django_session", r"table public\.django_session is missing"),
        ("CREATE TABLE one_more (n int)", r"table public\.one_more is not in the manifest"),
    ],
)
def test_a_dump_unlike_its_manifest_is_named_and_nothing_is_kept(lab, place, empty, tmp_path, statement, said):
    """An archive right in every sum; only its rows are not those that were counted."""
    forged = forge(lab.file, tmp_path / "forged.tar", changed_dump(lab, place, empty, statement))
    with pytest.raises(ArchiveRefused, match=said):
        restore(empty, place, forged)
    assert transfer.tables(empty) == 0


def test_a_dump_that_ends_early_leaves_the_database_empty(lab, place, empty, tmp_path):
    with opened(lab.file, never) as whole:
        half = whole.stream(DUMP).read()[: whole.manifest.files[0].bytes * 3 // 4]
    with pytest.raises(DatabaseUnavailable, match="PostgreSQL could not restore"):
        restore(empty, place, forge(lab.file, tmp_path / "half.tar", half))
    assert transfer.tables(empty) == 0
    assert list(place.iterdir()) == []


LATER = "labrecords.9999_later"


def test_archive_of_a_later_release_is_refused(lab, place, empty, tmp_path):
    later = forge(lab.file, tmp_path / "later.tar", migrations=(*lab.manifest.migrations, LATER))
    with pytest.raises(ArchiveRefused, match=f"of a later release than this program.*{LATER}"):
        restore(empty, place, later)
    assert transfer.tables(empty) == 0


def test_bare_dump_of_a_later_release_is_refused_too(lab, place, empty, tmp_path):
    insert = "INSERT INTO django_migrations (app, name, applied) VALUES ('labrecords', '9999_later', now())"
    bare = tmp_path / "bare.dump"
    bare.write_bytes(changed_dump(lab, place, empty, insert))
    with pytest.raises(ArchiveRefused, match=f"of a later release than this program.*{LATER}"):
        restore(empty, place, bare)
    assert transfer.tables(empty) == 0


def test_bare_dump_goes_in_with_nothing_to_compare(lab, place, empty, tmp_path):
    with opened(lab.file, never) as whole:
        (tmp_path / "bare.dump").write_bytes(whole.stream(DUMP).read())
    done = restore(empty, place, tmp_path / "bare.dump")
    assert (done.manifest, done.files) == (None, ())
    assert done.tables == lab.manifest.tables


def test_what_this_program_has_and_the_archive_had_not(lab):
    assert unapplied(lab.manifest.migrations) == []
    assert unapplied(lab.manifest.migrations[:-1]) == [lab.manifest.migrations[-1]]


def test_head_of_the_record_chain_is_that_of_the_snapshot(empty, place, tmp_path):
    with empty.cursor() as cursor:
        cursor.execute("CREATE TABLE labrecords_link (seq bigint PRIMARY KEY, hash bytea)")
        cursor.execute("INSERT INTO labrecords_link VALUES (1, '\\x0a'), (2, '\\x0b')")
    assert archive.back_up(empty, place, tmp_path / "lab.tar").chain_head == {"seq": 2, "hash": "0b"}
    with opened(tmp_path / "lab.tar", never) as made:
        assert made.manifest.chain_head == {"seq": 2, "hash": "0b"}


def test_what_is_not_committed_is_gone_however_the_script_ends(empty):
    """The end of psql's input, as when this program is killed; as a control, what psql's own option would have kept."""
    half = "CREATE TABLE half (n int);"
    with transfer.Loading(empty) as loading:
        loading._send(half)
        assert list(loading.ask("SELECT count(*) FROM half")) == [b"0\n"]
    assert transfer.tables(empty) == 0
    control = transfer._tool("psql", empty, "--quiet", "--single-transaction")
    subprocess.run(control, env=transfer._environment(empty), input=half, text=True, check=True)
    assert transfer.tables(empty) == 1
