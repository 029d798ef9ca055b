"""The one place where stored text becomes PDF text: escaped, so that it can never become markup."""

from __future__ import annotations

import unicodedata
from xml.sax.saxutils import escape

from reportlab.platypus import Paragraph

from labrecords.reports import look

UNSEEN = ("Cc", "Cf", "Co", "Cs", "Zl", "Zp")  # control, direction marks and the like


def shown(text) -> str:
    """The text as it can be printed: what cannot be seen, or is not in the font, stands as its code point."""
    return "".join(_shown(character) for character in str(text).replace("\r\n", "\n").replace("\t", " "))


def one_line(text) -> str:
    """The same for what is drawn in one line, where a line break would print as an empty box."""
    return shown(text).replace("\n", " ")


def paragraph(text, style: str = "body", bullet: str | None = None) -> Paragraph:
    """A paragraph of plain text; line breaks are kept, everything else prints as typed."""
    return Paragraph(escape(shown(text)).replace("\n", "<br/>"), look.STYLES[style], bulletText=bullet)


def number(value, decimals: int = 1, unit: str = "") -> str:
    """A stored number with its unit; a value beyond the stage limit in words, a dash where there is none."""
    if value is None:
        return "–"
    if isinstance(value, str):
        return "beyond the stage limit"
    return f"{value:.{decimals}f}{'' if unit in ('', '°') else ' '}{unit}".replace("-", "−")


def interval(low, high, decimals: int = 1, unit: str = "") -> str:
    if low is None or high is None:
        return "–"
    return f"[{number(low, decimals)}, {number(high, decimals)}]{'' if unit in ('', '°') else ' '}{unit}"


def joined(*parts, by: str = "; ") -> str:
    return by.join(str(part) for part in parts if part)


def _shown(character):
    if character == "\n":
        return character
    if unicodedata.category(character) in UNSEEN or ord(character) not in look.GLYPHS:
        return f"[U+{ord(character):04X}]"
    return character
