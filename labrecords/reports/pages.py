"""Pages of a document: its number and “page n of N” on each, and the same bytes for the same content."""

from __future__ import annotations

import hashlib
import math
import time
from io import BytesIO

from reportlab.lib.utils import TimeStamp
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

from labrecords.reports import look
from labrecords.reports.text import one_line


def build(story: list, *, number: str, title: str, footer: str, author: str, epoch: int, mark: str = "") -> bytes:
    """The document as PDF bytes. `epoch`: seconds since 1970 of its issue, the only time in the file.

    `mark`: words across every page, for what must not be taken for the document itself.
    """
    out = BytesIO()
    document = BaseDocTemplate(
        out,
        pagesize=look.PAGE,
        leftMargin=look.MARGIN,
        rightMargin=look.MARGIN,
        topMargin=24 * look.mm,
        bottomMargin=20 * look.mm,
        title=one_line(f"{title} {number}"),
        author=one_line(author),
        subject=one_line(footer),
        creator="labrecords",
        lang="en",
    )
    frame = Frame(
        look.MARGIN,
        document.bottomMargin,
        look.WIDTH,
        document.height,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )
    document.addPageTemplates([PageTemplate(id="page", frames=[frame])])
    document.build(story, canvasmaker=_canvas(number, title, footer, epoch, mark))
    return out.getvalue()


def _canvas(number, title, footer, epoch, mark):
    """A canvas that holds its pages back until it knows how many there are."""

    class NumberedCanvas(Canvas):
        def __init__(self, *args, **details):
            super().__init__(*args, **details | {"invariant": 1, "lang": "en", "pageCompression": 1})
            self._held = []
            # Neither the clock nor the environment decides what stands in the file.
            self._doc._timeStamp = _stamp(epoch)
            self._doc.signature = hashlib.md5(number.encode(), usedforsecurity=False)

        def showPage(self):
            self._held.append(dict(self.__dict__))
            self._startPage()

        def save(self):
            for place, state in enumerate(self._held, start=1):
                self.__dict__.update(state)
                _furniture(self, number, title, footer, place, len(self._held))
                if mark:
                    _across(self, mark)
                super().showPage()
            super().save()

    return NumberedCanvas


def _furniture(canvas, number, title, footer, place, total):
    left, right, top = look.MARGIN, look.PAGE[0] - look.MARGIN, look.PAGE[1] - 14 * look.mm
    canvas.saveState()
    canvas.setFillColor(look.QUIET)
    canvas.setStrokeColor(look.LINE)
    canvas.setLineWidth(0.5)
    canvas.setFont(look.BOLD, 8)
    canvas.drawString(left, top, one_line(number))
    canvas.setFont(look.REGULAR, 8)
    canvas.drawRightString(right, top, title)
    canvas.line(left, top - 4, right, top - 4)
    canvas.line(left, 15 * look.mm, right, 15 * look.mm)
    canvas.drawString(left, 11 * look.mm, _fitting(canvas, one_line(footer), right - left - 80))
    canvas.drawRightString(right, 11 * look.mm, f"page {place} of {total}")
    canvas.restoreState()


def _across(canvas, mark):
    """Large and see-through from corner to corner, over whatever the page shows."""
    width, height = look.PAGE
    canvas.saveState()
    canvas.setFillColor(look.LIMIT, alpha=0.16)
    canvas.translate(width / 2, height / 2)
    canvas.rotate(math.degrees(math.atan2(height, width)))
    size = 0.8 * math.hypot(width, height) / canvas.stringWidth(mark, look.BOLD, 1)
    canvas.setFont(look.BOLD, size)
    canvas.drawCentredString(0, -size / 3, mark)
    canvas.restoreState()


def _fitting(canvas, text, width):
    while text and canvas.stringWidth(text, look.REGULAR, 8) > width:
        text = text[:-2].rstrip("…") + "…"
    return text


def _stamp(epoch):
    stamp = TimeStamp(invariant=1)
    stamp.t, stamp.lt = epoch, time.gmtime(epoch)
    stamp.YMDhms = tuple(stamp.lt)[:6]
    return stamp
