"""The look that every document and figure shares: fonts, colours, paragraph and table styles."""

import font_roboto
from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD = "Roboto", "Roboto-Bold"
pdfmetrics.registerFont(TTFont(REGULAR, font_roboto.Roboto))
pdfmetrics.registerFont(TTFont(BOLD, font_roboto.RobotoBold))
pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)
# Defaults that reportlab falls back on: without this a font that is not embedded stays referenced.
rl_config.canvas_basefontname = rl_config.defaultGraphicsFontName = REGULAR
GLYPHS = frozenset(pdfmetrics.getFont(REGULAR).face.charToGlyph)

# Told apart in black and white by lightness, and by people who confuse red and green.
INK = HexColor("#16232e")
QUIET = HexColor("#5b6872")
LINE = HexColor("#aab4bb")
TINT = HexColor("#edf1f3")
MARK = HexColor("#0f5c73")  # values
BAND = HexColor("#cfe3ea")  # interval of a mean
LIMIT = HexColor("#a8410f")  # limits
PAPER = HexColor("#ffffff")
OF_ROLE = {"treated": MARK, "control": HexColor("#6b5b2e"), "reference": HexColor("#6a6f75")}

PAGE = A4
MARGIN = 18 * mm
WIDTH = PAGE[0] - 2 * MARGIN

_BODY = ParagraphStyle("body", fontName=REGULAR, fontSize=8.6, leading=11.6, textColor=INK, bulletFontName=REGULAR)
STYLES = {
    "body": _BODY,
    "title": ParagraphStyle("title", _BODY, fontName=BOLD, fontSize=17, leading=21, spaceAfter=2),
    "subtitle": ParagraphStyle("subtitle", _BODY, fontSize=10.5, leading=14, textColor=QUIET, spaceAfter=7),
    "heading": ParagraphStyle(
        "heading",
        _BODY,
        fontName=BOLD,
        fontSize=11.5,
        leading=14,
        spaceBefore=11,
        spaceAfter=4,
        textColor=MARK,
    ),
    "subheading": ParagraphStyle(
        "subheading", _BODY, fontName=BOLD, fontSize=9, leading=12, spaceBefore=6, spaceAfter=2
    ),
    "verdict": ParagraphStyle("verdict", _BODY, fontName=BOLD, fontSize=13, leading=17),
    "note": ParagraphStyle("note", _BODY, fontSize=7.6, leading=10, textColor=QUIET, spaceBefore=2, spaceAfter=3),
    "item": ParagraphStyle("item", _BODY, leftIndent=9, bulletIndent=0, spaceAfter=1.5),
    "cell": ParagraphStyle("cell", _BODY, fontSize=7.8, leading=10),
    "strong": ParagraphStyle("strong", _BODY, fontName=BOLD, fontSize=7.8, leading=10),
    "formula": ParagraphStyle("formula", _BODY, fontSize=9.4, leading=13, leftIndent=9, spaceBefore=1, spaceAfter=2),
    "end": ParagraphStyle("end", _BODY, fontName=BOLD, alignment=1, spaceBefore=10),
}

TABLE = [
    ("FONT", (0, 0), (-1, -1), REGULAR, 7.8, 10),
    ("TEXTCOLOR", (0, 0), (-1, -1), INK),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LINEBELOW", (0, 0), (-1, -1), 0.3, LINE),
    ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ("TOPPADDING", (0, 0), (-1, -1), 2),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
]
HEADED = [
    ("BACKGROUND", (0, 0), (-1, 0), TINT),
    ("FONT", (0, 0), (-1, 0), BOLD, 7.8, 10),
    ("LINEABOVE", (0, 0), (-1, 0), 0.8, INK),
    ("LINEBELOW", (0, 0), (-1, 0), 0.5, INK),
]
