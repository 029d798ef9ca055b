"""A plot area with one measured axis: round ticks, a frame, marks that tell in black and white."""

from __future__ import annotations

import math

from reportlab.graphics.shapes import Circle, Drawing, Group, Line, Polygon, Rect, String
from reportlab.pdfbase.pdfmetrics import stringWidth

from analysis import MEASURED, NOT_MOVED
from labrecords.reports import look
from labrecords.reports.text import one_line

SIZE = 7
RIGHT = 74.0


def nice_ticks(low: float, high: float, about: int = 6) -> list[float]:
    """Round numbers (1, 2 or 5 times a power of ten) that enclose low to high.

    >>> nice_ticks(0.3, 9.1)
    [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    """
    span = (high - low) or abs(high) or 1.0
    raw = span / max(about - 1, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = power * next(factor for factor in (1, 2, 5, 10) if factor * power >= raw * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(number * step, 12) for number in range(first, max(last, first + 1) + 1)]


class Plot:
    """A drawing with a vertical measured axis; x is a share of the width, 0 to 1."""

    def __init__(self, title: str, label: str, values: list[float], width: float, height: float, bottom: float = 30):
        self.drawing = Drawing(width, height)
        # The words of the level lines stand in the right margin, clear of the marks.
        self.left, self.right, self.bottom, self.top = 42.0, width - RIGHT, bottom, height - 18.0
        self._taken = []
        self.ticks = nice_ticks(*_range(values))
        self.text(2, height - 9, title, bold=True, size=8)
        self._frame(label)

    def add(self, shape, tip: str = ""):
        # Attributes with a leading underscore pass reportlab's own checks; the SVG prints them as <title>.
        if tip:
            shape._tip = one_line(tip)
        self.drawing.add(shape)

    def x(self, share: float) -> float:
        return self.left + share * (self.right - self.left)

    def y(self, value: float) -> float:
        low, high = self.ticks[0], self.ticks[-1]
        return self.bottom + (value - low) / (high - low) * (self.top - self.bottom)

    def text(self, x, y, words, anchor="start", bold=False, size=SIZE, color=look.INK):
        font = look.BOLD if bold else look.REGULAR
        self.add(String(x, y, one_line(words), fontName=font, fontSize=size, textAnchor=anchor, fillColor=color))

    def line(self, x1, y1, x2, y2, color=look.INK, width=0.8, dash=None):
        self.add(Line(x1, y1, x2, y2, strokeColor=color, strokeWidth=width, strokeDashArray=dash))

    def level(self, value: float, words: str, color, dash=None, width=1.0):
        """A line across the plot at a value, with its words beside its right end."""
        y = self.y(value)
        self.line(self.left, y, self.right, y, color, width, dash)
        at = y - 2.5
        while any(abs(at - other) < SIZE + 1 for other in self._taken):
            at += 1 if at >= max(self._taken) else -1
        self._taken.append(at)
        self.text(self.right + 3, at, words, color=color)

    def band(self, low: float, high: float):
        self.add(
            Rect(
                self.left,
                self.y(low),
                self.right - self.left,
                self.y(high) - self.y(low),
                fillColor=look.BAND,
                strokeColor=None,
            )
        )

    def mark(self, x, value, qualifier=MEASURED, excluded=False, color=look.MARK, shape="circle", tip="", size=2.1):
        """A reading: dot or square; open upward arrow where the drop stayed; crossed out where excluded."""
        y, fill = self.y(value), look.PAPER if excluded else color
        if qualifier == NOT_MOVED:
            points = [x - 3.2, y - 2.4, x + 3.2, y - 2.4, x, y + 3.6]
            self.add(Polygon(points, fillColor=look.PAPER, strokeColor=color, strokeWidth=0.9), tip)
        elif shape == "square":
            self.add(Rect(x - 1.9, y - 1.9, 3.8, 3.8, fillColor=fill, strokeColor=color, strokeWidth=0.7), tip)
        else:
            self.add(Circle(x, y, size, fillColor=fill, strokeColor=color, strokeWidth=0.7), tip)
        if excluded:
            self.line(x - 3.2, y - 3.2, x + 3.2, y + 3.2, color, 0.8)
            self.line(x - 3.2, y + 3.2, x + 3.2, y - 3.2, color, 0.8)

    def names(self, names: list[str]):
        """One name under each of the equal slots; slanted where they would touch."""
        slot = (self.right - self.left) / max(len(names), 1)
        slanted = any(stringWidth(name, look.REGULAR, SIZE) > slot - 2 for name in names)
        for index, name in enumerate(names):
            x = self.x((index + 0.5) / len(names))
            if not slanted:
                self.text(x, self.bottom - 10, name, "middle")
                continue
            group = Group(
                String(
                    0,
                    0,
                    one_line(name),
                    fontName=look.REGULAR,
                    fontSize=SIZE,
                    textAnchor="end",
                    fillColor=look.INK,
                )
            )
            group.translate(x + 2, self.bottom - 8)
            group.rotate(40)
            self.add(group)

    def _frame(self, label):
        for tick in self.ticks:
            self.line(self.left, self.y(tick), self.right, self.y(tick), look.TINT, 0.6)
            self.text(self.left - 4, self.y(tick) - 2.5, f"{tick:g}", "end")
        self.line(self.left, self.bottom, self.right, self.bottom)
        self.line(self.left, self.bottom, self.left, self.top)
        turned = Group(
            String(0, 0, label, fontName=look.REGULAR, fontSize=SIZE, textAnchor="middle", fillColor=look.INK)
        )
        turned.translate(9, (self.bottom + self.top) / 2)
        turned.rotate(90)
        self.add(turned)


def _range(values):
    known = [value for value in values if value is not None and math.isfinite(value)] or [0.0, 1.0]
    low, high = min(known), max(known)
    if 0 <= low < 0.5 * high or (low == high and low > 0):
        return 0.0, high  # shown from zero, so that heights compare
    edge = 0.04 * (high - low)
    return low - edge, high + edge
