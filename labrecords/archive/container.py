"""The archive as a file: a plain tar whose every byte is accounted for, encrypted in the age format when asked.

In it stand database.dump (pg_dump's custom format), the kept files, manifest.json and SHA256SUMS. Nothing else may:
headers, padding and end are compared with what they must be, so that no changed byte passes.
"""

from __future__ import annotations

import hashlib
import io
import os
import tarfile
from collections.abc import Iterable
from contextlib import contextmanager, suppress
from pathlib import Path

import psutil

from labrecords.archive import manifest as manifests
from labrecords.archive.manifest import File, Manifest
from labrecords.errors import ArchiveRefused

DUMP, MANIFEST, SUMS = "database.dump", "manifest.json", "SHA256SUMS"
BARE, ENCRYPTED = b"PGDMP", b"age-encryption.org/"
BLOCK, PIECE = tarfile.BLOCKSIZE, 2**20
LARGEST_ENCRYPTED = 2**30  # the library works in memory: three times as much, and up to 1 GB for the key
END = bytes(2 * BLOCK)


class Writer:
    """Writes members one after the other; the size of one may be known only when it has been written."""

    def __init__(self, sink):
        self.sink, self.files = sink, []

    def add(self, name: str, pieces: Iterable[bytes]) -> None:
        start = self.sink.tell()
        self.sink.write(_header(name, 0))
        digest, size = hashlib.sha256(), 0
        for piece in pieces:
            self.sink.write(piece)
            digest.update(piece)
            size += len(piece)
        self.sink.write(bytes(-size % BLOCK))
        end = self.sink.tell()
        self.sink.seek(start)
        self.sink.write(_header(name, size))
        self.sink.seek(end)
        self.files.append(File(name, size, digest.hexdigest()))

    def finish(self, manifest: Manifest) -> None:
        self.add(MANIFEST, [manifest.to_bytes()])
        self.add(SUMS, [_sums(self.files)])
        self.sink.write(END)


class Archive:
    """An archive that was opened; `manifest` is None for a bare dump of an earlier release."""

    def __init__(self, file, manifest=None, tar=None):
        self.file, self.manifest, self.tar = file, manifest, tar

    def stream(self, name: str):
        if self.tar is None:
            self.file.seek(0)
            return self.file
        return self.tar.extractfile(name)

    def problems(self) -> list[str]:
        """What is not as the archive itself says, one sentence each."""
        if self.manifest is None:
            return []
        try:
            found = {member.name: member for member in self.tar.getmembers()}
            listed = [*(file.name for file in self.manifest.files), MANIFEST, SUMS]
            missing = [f"{name} is missing" for name in listed if name not in found]
            strange = [f"{name} is not in the manifest" for name in found if name not in listed]
            return [*missing, *strange] or self._changed(found)
        except (tarfile.TarError, AttributeError, ValueError):  # a member that is cut off or is no plain file
            return ["its structure was changed"]

    def _changed(self, found):
        own = self.stream(MANIFEST).read()
        files = [*self.manifest.files, File(MANIFEST, len(own), hashlib.sha256(own).hexdigest())]
        sums = _sums(files)
        files.append(File(SUMS, len(sums), hashlib.sha256(sums).hexdigest()))
        changed = [f"{file.name} was changed" for file in files if self._digest(file.name) != file.sha256]
        return changed or ([] if self._is_tight(files, found) else ["bytes between its files were changed"])

    def _digest(self, name):
        return hashlib.file_digest(self.stream(name), "sha256").hexdigest()

    def _is_tight(self, files, found):
        """Whether headers, padding and end hold nothing but what belongs there."""
        place = 0
        for file in files:
            header = _header(file.name, file.bytes)
            data, padding = place + len(header), bytes(-file.bytes % BLOCK)
            if found[file.name].offset_data != data or self._at(place, len(header)) != header:
                return False
            place = data + file.bytes + len(padding)
            if self._at(place - len(padding), len(padding)) != padding:
                return False
        return self._at(place, len(END) + 1) == END

    def _at(self, place, length):
        self.file.seek(place)
        return self.file.read(length)


@contextmanager
def opened(source: Path, passphrase):
    """The archive in this file. `passphrase` is called for one when the file is encrypted."""
    with _file(source) as file:
        head = file.read(len(ENCRYPTED))
        file.seek(0)
        if head.startswith(BARE):
            yield Archive(file)
            return
        with io.BytesIO(_decrypted(file, source, passphrase())) if head == ENCRYPTED else file as plain:
            yield _read(plain, source)


def is_encrypted(source: Path) -> bool:
    with _file(source) as file:
        return file.read(len(ENCRYPTED)) == ENCRYPTED


@contextmanager
def new_file(target: Path):
    """A private file that gets its name only when it is complete and on the disk, and never another one's."""
    folder = target.absolute().parent
    _sweep(target)
    partial = folder / f"{target.name}.{os.getpid()}.partial"
    try:
        with open(os.open(partial, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        _name(partial, target)
        _sync_folder(folder)
    except FileExistsError:
        raise exists(target) from None
    except OSError as error:
        raise ArchiveRefused(why=f"{target} cannot be written: {error.strerror}.") from None
    finally:
        partial.unlink(missing_ok=True)


class Memory(io.BytesIO):
    """Where an archive grows that is to be encrypted: nothing of it reaches the disk in clear."""

    def write(self, data):
        if self.tell() + len(data) > LARGEST_ENCRYPTED:
            limit = f"{LARGEST_ENCRYPTED >> 20} MB"
            raise ArchiveRefused(
                why=f"The archive is larger than {limit}, the most that is encrypted here: "
                "make it without a passphrase and encrypt it with a tool of the age format."
            )
        return super().write(data)


def encrypted(plain: Memory, passphrase: str) -> bytes:
    import pyrage  # only where it is needed

    return pyrage.passphrase.encrypt(plain.getvalue(), passphrase)


def exists(target):
    return ArchiveRefused(why=f"{target} exists already; a back-up never replaces a file.")


def _file(source):
    try:
        return open(source, "rb")
    except FileNotFoundError:
        raise ArchiveRefused(why=f"There is no file {source}.") from None
    except OSError as error:
        raise ArchiveRefused(why=f"{source} cannot be read: {error.strerror}.") from None


def _decrypted(file, source, passphrase):
    import pyrage

    if os.fstat(file.fileno()).st_size > 2 * LARGEST_ENCRYPTED:
        raise ArchiveRefused(
            why=f"{source} is larger than what is decrypted here: decrypt it with a tool of the age format first."
        )
    try:
        return pyrage.passphrase.decrypt(file.read(), passphrase)
    except pyrage.DecryptError:
        raise ArchiveRefused(why=f"The passphrase does not open {source}, or the file was changed.") from None


def _read(file, source):
    try:
        tar = tarfile.TarFile(fileobj=file)
        return Archive(file, manifests.parse(tar.extractfile(MANIFEST).read()), tar)
    except (tarfile.TarError, KeyError, AttributeError):
        raise ArchiveRefused(why=f"{source} is no archive of this program, or its beginning or end was lost.") from None


def _header(name, size):
    member = tarfile.TarInfo(name)
    member.size, member.mode = size, 0o600
    return member.tobuf(tarfile.GNU_FORMAT, "utf-8", "surrogateescape")


def _sums(files):
    """As sha256sum writes and checks it."""
    return "".join(f"{file.sha256}  {file.name}\n" for file in files).encode()


def _name(partial, target):
    try:
        os.link(partial, target)  # unlike a rename, this never replaces what is there
    except FileExistsError:
        raise
    except OSError:  # a disk without hard links
        if target.exists():
            raise exists(target) from None
        partial.rename(target)


def _sync_folder(folder):
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # some network disks cannot
            os.fsync(handle)
    finally:
        os.close(handle)


def _sweep(target):
    """Remove what a killed attempt for the same name left behind."""
    for left in target.absolute().parent.glob(f"{target.name}.*.partial"):
        number = left.name.removesuffix(".partial").rpartition(".")[2]
        if number.isdecimal() and not psutil.pid_exists(int(number)):
            left.unlink(missing_ok=True)
