"""Whether a PDF has a page: a program of its own, because a hostile file may cost any time and any memory.

Reads the file from standard input. Ends with 0 when a page was reached, with ENCRYPTED, or with anything else.
It walks down to the first page only: a tree that names its nodes again and again is never unfolded.
"""

import contextlib
import io
import resource
import sys

ENCRYPTED = 3
MOST_SECONDS = 5  # of processor time
MOST_BYTES = 768 * 2**20  # of memory: the library itself, the file, and one object stream unpacked
MOST_NODES = 1000


def has_page(reader) -> bool:
    waiting = [reader.trailer["/Root"]["/Pages"]]
    for _ in range(MOST_NODES):
        if not waiting:
            return False
        node = waiting.pop().get_object()
        if node.get("/Type") == "/Page":
            return True
        # The first ones go first; of a node with very many only as many as will be looked at.
        waiting += reversed(node.get("/Kids", [])[:MOST_NODES])
    return False


def main():
    for kind, most in ((resource.RLIMIT_CPU, MOST_SECONDS), (resource.RLIMIT_AS, MOST_BYTES)):
        # A system that knows no such limit still has the caller's clock.
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(kind, (most, most))
    import pypdf

    reader = pypdf.PdfReader(io.BytesIO(sys.stdin.buffer.read()), strict=False)
    if reader.is_encrypted:
        return ENCRYPTED
    return 0 if has_page(reader) else 1


if __name__ == "__main__":
    sys.exit(main())
