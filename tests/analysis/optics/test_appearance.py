"""Names of colours, and the order in which a growing oxide film on titanium shows them."""

from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.optics import (
    AMORPHOUS_TITANIA,
    TITANIUM,
    chroma,
    colour_name,
    colour_sequence,
    film_colour,
    hue_angle_deg,
)

PAIR = AMORPHOUS_TITANIA, TITANIUM


def test_a_growing_film_on_titanium_passes_from_yellowish_to_blue():
    """Common practice: the tint is yellow first (b* above 0), blue at about 50 nm (b* far below 0)."""
    blueness = film_colour(np.array([10.0, 20, 30, 48, 50, 60]), *PAIR).lab[:, 2]
    assert (blueness[:3] > 10).all()
    assert (blueness[3:5] < -40).all()
    assert blueness[5] < -20


def test_order_of_the_colours_of_titanium():
    """Common practice (finishers): gold, purple, blue, light blue, pale, yellow, pink, violet, green."""
    names = [span.name for span in colour_sequence(*PAIR, high_nm=200)]
    order = ["yellowish", "yellow", "dark purple", "blue", "light blue", "greenish", "light yellow", "pink"]
    order += ["violet", "light green"]
    place = -1
    for name in order:
        place = names.index(name, place + 1)  # raises when the name does not follow
    assert place < len(names)


@pytest.mark.parametrize(
    ("thickness", "name"),
    [
        # Published names of anodic films on Ti-6Al-4V (Int. J. Biomaterials 2015, 395657): blue, green, pink-yellow.
        (48, "blue"),
        (92, "greenish"),  # weak agreement: computed a pale tint; alloy and index differ
        (130, "pink"),
    ],
)
def test_published_colours_of_anodic_films(thickness, name):
    assert colour_name(film_colour(thickness, *PAIR).lab) == name


def test_bare_titanium_is_grey():
    """Common practice."""
    assert colour_sequence(*PAIR)[0].name == "light grey"


def test_spans_join_and_cover_the_range():
    spans = colour_sequence(*PAIR, low_nm=5, high_nm=100.5)
    assert spans[0].from_nm == 5
    assert spans[-1].to_nm == 100.5
    assert all(one.to_nm == after.from_nm for one, after in pairwise(spans))
    assert all(one.name != after.name for one, after in pairwise(spans))


def test_a_film_that_cannot_be_seen_has_one_colour():
    """Limit."""
    (span,) = colour_sequence(1.5, 1.5)
    assert (span.from_nm, span.to_nm) == (0, 200)


@pytest.mark.parametrize(
    ("lab", "hue", "vividness"),
    [
        ([50, 10, 0], 0, 10),
        ([50, 0, 10], 90, 10),
        ([50, -10, 0], 180, 10),
        ([50, 0, -10], 270, 10),
        ([50, 3, -4], 306.869898, 5),
        ([50, 0, 0], 0, 0),
        ([50, 10, -1e-300], 0, 10),  # a hair below 0 is 0, not 360
    ],
)
def test_hue_and_chroma(lab, hue, vividness):
    """Hand."""
    assert_allclose(hue_angle_deg(lab), hue, atol=1e-6)
    assert_allclose(chroma(lab), vividness)


@pytest.mark.parametrize(
    ("lab", "name"),
    [
        # From memory: colours that everyone names alike (sRGB's corners in L*a*b*).
        ([53.24, 80.09, 67.20], "red"),
        ([87.73, -86.18, 83.18], "light green"),
        ([97.14, -21.55, 94.48], "light yellow"),
        ([32.30, 79.19, -107.86], "dark violet"),
        ([50, 0, 0], "grey"),
        ([100, 0, 0], "light grey"),
        ([10, 1, 1], "dark grey"),
        ([50, 0, -10], "bluish"),
    ],
)
def test_names(lab, name):
    assert colour_name(lab) == name


def test_names_of_many_colours():
    found = colour_name([[[50, 0, -40], [np.nan, 0, 0]]])
    assert found.shape == (1, 2)
    assert found.tolist() == [["blue", ""]]


@pytest.mark.parametrize("ends", [(-1, 100), (100, 100), (0, 1001), (np.nan, 100)])
def test_a_range_without_sense_is_refused(ends):
    with pytest.raises(ValueError, match="thickness"):
        colour_sequence(*PAIR, low_nm=ends[0], high_nm=ends[1])


@pytest.mark.parametrize("last", [*range(5, 60), 16.2, 30.0000000001])
def test_no_colour_has_a_span_without_length(last):
    """A colour that would begin at the last thickness is not seen any more."""
    spans = colour_sequence(*PAIR, high_nm=float(last))
    assert all(span.from_nm < span.to_nm for span in spans)
    assert spans[-1].to_nm == last
