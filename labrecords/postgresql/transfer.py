"""Backup to one file and restore from it, with PostgreSQL's own tools, against either kind of server.

The tools come from the same folder as the embedded server; they read servers up to their own version.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryFile

from psycopg.conninfo import make_conninfo

from labrecords.errors import DatabaseUnavailable
from labrecords.postgresql import programs

# Measured with 120 000 readings and their history: 5 MB of file became 48 MB of database; reading it in
# writes as much log again.
GROWTH = 25
DJANGO_ONLY = {"cursor_factory", "context", "prepare_threshold", "client_encoding", "password"}
HEAD_LINES = 40  # of a dump: settings, before any data


def back_up(connection, target: Path) -> None:
    """Write the whole database to a new file; it appears under its name only when it is complete."""
    if target.exists():
        raise DatabaseUnavailable(why=f"{target} exists already; a backup never replaces a file.")
    _need_space(target.absolute().parent, _size(connection), "the backup")
    partial = target.with_name(target.name + ".partial")
    try:
        with open(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
            _run(_tool("pg_dump", connection, "--format=custom"), connection, "back up", stdout=file)
            os.fsync(file.fileno())
        partial.rename(target)
    except OSError as error:
        raise DatabaseUnavailable(why=f"{target} cannot be written: {error.strerror}.") from None
    finally:
        partial.unlink(missing_ok=True)


def restore(connection, source: Path) -> None:
    """Read a backup into an empty database: all of it or nothing."""
    if not source.is_file():
        raise DatabaseUnavailable(why=f"There is no file {source}.")
    if tables := _tables(connection):
        raise DatabaseUnavailable(
            why=f"Database “{connection.settings_dict['NAME']}” is not empty (it has {tables} tables): "
            "a restore only goes into an empty one."
        )
    if data := connection.settings_dict.get("EMBEDDED_IN"):
        _need_space(Path(data), source.stat().st_size * GROWTH, "the restore")
    script = [programs.folder() / "pg_restore", "--no-owner", "--no-privileges", "--file=-", source]
    one_piece = ("--no-psqlrc", "--quiet", "--single-transaction", "--set=ON_ERROR_STOP=1")
    load = _tool("psql", connection, *one_piece)
    pipe, nowhere = subprocess.PIPE, subprocess.DEVNULL
    with TemporaryFile() as said, subprocess.Popen(script, stdout=pipe, stderr=said) as reader:
        with subprocess.Popen(load, env=_environment(connection), stdin=pipe, stdout=nowhere, stderr=said) as writer:
            _pour(reader.stdout, writer.stdin)
            if reader.wait():
                writer.kill()  # the end of half a script would be taken for its end, and be kept
        if reader.returncode or writer.returncode:
            said.seek(0)
            raise _failed("restore", said.read())


def _pour(script, sink):
    """Copy the script; a setting that only servers from 17 on know must not stop an older one."""
    with suppress(BrokenPipeError):  # the tool that writes has ended; its own words follow
        for _ in range(HEAD_LINES):
            line = script.readline()
            if line != b"SET transaction_timeout = 0;\n":
                sink.write(line)
        shutil.copyfileobj(script, sink, 2**20)
        sink.flush()
    script.close()


def _tool(name, connection, *options):
    parameters = connection.get_connection_params()
    address = make_conninfo(**{key: value for key, value in parameters.items() if key not in DJANGO_ONLY})
    return [programs.folder() / name, *options, "--no-password", "--dbname", address]


def _environment(connection):
    """The password goes by the environment: other users can read a command line."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PG")}
    password = connection.get_connection_params().get("password")
    return kept | ({"PGPASSWORD": password} if password else {})


def _run(command, connection, verb, **options):
    done = subprocess.run(command, env=_environment(connection), stderr=subprocess.PIPE, check=False, **options)
    if done.returncode:
        raise _failed(verb, done.stderr)


def _failed(verb, said):
    lines = said.decode(errors="replace").strip().splitlines() or ["it said nothing"]
    first = next((line for line in lines if "error" in line.lower()), lines[0])
    return DatabaseUnavailable(why=f"PostgreSQL could not {verb}: {first.strip()}.")


def _size(connection):
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return cursor.fetchone()[0]


def _tables(connection):
    with connection.cursor() as cursor:
        return len(connection.introspection.table_names(cursor))


def _need_space(folder, needed, what):
    try:
        free = shutil.disk_usage(folder).free
    except OSError as error:
        raise DatabaseUnavailable(why=f"{folder} cannot be used: {error.strerror}.") from None
    if free < needed:
        raise DatabaseUnavailable(
            why=f"The disk of {folder} has {free >> 20} MB free; {what} may need {needed >> 20} MB."
        )
