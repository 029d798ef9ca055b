"""Reading an archive into an empty place: looked at before, compared after, kept only when all of it is equal."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from labrecords.archive import files, rows
from labrecords.archive.container import DUMP, opened
from labrecords.archive.manifest import Manifest, Table
from labrecords.errors import ArchiveRefused
from labrecords.postgresql import transfer

# Measured with 120 000 readings and their history: 5 MB of dump became 48 MB of database; reading it in
# writes as much log again.
GROWTH = 25
NAMED = 5  # of what differs, before "and n more"
# What lets somebody in without a password. It may have been ended since the archive was made.
LETS_IN = ("public.knox_authtoken", "public.django_session")


@dataclass(frozen=True)
class Restored:
    manifest: Manifest | None  # None: a bare dump of an earlier release, which says nothing to compare with
    tables: dict[str, Table]
    files: tuple[str, ...]
    migrations: tuple[str, ...]


def restore(connection, data: Path, source: Path, passphrase, *, keeps_sign_ins=False) -> Restored:
    """Database and files of the archive, all or nothing. `passphrase` is called when the file is encrypted.

    After the comparison every API token and session ends in the same transaction; a drill, which compares once more
    and is thrown away, keeps them.
    """
    with opened(source, passphrase) as archive:
        _refuse_damaged(source, archive.problems())
        names = files.of_manifest(archive.manifest, DUMP)
        _refuse_newer(archive.manifest.migrations if archive.manifest else ())
        _refuse_used(connection)
        files.refuse_taken(names, archive, data)
        _need_space(connection, source)
        with transfer.Loading(connection) as loading:
            loading.read(archive.stream(DUMP))
            tables = rows.loaded(loading)
            if archive.manifest:
                _refuse_damaged(source, rows.differences(archive.manifest.tables, tables))
            migrations = _migrations(loading, tables)
            _refuse_newer(migrations)
            if not keeps_sign_ins:
                _end_sign_ins(loading, tables)
            with files.placed(names, archive, data):
                loading.commit()
        return Restored(archive.manifest, tables, tuple(names), migrations)


def unapplied(migrations) -> list[str]:
    """What this program has and the archive had not: it is of an earlier release."""
    return sorted(".".join(key) for key in _known().disk_migrations if ".".join(key) not in migrations)


def _known():
    from django.db.migrations.loader import MigrationLoader

    return MigrationLoader(None, ignore_no_migrations=True)


def _refuse_damaged(source, problems):
    if problems:
        more = f", and {len(problems) - NAMED} more" if len(problems) > NAMED else ""
        raise ArchiveRefused(why=f"{source} is damaged, and nothing was restored: {', '.join(problems[:NAMED])}{more}.")


def _refuse_newer(migrations):
    """A migration that this program's own apps do not have is from a later release."""
    known = _known()
    unknown = [
        name
        for name in migrations
        if name.partition(".")[0] in known.migrated_apps and tuple(name.split(".", 1)) not in known.disk_migrations
    ]
    if unknown:
        raise ArchiveRefused(
            why=f"The archive is of a later release than this program, which does not know migration {unknown[0]}: "
            "restore it with that release."
        )


def _refuse_used(connection):
    if tables := transfer.tables(connection):
        raise ArchiveRefused(
            why=f"Database “{connection.settings_dict['NAME']}” is not empty (it has {tables} tables): "
            "a restore only goes into an empty one."
        )


def _end_sign_ins(loading, tables):
    for table in LETS_IN:
        if table in tables:
            list(loading.ask(f"DELETE FROM {table}"))  # noqa: S608  names from above


def _migrations(loading, tables):
    if "public.django_migrations" not in tables:
        return ()
    lines = loading.ask("SELECT app || '.' || name FROM public.django_migrations ORDER BY 1")
    return tuple(line.decode().strip() for line in lines)


def _need_space(connection, source):
    """Where the embedded server's files lie; a named server's disk cannot be seen from here."""
    folder = connection.settings_dict.get("EMBEDDED_IN")
    if folder is None:
        return
    free, needed = shutil.disk_usage(folder).free, source.stat().st_size * GROWTH
    if free < needed:
        raise ArchiveRefused(
            why=f"The disk of {folder} has {free >> 20} MB free; the restore may need {needed >> 20} MB."
        )
