"""Ranges of arguments: what is refused, in which words, and what comes back."""

import math

import numpy as np
import pytest

from analysis.ranges import plain, within


@pytest.mark.parametrize(
    ("value", "limits", "words"),
    [
        (0, {"above": 0}, "volume must be above 0 uL, not 0 uL"),
        ([1, -2], {"at_least": 0}, "volume must be at least 0 uL, not -2 uL"),
        ([[1.0], [9.5]], {"at_most": 9}, "volume must be at most 9 uL, not 9.5 uL"),
        (9, {"below": 9}, "volume must be below 9 uL, not 9 uL"),
        (math.inf, {}, "volume must be a finite number, not inf uL"),
        (math.nan, {"has_nan": False}, "volume must be a finite number, not nan uL"),
    ],
)
def test_a_refusal_names_quantity_value_and_limit(value, limits, words):
    with pytest.raises(ValueError) as refusal:
        within("volume", value, "uL", **limits)
    assert str(refusal.value) == words


def test_what_lies_in_the_range_keeps_its_shape_and_its_nan():
    found = within("volume", [[1, math.nan]], "uL", above=0, at_most=1)
    assert found.shape == (1, 2)
    assert np.isnan(found[0, 1])
    assert within("volume", [], above=0).shape == (0,)


def test_a_single_number_comes_out_plain():
    assert type(plain(np.float64(2.5))) is float
    assert plain(np.array([2.5])).shape == (1,)
