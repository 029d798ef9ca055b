"""A Drawing as SVG for a page: presentation attributes only, as a strict content policy demands."""

from __future__ import annotations

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from reportlab.graphics.shapes import Circle, Group, Line, Polygon, PolyLine, Rect, String

from labrecords.reports import look


def to_svg(drawing, title: str, description: str = "") -> SafeString:
    """The drawing as inline SVG that scales to its place; text stays text, each mark keeps its words."""
    width, height = _number(drawing.width), _number(drawing.height)
    about = f"<title>{escape(title)}</title>" + (f"<desc>{escape(description)}</desc>" if description else "")
    inside = "".join(_shape(shape, drawing.height) for shape in drawing.contents)
    paper = f'<rect width="{width}" height="{height}" fill="{_color(look.PAPER)}"/>'
    return mark_safe(  # noqa: S308  every text and attribute below is escaped
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="group" '
        f'aria-label="{escape(title)}" font-family="sans-serif">{about}{paper}{inside}</svg>'
    )


def _shape(shape, height):
    write = _WRITERS.get(type(shape))
    if write is None:
        raise TypeError(f"no SVG for {type(shape).__name__}")
    return write(shape, height)


def _element(tag, shape, attributes, inside=""):
    tip = getattr(shape, "_tip", "")
    if tip:
        attributes |= {"role": "img", "aria-label": tip}
        inside = f"<title>{escape(tip)}</title>{inside}"
    written = "".join(f' {name}="{escape(str(value))}"' for name, value in attributes.items())
    return f"<{tag}{written}>{inside}</{tag}>" if inside else f"<{tag}{written}/>"


def _paint(shape, filled=True):
    paint = {"fill": _color(shape.fillColor) if filled else "none", "stroke": _color(shape.strokeColor)}
    if shape.strokeColor is not None:
        paint["stroke-width"] = _number(shape.strokeWidth)
        if shape.strokeDashArray:
            paint["stroke-dasharray"] = " ".join(_number(part) for part in shape.strokeDashArray)
    return paint


def _line(shape, height):
    ends = {"x1": shape.x1, "y1": height - shape.y1, "x2": shape.x2, "y2": height - shape.y2}
    return _element("line", shape, {key: _number(value) for key, value in ends.items()} | _paint(shape, filled=False))


def _rect(shape, height):
    box = {"x": shape.x, "y": height - shape.y - shape.height, "width": shape.width, "height": shape.height}
    return _element("rect", shape, {key: _number(value) for key, value in box.items()} | _paint(shape))


def _circle(shape, height):
    box = {"cx": shape.cx, "cy": height - shape.cy, "r": shape.r}
    return _element("circle", shape, {key: _number(value) for key, value in box.items()} | _paint(shape))


def _points(shape, height):
    pairs = zip(shape.points[::2], shape.points[1::2], strict=True)
    return {"points": " ".join(f"{_number(x)},{_number(height - y)}" for x, y in pairs)}


def _polygon(shape, height):
    return _element("polygon", shape, _points(shape, height) | _paint(shape))


def _polyline(shape, height):
    return _element("polyline", shape, _points(shape, height) | _paint(shape, filled=False))


def _string(shape, height):
    attributes = {
        "x": _number(shape.x),
        "y": _number(height - shape.y),
        "font-size": _number(shape.fontSize),
        "text-anchor": shape.textAnchor,
        "fill": _color(shape.fillColor),
    }
    if shape.fontName == look.BOLD:
        attributes["font-weight"] = "bold"
    return _element("text", shape, attributes, escape(shape.text))


def _group(shape, height):
    """The same turn seen from a plane whose y points down: flip, turn, flip back."""
    a, b, c, d, e, f = shape.transform
    matrix = (a, -b, -c, d, c * height + e, height - d * height - f)
    inside = "".join(_shape(child, height) for child in shape.contents)
    return _element("g", shape, {"transform": f"matrix({' '.join(_number(part) for part in matrix)})"}, inside)


_WRITERS = {
    Line: _line,
    Rect: _rect,
    Circle: _circle,
    Polygon: _polygon,
    PolyLine: _polyline,
    String: _string,
    Group: _group,
}


def _color(color):
    return "none" if color is None else f"#{color.hexval()[2:]}"


def _number(value):
    return f"{value:.3f}".rstrip("0").rstrip(".") if value % 1 else f"{value:.0f}"
