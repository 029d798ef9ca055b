"""What an uploaded file may be: its name, its size and its content looked at before a byte of it is stored."""

from __future__ import annotations

import subprocess
import sys
import unicodedata
import warnings
import zipfile
from io import BytesIO
from pathlib import Path
from subprocess import DEVNULL

import puremagic
from PIL import Image

from labrecords.actions.pdf_page import ENCRYPTED
from labrecords.errors import ValueRefused
from labrecords.models.attachment import FILE_KINDS, MOST_BYTES

# A detail photo has 12 to 24 million pixels; decoded, 25 million take at most 100 MB.
MOST_PIXELS = 25_000_000
Image.MAX_IMAGE_PIXELS = MOST_PIXELS
warnings.simplefilter("error", Image.DecompressionBombWarning)

PAGE_READER = Path(__file__).with_name("pdf_page.py")
MOST_SECONDS = 15  # by the clock, on a machine that has other work too

LONGEST_NAME = 255
_TEXT = ("csv", "text")
_WHITE = "\t\n\r\f"


def plain_name(name) -> str:
    """The name as it was given, as one line of text that can be stored: it is shown and never used as a path."""
    text = "".join("\ufffd" if _is_control(sign) else sign for sign in str(name or "")).strip()
    if not text:
        raise _refused(name, "is no name")
    if len(text) <= LONGEST_NAME:
        return text
    stem, _, extension = text.rpartition(".")
    end = f".{extension[:10]}"
    return stem[: LONGEST_NAME - len(end)] + end


def check_size(name, data):
    if not data:
        raise _refused(name, "is empty")
    if len(data) > MOST_BYTES:
        raise _refused(name, f"has {len(data) / 2**20:.1f} MB; at most {MOST_BYTES // 2**20} MB are taken")


def kind_of(name: str, data: bytes) -> str:
    """The kind of a file, by its content; refuses what is no allowed kind, or not the one that its name says."""
    extension = name.rpartition(".")[2].lower() if "." in name else ""
    named = next((key for key, kind in FILE_KINDS.items() if extension in kind.extensions), None)
    if named is None:
        allowed = ", ".join(f".{end}" for kind in FILE_KINDS.values() for end in kind.extensions)
        raise _refused(name, f"does not end in one of {allowed}")
    if zipfile.is_zipfile(BytesIO(data)):
        raise _refused(name, "holds an archive: send its files one by one")
    if named in _TEXT:
        _check_text(name, data)
    elif _media_type(data) != FILE_KINDS[named].media_type:
        raise _refused(name, f"is no {FILE_KINDS[named].title} inside")
    if named == "pdf":
        _check_pdf(name, data)
    if FILE_KINDS[named].is_picture:
        _check_picture(name, data, named)
    return named


def _check_text(name, data):
    """Refuse what is not plain UTF-8 text: other files, control characters, markup that a browser would run."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _refused(name, "is not UTF-8 text") from None
    if any(_is_control(sign) and sign not in _WHITE for sign in text):
        raise _refused(name, "holds characters that no text has")
    if text.lstrip().startswith("<"):
        raise _refused(name, "holds markup: only plain text is taken")
    if _media_type(data) in {kind.media_type for key, kind in FILE_KINDS.items() if key not in _TEXT}:
        raise _refused(name, "is no text inside")


def _media_type(data):
    """What the first bytes say; nothing where they say nothing."""
    try:
        return puremagic.from_string(data, mime=True)
    except (puremagic.PureError, ValueError):
        return ""


def _check_picture(name, data, key):
    """Decode the picture once, its size known before: what does not open here is not stored."""
    try:
        with Image.open(BytesIO(data), formats=[key.upper()]) as picture:
            width, height = picture.size
            if width * height > MOST_PIXELS:
                raise _refused(name, _too_many(width, height))
            picture.load()
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise _refused(name, f"has more than {MOST_PIXELS / 1e6:.0f} million pixels") from None
    except (OSError, ValueError, SyntaxError, MemoryError, OverflowError, ZeroDivisionError, KeyError, IndexError,
            TypeError, EOFError, RuntimeError):  # fmt: skip
        # What decoders raise at damaged files is not listed anywhere.
        raise _refused(name, "cannot be opened: it is damaged or incomplete") from None


def _check_pdf(name, data):
    """Refuse what only begins like a PDF, and what is locked: nobody could read it later."""
    # -P: the folder of the program is no place to import from.
    command = [sys.executable, "-P", str(PAGE_READER)]
    try:
        # What it says of a damaged file may be longer than the file: nobody listens.
        ended = subprocess.run(
            command, input=data, stdout=DEVNULL, stderr=DEVNULL, check=False, timeout=MOST_SECONDS
        ).returncode
    except subprocess.TimeoutExpired:
        raise _refused(name, "cannot be opened: it takes too long to read") from None
    if ended == ENCRYPTED:
        raise _refused(name, "is encrypted: send it without a password")
    if ended:
        raise _refused(name, "cannot be opened: no page of it can be reached")


def _too_many(width, height):
    return f"has {width} × {height} pixels; at most {MOST_PIXELS / 1e6:.0f} million are taken"


def _is_control(sign):
    """Control characters, and those that turn the direction of what follows: no name or text needs them."""
    turns = "\u202a" <= sign <= "\u202e" or "\u2066" <= sign <= "\u2069"
    return turns or unicodedata.category(sign) in ("Cc", "Cs")


def _refused(name, rule):
    return ValueRefused(field="file", label="File", value=str(name)[:80].replace("\0", "\ufffd"), rule=rule)
