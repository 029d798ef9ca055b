"""A QR code as inline SVG, drawn on this machine."""

from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.graphics.shapes import Drawing, Rect

from labrecords.reports.svg import to_svg

SIDE = 220


def qr_svg(text, title):
    """The text as a code to scan. Never put it beside anything that is stored: it may hold a secret."""
    widget = QrCodeWidget(text, barWidth=SIDE, barHeight=SIDE, barLevel="M")
    drawing = Drawing(SIDE, SIDE)
    for shape in widget.draw().contents:
        drawing.add(Rect(shape.x, shape.y, shape.width, shape.height, fillColor=shape.fillColor, strokeColor=None))
    return to_svg(drawing, title)
