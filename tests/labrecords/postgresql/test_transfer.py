"""Backup and restore, between servers of different versions."""

import json
from urllib.parse import quote

from tests.labrecords.postgresql.lab import Lab, is_one_sentence, other_version


def test_backup_is_restored_into_a_second_server_with_equal_rows(quick):
    quick.run(
        """
        ask("CREATE TABLE reading (id bigint PRIMARY KEY, "
            "angle numeric(6, 2) CHECK (angle <= 180), remark text UNIQUE)")
        ask("INSERT INTO reading SELECT n, n * 0.37, 'drop ' || n || E'\\t°µ\\n' "
            "FROM generate_series(1, 400) n")
        """
    )
    dump = quick.data / "all.dump"
    assert quick.manage("db", "backup", str(dump)).stdout.startswith(f"Database “labrecords” was written to {dump}")
    assert dump.stat().st_mode & 0o777 == 0o600

    second = Lab(quick.folder, quick.user, "data/second")
    second.environment = quick.environment | {"LABRECORDS_PG_BIN": other_version()}  # an older one, too
    assert second.manage("db", "start").returncode == 0
    address = json.loads(second.run("import json; print(json.dumps(server().cluster.address()))").stdout)
    login = f"{address['user']}:{quote(address['password'])}"
    url = f"postgresql://{login}@{quote(address['host'], safe='')}/labrecords"
    restored = quick.manage("db", "restore", str(dump), DATABASE_URL=url)
    assert restored.stdout == f"{dump} was read into database “labrecords” (1 tables).", restored.stderr
    rows = "print(ask('SELECT * FROM reading ORDER BY id'))"
    assert quick.run(rows).stdout == quick.run(rows, DATABASE_URL=url).stdout != ""
    limits = "print(ask('SELECT pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid > 0'))"
    assert "angle" in quick.run(limits, DATABASE_URL=url).stdout

    refused = quick.manage("db", "restore", str(dump), DATABASE_URL=url)
    assert is_one_sentence(refused.stderr)
    assert "is not empty" in refused.stderr
    assert second.manage("db", "stop").stdout == "The database has stopped."


def test_backup_never_replaces_a_file(quick):
    precious = quick.data / "precious"
    precious.write_text("1")
    done = quick.manage("db", "backup", str(precious))
    assert is_one_sentence(done.stderr)
    assert precious.read_text() == "1"


def test_broken_backup_file_is_refused_and_leaves_the_database_empty(quick):
    quick.run("ask('CREATE TABLE t AS SELECT generate_series(1, 50000) AS n')")
    whole, half = quick.data / "whole.dump", quick.data / "half.dump"
    quick.manage("db", "backup", str(whole))
    half.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    half.chmod(0o644)
    second = Lab(quick.folder, quick.user, "data/second")
    second.environment = quick.environment
    done = second.manage("db", "restore", str(half))
    assert is_one_sentence(done.stderr)
    assert second.run("print(connection.introspection.table_names())").stdout == "[]"
