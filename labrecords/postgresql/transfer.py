"""Dumping a database and reading a dump in again, with PostgreSQL's own tools, against either kind of server.

The tools come from the same folder as the embedded server; they read servers up to their own version.
"""

from __future__ import annotations

import os
import secrets
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import suppress
from tempfile import TemporaryFile
from threading import Thread

from psycopg.conninfo import make_conninfo

from labrecords.errors import DatabaseUnavailable
from labrecords.postgresql import programs

DJANGO_ONLY = {"cursor_factory", "context", "prepare_threshold", "client_encoding", "password"}
HEAD_LINES = 40  # of a dump: settings, before any data
PIECE = 2**20


def dump(connection, snapshot: str) -> Iterator[bytes]:
    """The whole database as that exported snapshot sees it, in pg_dump's custom format, piece by piece."""
    command = _tool("pg_dump", connection, "--format=custom", f"--snapshot={snapshot}")
    with TemporaryFile() as said:
        with _popen(command, connection, stdout=subprocess.PIPE, stderr=said) as tool:
            try:
                yield from iter(lambda: tool.stdout.read(PIECE), b"")
            except BaseException:
                tool.kill()
                raise
        if tool.returncode:
            raise _failed("back up", said)


class Loading:
    """One transaction in psql: a dump is read in and looked at, and kept only when `commit` is called.

    Whatever ends this process before takes psql's input away, and without COMMIT the server keeps nothing.
    """

    def __init__(self, connection):
        self._connection, self._mark = connection, secrets.token_hex(16)

    def __enter__(self):
        self._said = TemporaryFile()
        plain = ("--no-psqlrc", "--quiet", "--no-align", "--tuples-only", "--set=ON_ERROR_STOP=1")
        command, pipe = _tool("psql", self._connection, *plain), subprocess.PIPE
        self._tool = _popen(command, self._connection, stdin=pipe, stdout=pipe, stderr=self._said)
        self._send("BEGIN;")
        return self

    def __exit__(self, *problem):
        with suppress(BrokenPipeError):
            self._tool.stdin.close()
        self._tool.stdout.close()
        self._tool.wait()
        self._said.close()

    def read(self, source) -> None:
        """Read in a dump from a file, from wherever it stands."""
        script = [programs.folder() / "pg_restore", "--no-owner", "--no-privileges", "--file=-"]
        pipe = subprocess.PIPE
        self._send("\\o /dev/null")
        with _popen(script, self._connection, stdin=pipe, stdout=pipe, stderr=self._said) as reader:
            feeder = Thread(target=_feed, args=(source, reader.stdin), daemon=True)
            feeder.start()
            _pour(reader.stdout, self._tool.stdin)
            feeder.join()
        if reader.returncode:
            raise self._failure()
        self._send("\\o")
        list(self.ask("SELECT 1"))

    def ask(self, statement: str) -> Iterator[bytes]:
        """The lines that psql prints for this statement."""
        self._send(f"{statement.strip().rstrip(';')};\n\\echo {self._mark}")
        end = f"{self._mark}\n".encode()
        while (line := self._tool.stdout.readline()) != end:
            if not line:
                raise self._failure()
            yield line

    def commit(self) -> None:
        list(self.ask("COMMIT"))

    def _send(self, text):
        with suppress(BrokenPipeError):  # psql has ended; its own words follow
            self._tool.stdin.write(text.encode() + b"\n")
            self._tool.stdin.flush()

    def _failure(self):
        self._tool.kill()  # before it could take the end of its input for the end of the script
        self._tool.wait()
        return _failed("restore", self._said)


def size(connection) -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return cursor.fetchone()[0]


def tables(connection) -> int:
    with connection.cursor() as cursor:
        return len(connection.introspection.table_names(cursor))


def _feed(source, sink):
    with suppress(BrokenPipeError, OSError), sink:
        shutil.copyfileobj(source, sink, PIECE)


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


def _popen(command, connection, **pipes):
    return subprocess.Popen(command, env=_environment(connection), **pipes)


def _failed(verb, said):
    said.seek(0)
    lines = said.read().decode(errors="replace").strip().splitlines() or ["it said nothing"]
    first = next((line for line in lines if "error" in line.lower()), lines[0])
    return DatabaseUnavailable(why=f"PostgreSQL could not {verb}: {first.strip()}.")
