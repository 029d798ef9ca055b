"""The drill: an archive is restored into an empty place, and everything in it is proved equal to what was backed up."""

from __future__ import annotations

import hashlib
import io
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from labrecords import archive
from labrecords.actions import chain as record_chain
from labrecords.archive import chain, container, rows
from labrecords.archive.restore import unapplied
from labrecords.errors import ArchiveRefused, Refusal
from labrecords.models import Qualification


@dataclass(frozen=True)
class Finding:
    what: str
    found: str
    is_fine: bool = True


def prove(connection, data: Path, source: Path, passphrase, *, now: datetime, migrate: Callable) -> Iterator[Finding]:
    """Restore into this empty place and look at everything; what differs is said, and ends the drill if it must."""
    with container.opened(source, passphrase) as opened:
        manifest = opened.manifest
    if manifest is None:
        raise ArchiveRefused(
            why=f"{source} is a dump of an earlier release, which says nothing to compare it with: restore it and "
            "back it up anew."
        )
    yield _described(source, manifest)
    begun = time.monotonic()
    try:
        restored = archive.restore(connection, data, source, passphrase, keeps_sign_ins=True)
    except Refusal as refusal:
        yield Finding("Restore", str(refusal), is_fine=False)
        return
    took = time.monotonic() - begun
    yield _tables(connection, manifest)
    yield _files(data, manifest, restored.files)
    begun = time.monotonic()
    newer = unapplied(restored.migrations)
    migrate()
    took += time.monotonic() - begun
    yield Finding("Migrations", f"{len(newer)} newer than the archive, applied" if newer else "the same as here")
    yield _chain(connection, manifest, bool(newer))
    yield from _reports()
    age = timedelta(seconds=round((now - manifest.taken_at).total_seconds()))
    yield Finding("RPO", f"{age} (age of the archive: what was entered since then is not in it)")
    yield Finding("RTO", f"{took:.1f} s (empty folder to a database that can be used)")


def _described(source, manifest):
    size = source.stat().st_size / 2**20
    return Finding(
        "Archive",
        f"{source.name}, {size:.1f} MB: program {manifest.program}, PostgreSQL {manifest.postgresql}, "
        f"taken {manifest.taken_at:%Y-%m-%d %H:%M:%S %Z}",
    )


def _tables(connection, manifest):
    with connection.cursor() as cursor:
        found = rows.stored(cursor)
    connection.close()  # it has the settings of the comparison
    wrong = rows.differences(manifest.tables, found)
    equal = len(manifest.tables) - len(wrong)
    said = f"{equal} of {len(manifest.tables)} equal in rows and SHA-256 ({manifest.rows} rows)"
    return Finding("Tables", "; ".join([said, *wrong]), not wrong)


def _files(data, manifest, names):
    if not names:
        return Finding("Files", "none but the database")
    sums = {file.name: file.sha256 for file in manifest.files}
    wrong = [name for name in names if _sha256((data / name).read_bytes()) != sums[name]]
    said = f"{len(names) - len(wrong)} of {len(names)} equal"
    return Finding("Files", "; ".join([said, *(f"{name} differs" for name in wrong)]), not wrong)


def _chain(connection, manifest, was_migrated):
    """The head is that of the archive, unless a migration wrote to the trail; and every link holds."""
    with connection.cursor() as cursor:
        head = chain.head(cursor)
    if head is None and manifest.chain_head is None:
        return Finding("Record chain", "there is none in this release")
    if not was_migrated and head != manifest.chain_head:
        return Finding("Record chain", f"head {head}, the manifest says {manifest.chain_head}", is_fine=False)
    broken = str(next(record_chain.breaks(record_chain.noted()), ""))
    return Finding("Record chain", broken or f"holds; head {head['seq']}, {head['hash']}", not broken)


def _reports():
    found = list(Qualification.objects.order_by("issued_at", "id").values_list("report_number", "sha256"))
    if not found:
        yield Finding("Reports", "none has been issued")
        return
    files = Qualification.objects.order_by("issued_at", "id").values_list("file", flat=True).iterator(chunk_size=1)
    wrong = [number for (number, sha256), file in zip(found, files, strict=True) if _sha256(bytes(file)) != sha256]
    said = f"{len(found) - len(wrong)} of {len(found)} fit their SHA-256"
    yield Finding("Reports", "; ".join([said, *(f"{number} does not" for number in wrong)]), not wrong)
    yield _opens(Qualification.objects.order_by("issued_at", "id").first())


def _opens(report):
    from pyhanko.pdf_utils.misc import PdfError
    from pyhanko.pdf_utils.reader import PdfFileReader

    what = f"{report.report_number} of {report.issued_at:%Y-%m-%d}"
    try:
        pages = PdfFileReader(io.BytesIO(bytes(report.file))).root["/Pages"]["/Count"]
    except (PdfError, KeyError, ValueError) as problem:
        return Finding("Oldest report", f"{what} does not open: {problem}", is_fine=False)
    return Finding("Oldest report", f"{what} opens ({pages} pages)", int(pages) > 0)


def _sha256(data):
    return hashlib.sha256(data).hexdigest()
