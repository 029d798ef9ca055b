"""Tables of documents: repeated heads, rows that may break over pages, text that wraps."""

from __future__ import annotations

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Table, TableStyle

from labrecords.reports import look
from labrecords.reports.text import paragraph, shown

TALL = 350  # points: a row beyond this is broken, a lower one moves to the next page whole


class RowKeepingTable(Table):
    """A table that breaks between rows, and inside a row only where that row is too tall to be moved."""

    def split(self, width, height):
        self._calc(width, height)
        self.splitInRow = int(max(self._rowHeights) > TALL)
        return super().split(width, height)


def table(head: list[str], rows: list[list], widths: list[float], styles=()) -> Table:
    """Columns by shares of the page's width; a cell is text or a flowable."""
    cells = [[paragraph(name, "strong") for name in head]]
    cells += [[paragraph(cell, "cell") if isinstance(cell, str) else cell for cell in row] for row in rows]
    return _made(cells, widths, [*look.TABLE, *look.HEADED, *styles], head=1)


def numbers(head: list[str], rows: list[list[str]], widths: list[float], styles=()) -> Table:
    """A table of short cells, drawn as they are where they fit: many times faster than text that wraps."""
    limits = [look.WIDTH * width / sum(widths) - 6 for width in widths]
    cells = [[_cell(cell, limit) for cell, limit in zip(row, limits, strict=True)] for row in [head, *rows]]
    return _made(cells, widths, [*look.TABLE, *look.HEADED, *styles], head=1)


def pairs(rows: list[tuple[str, object]], share: float = 0.24) -> Table:
    """Label and value, one pair a row; rows without a value are left out."""
    cells = [[paragraph(label, "strong"), paragraph(value, "cell")] for label, value in rows if value]
    return _made(cells, [share, 1 - share], look.TABLE, head=0)


def _cell(text, limit):
    short = shown(text)
    if "\n" not in short and stringWidth(short, look.BOLD, 7.8) <= limit:
        return short
    return paragraph(text, "cell")


def _made(cells, widths, styles, head):
    total = sum(widths)
    return RowKeepingTable(
        cells,
        colWidths=[look.WIDTH * width / total for width in widths],
        repeatRows=head,
        style=TableStyle(styles),
        spaceBefore=2,
        spaceAfter=5,
    )
