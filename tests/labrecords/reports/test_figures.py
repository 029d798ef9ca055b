"""Figures: what is drawn, not how it looks; the SVG is well-formed and free of markup from data."""

from itertools import pairwise
from xml.etree import ElementTree

import pytest
from reportlab.graphics.shapes import Circle, Line, Polygon, String

from analysis import QUANTITIES
from labrecords.reports import figures
from labrecords.reports.axes import nice_ticks
from labrecords.reports.svg import to_svg

SVG = "{http://www.w3.org/2000/svg}"
COUPONS = [
    {"name": "A01", "role": "treated", "values": [(3.5, "measured", False), (5.7, "measured", True)], "centre": 4.0},
    {"name": "B03", "role": "treated", "values": [(30.0, "not_moved", False), (None, "lost", False)], "centre": "inf"},
]


def parsed(svg):
    return ElementTree.fromstring(svg)  # noqa: S314  our own text


def drawing(**details):
    return figures.readings_by_coupon("C2", "sliding_angle", COUPONS, **{"limit": 8, "side": "at_most"} | details)


def of_kind(figure, kind):
    return [shape for shape in figure.contents if isinstance(shape, kind)]


def written(figure):
    return " | ".join(shape.text for shape in of_kind(figure, String))


@pytest.mark.parametrize(
    ("low", "high"), [(0, 1), (0.3, 9.1), (-5, 5), (111.2, 114.1), (0, 1e-6), (3, 3), (0, 0), (1e5, 3e8)]
)
def test_ticks_are_round_evenly_spaced_and_enclose_the_values(low, high):
    ticks = nice_ticks(low, high)
    steps = {round((b - a) / (ticks[1] - ticks[0]), 6) for a, b in pairwise(ticks)}
    mantissa = float(f"{ticks[1] - ticks[0]:e}".split("e")[0])
    assert steps == {1.0}
    assert mantissa in (1.0, 2.0, 5.0)
    # exact up to the rounding of the ticks to twelve places
    assert ticks[0] <= low + 1e-9
    assert ticks[-1] >= high - 1e-9
    assert 2 <= len(ticks) <= 12


def test_each_reading_is_drawn_once_and_a_lost_one_not_at_all():
    figure = drawing()
    assert len(of_kind(figure, Circle)) == 2  # hand: two measured readings
    assert len(of_kind(figure, Polygon)) == 1  # hand: one that did not move; the lost one has no place


def test_an_excluded_reading_is_hollow_and_the_one_not_moved_points_up():
    hollow = [shape for shape in of_kind(drawing(), Circle) if shape.fillColor.hexval() == "0xffffff"]
    arrow = of_kind(drawing(), Polygon)[0]
    heights = arrow.points[1::2]
    assert len(hollow) == 1
    assert "excluded" in hollow[0]._tip
    assert max(heights) == heights[2]
    assert "not moved" in arrow._tip


def test_values_lie_on_the_axis_in_proportion():
    figure = figures.readings_by_coupon(
        "x",
        "sliding_angle",
        [
            {
                "name": "A",
                "role": "treated",
                "values": [(0.0, "measured", False), (5.0, "measured", False), (10.0, "measured", False)],
                "centre": None,
            }
        ],
    )
    low, middle, high = (shape.cy for shape in of_kind(figure, Circle))
    assert middle == pytest.approx((low + high) / 2)  # hand: 5 is half-way between 0 and 10


def test_limit_line_is_dashed_and_says_side_and_unit():
    dashed = [line for line in of_kind(drawing(), Line) if line.strokeDashArray == [4, 2]]
    assert len(dashed) == 1
    assert "limit at most 8°" in written(drawing())


def test_labels_come_from_the_quantity():
    turned = [shape for group in drawing().contents if hasattr(group, "contents") for shape in group.contents]
    assert QUANTITIES["sliding_angle"].label in {shape.text for shape in turned}


def test_a_mean_beyond_the_stage_limit_draws_no_line():
    assert "mean" not in written(drawing(mean="inf", low=None, high=None))
    assert "mean 4.5" in written(drawing(mean=4.5, low=3.0, high=6.0))


def test_two_level_lines_at_nearly_the_same_place_keep_their_words_apart():
    figure = drawing(mean=8.05, low=7.0, high=9.0)
    at = [shape.y for shape in of_kind(figure, String) if shape.text.startswith(("mean", "limit"))]
    assert abs(at[0] - at[1]) >= 7


@pytest.mark.parametrize(
    "readings", [[], [{"quantity": "sliding_angle", "value": None, "qualifier": "lost", "position": "1", "drop": 1}]]
)
def test_a_run_without_values_still_gives_a_figure(readings):
    assert "<svg" in to_svg(figures.run_readings({}, readings), "empty")


def test_both_angles_of_a_pair_are_drawn_with_different_marks():
    rows = [
        {"quantity": quantity, "value": value, "qualifier": "measured", "position": "1", "drop": 1, "excluded": False}
        for quantity, value in (("advancing_angle", 113.1), ("receding_angle", 111.3))
    ]
    content = {"statistics": [{"key": "advancing_angle_mean", "value": 113.1, "decimals": 1}]}
    svg = to_svg(figures.run_readings(content, rows), "run")
    assert "θa, position 1, drop 1: 113.1 °" in svg
    assert "mean 113.1" in svg
    assert svg.count("<circle") == 1


def test_course_over_a_dose_joins_the_points_of_each_coupon():
    courses = [
        {"name": name, "role": "treated", "points": [(0, 100.0), (60, value)]} for name, value in (("A", 92), ("B", 85))
    ]
    root = parsed(to_svg(figures.dose_course("Oil", "retained_share", "rinse [min]", courses, 80, "at_least"), "x"))
    assert len(root.findall(f".//{SVG}polyline")) == 2
    assert "fresh" in "".join(root.itertext())


def test_svg_needs_no_style_no_script_and_no_ids():
    svg = to_svg(drawing(mean=4.5, low=3, high=6), "Sliding angle")
    root = parsed(svg)
    names = {name for element in root.iter() for name in element.attrib}
    assert names.isdisjoint({"style", "id", "class", "onload"})
    assert root.find(f"{SVG}title").text == "Sliding angle"
    assert root.attrib["role"] == "group"
    assert "stroke-dasharray" in names


def test_hostile_names_print_as_typed_and_never_become_markup():
    name = "<script>alert(1)</script>&\"'"
    coupons = [COUPONS[0] | {"name": name}]
    svg = to_svg(figures.readings_by_coupon(name, "sliding_angle", coupons), name)
    root = parsed(svg)
    assert not root.findall(f".//{SVG}script")
    assert name in "".join(root.itertext())


def test_a_turned_label_lands_where_the_drawing_has_it():
    """hand: a group moved to (10, 20) and turned by 90° puts (3, 0) at (10, 23); in SVG y counts from the top."""
    from reportlab.graphics.shapes import Drawing, Group

    figure, group = Drawing(100, 50), Group(Circle(3, 0, 1))
    group.translate(10, 20)
    group.rotate(90)
    figure.add(group)
    root = parsed(to_svg(figure, "x"))
    matrix = [float(part) for part in root.find(f"{SVG}g").attrib["transform"][7:-1].split()]
    circle = root.find(f".//{SVG}circle")
    x, y = float(circle.attrib["cx"]), float(circle.attrib["cy"])
    a, b, c, d, e, f = matrix
    assert (a * x + c * y + e, b * x + d * y + f) == pytest.approx((10, 50 - 23), abs=0.01)


def test_same_figure_gives_the_same_text():
    assert to_svg(drawing(), "x") == to_svg(drawing(), "x")
