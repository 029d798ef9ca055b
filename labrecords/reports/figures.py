"""Figures, each built once as a Drawing: vectors in the PDF, SVG on the page."""

from __future__ import annotations

import math

from reportlab.graphics.shapes import Drawing, PolyLine
from reportlab.pdfbase.pdfmetrics import stringWidth

from analysis import LOST, MEASURED, NOT_MOVED, QUANTITIES, TREATED
from labrecords.reports import look
from labrecords.reports.axes import RIGHT, SIZE, Plot

SIDES = {"at_most": "at most", "at_least": "at least"}


def readings_by_coupon(
    title: str,
    quantity: str,
    coupons: list[dict],
    limit=None,
    side=None,
    mean=None,
    low=None,
    high=None,
    width: float = look.WIDTH,
    height: float = 190,
) -> Drawing:
    """Every reading over its coupon in drop order, the coupon's value as a bar, the batch mean, the limit.

    `coupons`: dicts with name, role, values [(value, qualifier, excluded)] and centre (None: not finite).
    """
    known = QUANTITIES[quantity]
    mean, low, high = _finite(mean), _finite(low), _finite(high)
    shown = [value for item in coupons for value, qualifier, _ in item["values"] if qualifier != LOST]
    plot = Plot(title, known.label, [*shown, *(limit, mean, low, high)], width, height, _bottom(coupons, width))
    if low is not None and high is not None:
        plot.band(low, high)
    if mean is not None:
        plot.level(mean, f"mean {mean:.{known.decimals}f}", look.INK, width=0.7)
    for index, item in enumerate(coupons):
        _coupon(plot, item, index, len(coupons), known)
    if limit is not None:
        plot.level(limit, _limit(side, limit, known), look.LIMIT, dash=[4, 2])
    plot.names([_name(item) for item in coupons])
    return plot.drawing


def run_readings(result_content: dict, readings: list[dict], width: float = 460, height: float = 170) -> Drawing:
    """The values of one run in the order of its drops; a pair's two angles as dots and squares.

    `readings`: dicts with quantity, value, qualifier, position, drop and excluded.
    """
    there = [row for row in readings if row["value"] is not None and row["qualifier"] != LOST]
    quantities = list(dict.fromkeys(row["quantity"] for row in there)) or ["sliding_angle"]
    quantities = [key for key in quantities if QUANTITIES[key].unit == QUANTITIES[quantities[0]].unit]
    places = list(dict.fromkeys((row["position"], row["drop"]) for row in readings)) or [("1", 1)]
    label = " and ".join(QUANTITIES[key].symbol for key in quantities) if len(quantities) > 1 else ""
    unit = QUANTITIES[quantities[0]].unit
    label = f"{label} [{unit}]" if label else QUANTITIES[quantities[0]].label
    plot = Plot("Readings in the order of the drops", label, [row["value"] for row in there], width, height)
    _centres(plot, result_content, quantities)
    for row in there:
        if row["quantity"] in quantities:
            _drop(plot, row, quantities.index(row["quantity"]), places)
    plot.names(_place_names(places))
    return plot.drawing


def dose_course(
    title: str,
    quantity: str,
    dose_label: str,
    courses: list[dict],
    limit=None,
    side=None,
    width: float = look.WIDTH,
    height: float = 170,
) -> Drawing:
    """Each coupon's value over the dose of its exposure, one line a coupon.

    `courses`: dicts with name, role and points [(dose, value)]; a value that is not finite breaks the line.
    """
    known = QUANTITIES[quantity]
    points = [(dose, _finite(value)) for item in courses for dose, value in item["points"]]
    doses = [dose for dose, _ in points] or [0.0]
    plot = Plot(title, known.label, [*(value for _, value in points), limit], width, height)
    span = (max(doses) - min(doses)) or 1.0

    def at(dose):
        return plot.x(0.04 + 0.88 * (dose - min(doses)) / span)

    for dose in sorted(set(doses)):
        plot.line(at(dose), plot.bottom, at(dose), plot.bottom - 3)
        plot.text(at(dose), plot.bottom - 11, f"{dose:g}" if dose else "fresh", "middle")
    plot.text((plot.left + plot.right) / 2, 4, dose_label, "middle")
    _name_ends(plot, {item["name"]: _course(plot, item, at, known) for item in courses})
    if limit is not None:
        plot.level(limit, _limit(side, limit, known), look.LIMIT, dash=[4, 2])
    return plot.drawing


def _coupon(plot, item, index, count, known):
    color = look.OF_ROLE.get(item.get("role"), look.MARK)
    centre = _finite(item.get("centre"))
    if centre is not None:
        y = plot.y(centre)
        # Under the dots and wider than they reach, so that neither hides the other.
        plot.line(plot.x((index + 0.08) / count), y, plot.x((index + 0.92) / count), y, look.INK, 1.8)
    values = item["values"]
    size = 2.1 if len(values) <= 15 else 1.5
    for place, (value, qualifier, excluded) in enumerate(values):
        if value is None or qualifier == LOST:
            continue
        share = (index + 0.2 + 0.6 * (place + 0.5) / len(values)) / count
        words = f"> {value:g}{known.unit}, not moved" if qualifier == NOT_MOVED else f"{value:g} {known.unit}"
        tip = f"{item['name']}, drop {place + 1}: {words}{', excluded' if excluded else ''}"
        plot.mark(plot.x(share), value, qualifier, excluded, color, tip=tip, size=size)


def _centres(plot, content, quantities):
    """The run's own mean or median of what is drawn, where it is finite."""
    for quantity in quantities:
        for name in ("mean", "median"):
            found = [row for row in (content or {}).get("statistics", ()) if row["key"] == f"{quantity}_{name}"]
            value = _finite(found[0]["value"]) if found else None
            if value is not None:
                words = f"{name} {value:.{found[0]['decimals']}f}"
                plot.level(value, words, look.QUIET, dash=[2, 2], width=0.8)
                break


def _drop(plot, row, series, places):
    share = (places.index((row["position"], row["drop"])) + 0.5) / len(places)
    known = QUANTITIES[row["quantity"]]
    excluded = bool(row.get("excluded"))
    note = "" if row["qualifier"] == MEASURED else f", {row['qualifier'].replace('_', ' ')}"
    tip = f"{known.symbol}, position {row['position']}, drop {row['drop']}: {row['value']:g} {known.unit}{note}"
    shape = "square" if series else "circle"
    plot.mark(plot.x(share), row["value"], row["qualifier"], excluded, shape=shape, tip=tip)


def _place_names(places):
    several = len({position for position, _ in places}) > 1
    every = math.ceil(len(places) / 24)
    names = [f"{position}·{drop}" if several else str(drop) for position, drop in places]
    return [name if index % every == 0 else "" for index, name in enumerate(names)]


def _course(plot, item, at, known):
    """One coupon's line; gives back where its last point lies."""
    color = look.OF_ROLE.get(item.get("role"), look.MARK)
    line = [(at(dose), plot.y(value)) for dose, value in item["points"] if _finite(value) is not None]
    if len(line) > 1:
        flat = [number for point in line for number in point]
        plot.add(PolyLine(flat, strokeColor=color, strokeWidth=0.9))
    for dose, value in item["points"]:
        if _finite(value) is not None:
            tip = f"{item['name']}, dose {dose:g}: {value:.{known.decimals}f} {known.unit}"
            plot.mark(at(dose), value, color=color, tip=tip)
    return line[-1] if line else None


def _name_ends(plot, ends):
    """The coupons' names beside their last points, from below upwards, none on top of another."""
    free = -1e9
    for name, (x, y) in sorted(((name, end) for name, end in ends.items() if end), key=lambda item: item[1][1]):
        free = max(free + SIZE, y - 2.5)
        plot.text(x + 5, free, name)


def _name(item):
    role = item.get("role")
    return item["name"] if role in (None, TREATED) else f"{item['name']} ({role})"


def _bottom(coupons, width):
    """Room for the names: more where they have to stand at a slant."""
    slot = (width - RIGHT - 42) / max(len(coupons), 1)
    widest = max((stringWidth(_name(item), look.REGULAR, SIZE) for item in coupons), default=0)
    return 18 if widest <= slot - 2 else 16 + 0.65 * min(widest, 110)


def _limit(side, limit, known):
    return f"limit {SIDES.get(side, '')} {limit:g}{'' if known.unit == '°' else ' '}{known.unit}".replace("  ", " ")


def _finite(value):
    if value is None or isinstance(value, str) or not math.isfinite(value):
        return None
    return value
