"""The passphrase of an archive: from a file, from the environment, or asked for."""

from __future__ import annotations

import getpass
import os
import sys
from pathlib import Path

from labrecords.errors import ArchiveRefused

VARIABLE = "LABRECORDS_PASSPHRASE"
SHORTEST = 12


def to_encrypt(file: Path | None, must_ask: bool) -> str:
    """Empty when nothing asks for encryption."""
    passphrase = _given(file) or (_asked(twice=True) if must_ask else "")
    if passphrase and len(passphrase) < SHORTEST:
        raise ArchiveRefused(why=f"The passphrase is too short: it needs at least {SHORTEST} characters.")
    return passphrase


def to_decrypt(file: Path | None):
    """A function, called only when an archive is encrypted."""
    return lambda: _given(file) or _asked()


def _given(file):
    if file is None:
        return os.environ.get(VARIABLE, "")
    try:
        said = file.read_text().rstrip("\r\n")
    except (OSError, UnicodeDecodeError) as problem:
        why = getattr(problem, "strerror", None) or "it is no text"
        raise ArchiveRefused(why=f"The passphrase file {file} cannot be read: {why}.") from None
    if not said:
        raise ArchiveRefused(why=f"The passphrase file {file} is empty.")
    return said


def _asked(twice=False):
    if not sys.stdin.isatty():
        raise ArchiveRefused(
            why=f"A passphrase is needed and cannot be asked for here: give --passphrase-file or {VARIABLE}."
        )
    passphrase = getpass.getpass("Passphrase: ")
    if twice and getpass.getpass("Again: ") != passphrase:
        raise ArchiveRefused(why="The passphrase was not the same twice.")
    return passphrase
