"""The files of the data folder that belong into an archive, and their way back.

Left out on purpose: the embedded database's own files (the dump holds their content), `secret-key` (it only signs
sign-ins; a new one asks everybody to sign in again, and a stolen archive must not open sessions), `reports` (copies;
the issued bytes stand in the database) and `demo-sign-in.txt`.
"""

from __future__ import annotations

import os
import shutil
from contextlib import contextmanager, suppress
from pathlib import Path, PurePosixPath

from labrecords.archive.manifest import Manifest
from labrecords.errors import ArchiveRefused

KEPT = ("attachments", "certificate")  # folders: uploads, and the key and certificate that seal reports
SECRET = "certificate"  # noqa: S105


def kept(data: Path) -> list[Path]:
    found = [path for folder in KEPT for path in (data / folder).rglob("*")]
    return sorted(path for path in found if path.is_file() and not path.is_symlink())


def name_of(path: Path, data: Path) -> str:
    return path.relative_to(data).as_posix()


def of_manifest(manifest: Manifest | None, dump: str) -> list[str]:
    """Names of the archive's kept files; a name that leads anywhere else is refused."""
    names = [file.name for file in manifest.files if file.name != dump] if manifest else []
    for name in names:
        parts = PurePosixPath(name).parts
        if len(parts) < 2 or parts[0] not in KEPT or ".." in parts or "\\" in name or "\0" in name:
            raise ArchiveRefused(why=f"The archive holds a file “{name}” that has no place in the data folder.")
    return names


def refuse_taken(names, archive, data: Path) -> None:
    """Only a file with the same bytes may be there already: that of a restore that was cut off at its end."""
    for name in names:
        path = data / name
        if path.exists() and not (path.is_file() and _is_same(path, archive.stream(name))):
            raise ArchiveRefused(why=f"{path} exists already: a restore never replaces a file.")


@contextmanager
def placed(names, archive, data: Path):
    """The files in their places; gone again when what follows fails."""
    made = []
    try:
        for name in names:
            if not (data / name).exists():
                made.append(_write(data, data / name, archive.stream(name)))
        yield
    except BaseException as error:
        for path in made:
            path.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise ArchiveRefused(why=f"The files cannot be written to {data}: {error.strerror}.") from None
        raise


def _write(data, path, stream):
    for folder in reversed(path.relative_to(data).parents[:-1]):
        with suppress(FileExistsError):
            (data / folder).mkdir(mode=0o700, parents=True)
            _give(data / folder, data)
    partial = path.with_name(path.name + ".partial")
    try:
        with open(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW, 0o600), "wb") as file:
            shutil.copyfileobj(stream, file)
            file.flush()
            os.fsync(file.fileno())
        _give(partial, data)
        partial.rename(path)
    finally:
        partial.unlink(missing_ok=True)
    return path


def _give(path, data):
    """What root restores belongs to whoever the data folder belongs to."""
    if os.geteuid() == 0:
        os.chown(path, data.stat().st_uid, data.stat().st_gid)


def _is_same(path, stream):
    with open(path, "rb") as file:
        while True:
            one, other = file.read(2**20), stream.read(2**20)
            if one != other:
                return False
            if not one:
                return True
