"""Making an archive: rows counted, rows dumped and files copied as of one moment."""

from __future__ import annotations

import shutil
from contextlib import contextmanager
from pathlib import Path

import analysis
import labrecords
from labrecords.archive import chain, files, rows
from labrecords.archive.container import DUMP, Memory, Writer, encrypted, exists, new_file
from labrecords.archive.manifest import Manifest
from labrecords.errors import ArchiveRefused
from labrecords.postgresql import transfer


def back_up(connection, data: Path, target: Path, passphrase: str = "") -> Manifest:
    """Write database and kept files to a new archive; encrypted when there is a passphrase."""
    if target.exists():
        raise exists(target)
    _need_space(connection, data, target)
    with new_file(target) as file:
        if not passphrase:
            return _write(connection, data, file)
        with Memory() as plain:
            made = _write(connection, data, plain)
            file.write(encrypted(plain, passphrase))
        return made


def _write(connection, data, sink):
    writer = Writer(sink)
    with _snapshot(connection) as (cursor, name, taken_at):
        writer.add(DUMP, transfer.dump(connection, name))
        # After the snapshot: a file is written before the row that names it, so no row of the snapshot lacks its file.
        for path in files.kept(data):
            writer.add(files.name_of(path, data), _pieces(path))
        made = Manifest(
            program=labrecords.VERSION,
            analysis=analysis.CODE_VERSION,
            postgresql=_value(cursor, "SELECT current_setting('server_version')"),
            database=_value(cursor, "SELECT current_database()"),
            taken_at=taken_at,
            migrations=_migrations(cursor),
            chain_head=chain.head(cursor),
            tables=rows.stored(cursor),
            files=tuple(writer.files),
        )
    writer.finish(made)
    return made


@contextmanager
def _snapshot(connection):
    """A transaction of its own that sees one moment, under a name by which pg_dump sees the same."""
    own = connection.copy()
    try:
        with own.cursor() as cursor:
            taken_at = _value(cursor, "SELECT clock_timestamp()")
            cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
            cursor.execute("SET LOCAL idle_in_transaction_session_timeout = 0; SET LOCAL statement_timeout = 0")
            yield cursor, _value(cursor, "SELECT pg_export_snapshot()"), taken_at
    finally:
        own.close()


def _value(cursor, query):
    cursor.execute(query)
    return cursor.fetchone()[0]


def _migrations(cursor):
    if _value(cursor, "SELECT to_regclass('public.django_migrations')") is None:
        return ()
    cursor.execute("SELECT app || '.' || name FROM public.django_migrations ORDER BY 1")
    return tuple(name for (name,) in cursor.fetchall())


def _pieces(path):
    with open(path, "rb") as file:
        yield from iter(lambda: file.read(2**20), b"")


def _need_space(connection, data, target):
    """The database's own size is more than a dump of it; said before an hour is spent."""
    needed = transfer.size(connection) + sum(path.stat().st_size for path in files.kept(data))
    folder = target.absolute().parent
    try:
        free = shutil.disk_usage(folder).free
    except OSError as error:
        raise ArchiveRefused(why=f"{folder} cannot be used: {error.strerror}.") from None
    if free < needed:
        raise ArchiveRefused(
            why=f"The disk of {folder} has {free >> 20} MB free; the back-up may need {(needed >> 20) + 1} MB."
        )
