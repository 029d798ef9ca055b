"""Cross-cut classes at their limits, and the warnings where the standard excludes the coupon."""

import math

import pytest

from analysis.measures import cross_cut, cross_cut_class


@pytest.mark.parametrize(
    ("lost", "found"),
    [  # read in a test-tool manual that quotes ISO 2409: 0 to 3
        (0, 0), (0.01, 1), (5, 1), (5.01, 2), (15, 2), (15.01, 3), (35, 3),
        # from memory: 4 and 5
        (35.01, 4), (65, 4), (65.01, 5), (100, 5),
    ],
)  # fmt: skip
def test_classes(lost, found):
    assert cross_cut_class(lost) == found
    assert type(cross_cut_class(lost)) is int


def test_arrays_keep_their_shape():
    assert cross_cut_class([[0, 10], [20, 80]]).tolist() == [[0, 2], [3, 5]]
    assert cross_cut_class([]).shape == (0,)


@pytest.mark.parametrize(("lost", "tape"), [(0, "5B"), (5, "4B"), (15, "3B"), (35, "2B"), (65, "1B"), (66, "0B")])
def test_counterpart_in_the_tape_test(lost, tape):
    # read in the same manual up to class 3; 4 and 5 from memory
    assert cross_cut(lost, is_textured=False).tape_class == tape


def test_the_worst_place_counts():
    found = cross_cut([0, 4, 10], is_textured=False, thickness_um=250)
    assert (found.classes, found.worst) == ((0, 1, 2), 2)
    assert "above 5 to 15 %" in found.meaning
    assert found.warnings == ("places differ by more than one class: test three more places and report all",)
    assert not found.is_covered


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"is_textured": True}, "excludes textured coatings"),
        ({"is_textured": False, "thickness_um": 250.1}, "above 250 µm"),
        ({"is_textured": False, "is_infused": True}, "lubricant"),
        ({"is_textured": False, "reached_substrate": False}, "invalid"),
    ],
)
def test_what_the_standard_excludes_is_warned_of(facts, words):
    found = cross_cut([0, 0], **facts)
    assert any(words in warning for warning in found.warnings)
    assert not found.is_covered


def test_a_smooth_thin_coating_is_covered():
    found = cross_cut([0, 5, 0], is_textured=False, thickness_um=80)
    assert found.warnings == ()
    assert found.is_covered


@pytest.mark.parametrize("bad", [-0.1, 100.1, math.nan, math.inf, [], [0, math.nan]])
def test_impossible_shares_are_refused(bad):
    with pytest.raises(ValueError):
        cross_cut(bad, is_textured=False)


def test_an_impossible_thickness_is_refused():
    with pytest.raises(ValueError, match="thickness"):
        cross_cut(0, is_textured=False, thickness_um=-1)
