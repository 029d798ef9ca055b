"""How the installation is: everything an operator looks at, in one list that page, API and command show."""

from __future__ import annotations

import platform
import shutil
import time
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import django
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.loader import MigrationLoader

import analysis
import labrecords
from labrecords import access
from labrecords.actions import chain, releases
from labrecords.archive import files, latest
from labrecords.errors import Refusal
from labrecords.postgresql import durability, transfer

LEAST_FREE = 2**30  # bytes
OLDEST_BACKUP = timedelta(hours=48)
LONGEST_WAIT_S = 30
LARGEST_CLOCK_DIFFERENCE_S = 2
CERTIFICATE_WARNING = timedelta(days=60)


@dataclass(frozen=True)
class Item:
    key: str
    label: str
    value: str
    is_fine: bool = True
    advice: str = ""  # what to do when it is not


def look(*, by) -> list[Item]:
    """For a person at a page or the API."""
    access.check(by, "health.look")
    return items()


def items(data: Path | None = None) -> list[Item]:
    """For whoever runs the machine; `data` is the data folder."""
    data = data or settings.DATA
    found = [_program(), _python(), *_of_database(), _disk(data), _backup(data), *_certificates(data)]
    return [replace(item, advice="") if item.is_fine else item for item in found]


def needs_attention(found: list[Item]) -> list[Item]:
    return [item for item in found if not item.is_fine]


def as_data(found: list[Item]) -> dict:
    """The list for a program."""
    return {"needs_attention": bool(needs_attention(found)), "items": [asdict(item) for item in found]}


def _program():
    return Item("program", "Program", f"{labrecords.VERSION}, analysis {analysis.CODE_VERSION}")


def _release():
    """What the lab has recorded of the version that runs here; to record none is no fault of the installation."""
    release = releases.current()
    said = f"put to use by {release.created_by} on {release.created_at:%Y-%m-%d}" if release else ""
    return Item("release", "Release", said or "no record that this version was checked here: Lab, Releases")


def _python():
    return Item("python", "Python and Django", f"Python {platform.python_version()}, Django {django.__version__}")


# The database --------------------------------------------------------------------------------------------------


def _of_database():
    try:
        migrations = _migrations()
        found = [_server(), migrations, _durability(), _checksums(), _waiting(), _chain(), _clock()]
        return [*found, _release()] if migrations.is_fine else found
    except (Refusal, DatabaseError) as problem:
        said = str(problem).strip().splitlines()[0]
        return [Item("database", "Database", said, is_fine=False, advice="Nothing works without it.")]


def _server():
    kind = "embedded" if connection.settings_dict.get("EMBEDDED_IN") else "named by DATABASE_URL"
    version = _value("SELECT current_setting('server_version')")
    return Item("database", "Database", f"PostgreSQL {version}, {kind}, {_megabytes(transfer.size(connection))}")


def _migrations():
    loader = MigrationLoader(connection)
    missing = sorted(".".join(key) for key in loader.disk_migrations.keys() - loader.applied_migrations.keys())
    if missing:
        said = f"{len(missing)} not applied: {', '.join(missing[:5])}"
        return Item("migrations", "Migrations", said, is_fine=False, advice="Run manage.py migrate.")
    newest = max((name for app, name in loader.disk_migrations if app == "labrecords"), default="none")
    return Item("migrations", "Migrations", f"all applied, up to {newest}")


def _durability():
    connection.ensure_connection()
    off = durability.switched_off(connection.connection)
    said = f"{', '.join(off)} off" if off else f"{', '.join(durability.SETTINGS)} on"
    advice = "Acknowledged entries can be lost: switch it on; the pages refuse to start without it."
    return Item("durability", "Writing to disk", said, not off, advice)


def _checksums():
    state = _value("SELECT current_setting('data_checksums')")
    failures = int(_value("SELECT coalesce(sum(checksum_failures), 0) FROM pg_stat_database"))
    if failures:
        advice = "Pages of the database are damaged: stop, and restore the last back-up elsewhere."
        return Item("checksums", "Page checksums", f"{failures} failures", is_fine=False, advice=advice)
    advice = "Damage of the disk would go unnoticed: restore a back-up into a database made with checksums."
    return Item("checksums", "Page checksums", f"{state}, no failure counted", state == "on", advice)


def _waiting():
    """There is no queue of jobs: everything is done in its request. What can wait is a connection, for a lock."""
    query = """SELECT count(*), count(*) FILTER (WHERE wait_event_type = 'Lock'),
            coalesce(extract(epoch FROM max(clock_timestamp() - state_change)
                FILTER (WHERE wait_event_type = 'Lock')), 0)::float8,
            current_setting('max_connections')::int
        FROM pg_stat_activity WHERE backend_type = 'client backend'"""
    with connection.cursor() as cursor:
        cursor.execute(query)
        used, waiting, longest, most = cursor.fetchone()
    said = f"no job queue; {used} of {most} connections, {waiting} waiting for a lock"
    if waiting:
        said += f", the longest for {longest:.0f} s"
    is_fine = longest < LONGEST_WAIT_S and used < 0.9 * most
    return Item(
        "waiting", "Waiting", said, is_fine, "Something holds a lock or the connections run out: look at the log."
    )


def _chain():
    head = chain.head()
    return Item("chain", "Record chain", f"head {head['number']}, {head['hash']}" if head["number"] else "no link yet")


def _clock():
    """The database's clock against this process's, half of the round trip allowed for."""
    before = time.time()
    told = float(_value("SELECT extract(epoch FROM clock_timestamp())::float8"))
    after = time.time()
    difference = told - (before + after) / 2
    moment = datetime.fromtimestamp(told, UTC)
    said = f"{moment:%Y-%m-%d %H:%M:%S} UTC at the database; this process differs by {abs(difference):.3f} s"
    advice = "Set both clocks by the same time server."
    return Item("clock", "Clock", said, abs(difference) <= LARGEST_CLOCK_DIFFERENCE_S, advice)


def _value(query):
    with connection.cursor() as cursor:
        cursor.execute(query)
        return cursor.fetchone()[0]


# The machine ---------------------------------------------------------------------------------------------------


def _disk(data):
    try:
        free = shutil.disk_usage(data).free
    except OSError as error:
        return Item("disk", "Disk of the data folder", f"{data}: {error.strerror}", is_fine=False)
    advice = "Make room: a full disk stops every entry."
    return Item("disk", "Disk of the data folder", f"{_megabytes(free)} free in {data}", free >= LEAST_FREE, advice)


def _backup(data):
    last, advice = latest.read(data), "Run manage.py db backup FILE, every night, and take the file to another machine."
    if last is None:
        return Item("backup", "Last back-up", "none is recorded", is_fine=False, advice=advice)
    age = datetime.now(UTC) - last["taken_at"]
    there = "" if Path(last["file"]).exists() else ", no longer there"
    kind = "encrypted" if last["is_encrypted"] else "not encrypted"
    said = f"{last['taken_at']:%Y-%m-%d %H:%M} UTC, {_age(age)} ago: {last['file']} ({kind}{there})"
    return Item("backup", "Last back-up", said, age <= OLDEST_BACKUP, advice)


def _certificates(data):
    """Certificates in the folder whose key seals reports; none is there before the first report is sealed."""
    return [
        item for path in sorted((data / files.SECRET).glob("*")) if path.suffix in {".pem", ".crt"}
        for item in _certificate(path)
    ]  # fmt: skip


def _certificate(path):
    from cryptography import x509

    try:
        found = x509.load_pem_x509_certificates(path.read_bytes())
    except (OSError, ValueError):
        return  # a key, or not for this account
    for certificate in found:
        ends = certificate.not_valid_after_utc
        left = ends - datetime.now(UTC)
        said = f"{path.name} holds until {ends:%Y-%m-%d}"
        advice = "Make or obtain a new certificate; reports sealed so far stay as they are."
        yield Item("certificate", "Certificate of the lab", said, left > CERTIFICATE_WARNING, advice)


def _megabytes(size):
    return f"{size / 2**30:.1f} GB" if size >= 2**30 else f"{size / 2**20:.0f} MB"


def _age(age):
    hours = age.total_seconds() / 3600
    return f"{hours:.0f} h" if hours >= 1 else f"{hours * 60:.0f} min"
