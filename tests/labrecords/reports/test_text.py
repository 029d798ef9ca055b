"""Stored text as PDF text: what people typed prints as typed, and never becomes markup."""

import ast
from pathlib import Path

import pytest

from labrecords import reports
from labrecords.reports.text import interval, number, paragraph, shown

SOURCES = sorted(Path(reports.__file__).parent.rglob("*.py"))


@pytest.mark.parametrize(
    "typed",
    ["x <script>FAIL</script> y", '<font color="white">FAIL</font>', "theta<b and more", "<b>never closed",
     '<a href="javascript:alert(1)">here</a>', '<img src="/etc/hostname"/>', '<img src="http://example.invalid/x.png"/>',
     "&lt;b&gt; &amp; &#60;", "<unichar code='66'/>", "</para><para>"],
)  # fmt: skip
def test_markup_prints_as_typed(typed):
    assert paragraph(typed).getPlainText() == typed


def test_line_breaks_are_kept():
    lines = paragraph("1 Lane\nTown")
    lines.wrap(400, 400)
    assert len(lines.blPara.lines) == 2


@pytest.mark.parametrize(
    ("typed", "printed"),
    [("a\u202eb", "a[U+202E]b"), ("a\x07b", "a[U+0007]b"), ("→", "[U+2192]"), ("θ ± ≥ ² ⁻ µ", "θ ± ≥ ² ⁻ µ")],
)
def test_what_cannot_be_seen_stands_as_its_code_point(typed, printed):
    assert shown(typed) == printed


def test_numbers_with_units():
    assert number(1.966, 2, "°") == "1.97°"
    assert number(-0.5, 1, "mN/m") == "−0.5 mN/m"
    assert number("inf", 1, "°") == "beyond the stage limit"
    assert number(None) == "–"
    assert interval(1.589, 2.34, 2, "°") == "[1.59, 2.34]°"
    assert interval(None, 2.0) == "–"


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.name)
def test_only_text_py_makes_paragraphs(path):
    """Every stored string reaches the PDF through one place that escapes it."""
    names = {node.id for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Name)}
    assert path.name == "text.py" or "Paragraph" not in names
