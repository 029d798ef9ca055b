"""Signs that cannot be seen stand on a page as their code point: no name reads backwards, no word hides in another."""

import re
import unicodedata
from itertools import chain

from labrecords.reports.text import UNSEEN

# All of them lie here; a page keeps its line breaks and tabs.
_RANGES = chain(range(0xD800), range(0xFE00, 0x20000), range(0xE0000, 0xE0080))
_SIGNS = frozenset(sign for sign in map(chr, _RANGES) if unicodedata.category(sign) in UNSEEN) - set("\t\n\r")
_PLAIN = bytes(range(0x20, 0x7F)) + b"\t\n\r"
_PATTERN = re.compile(f"[{re.escape(''.join(_SIGNS))}]")


def shown(text: str) -> str:
    return _PATTERN.sub(lambda found: f"[U+{ord(found[0]):04X}]", text)


class Shown:
    """Over every page as it leaves: no template can forget it."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        answer = self.get_response(request)
        is_page = not answer.streaming and answer.headers.get("Content-Type", "").startswith("text/html")
        # Nearly every page has none: what is left without plain ASCII is short and tells so at once.
        if is_page and not _SIGNS.isdisjoint(answer.content.translate(None, _PLAIN).decode()):
            answer.content = shown(answer.content.decode())
        return answer
