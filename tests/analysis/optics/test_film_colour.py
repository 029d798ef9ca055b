"""Thickness to colour and back: round trips over the whole range, repeated colours, and what fits nothing."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analysis.optics import AMORPHOUS_TITANIA, TITANIUM, colour_difference, film_colour, thicknesses_from_colour
from analysis.optics.film_colour import _dips
from tests.analysis.tables import table

PAIR = AMORPHOUS_TITANIA, TITANIUM
ROWS = table("titania_colours").to_dict("records")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['thickness_nm']}")
def test_back_from_the_tabulated_colour(row):
    """Independent colour (tmm, colour-science, to 2 decimals) back to its thickness."""
    match = thicknesses_from_colour([row["L"], row["a"], row["b"]], *PAIR)
    assert match.is_found
    assert_allclose(match.nearest.thickness_nm, row["thickness_nm"], atol=0.05)
    assert match.nearest.difference < 0.02


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['thickness_nm']}")
def test_back_with_one_index_for_all_wavelengths(row):
    match = thicknesses_from_colour([row["L_constant"], row["a_constant"], row["b_constant"]], 2.4, TITANIUM)
    assert_allclose(match.nearest.thickness_nm, row["thickness_nm"], atol=0.05)


@settings(max_examples=25, deadline=None)  # the first example loads the libraries
@given(st.floats(0, 300))
def test_the_true_thickness_is_always_among_the_candidates(thickness):
    """Limit: round trip."""
    match = thicknesses_from_colour(film_colour(thickness, *PAIR).lab, *PAIR)
    apart = [abs(one.thickness_nm - thickness) for one in match.candidates]
    assert min(apart) < 0.01
    assert all(one.low_nm <= one.thickness_nm <= one.high_nm for one in match.candidates)
    assert all(one.difference <= match.tolerance for one in match.candidates)


def test_colours_repeat_and_all_candidates_are_listed():
    """Common practice: from about one order on, the colours come again. Checked by a search on a finer grid."""
    target = film_colour(500, *PAIR).lab
    match = thicknesses_from_colour(target, *PAIR, high_nm=1000, tolerance=6)
    fine = np.arange(0, 1000.05, 0.1)
    apart = colour_difference(film_colour(fine, *PAIR).lab, target)
    dips = [i for i in range(1, len(fine) - 1) if apart[i - 1] > apart[i] <= apart[i + 1] and apart[i] <= 6]
    assert len(match.candidates) == len(dips) > 2
    assert_allclose(sorted(one.thickness_nm for one in match.candidates), fine[dips], atol=0.1)
    assert [one.difference for one in match.candidates] == sorted(one.difference for one in match.candidates)
    assert not match.is_unique
    assert "colours repeat" in match.note
    assert "500.0 nm (ΔE 0.0)" in match.note


def test_the_range_of_a_candidate_ends_where_the_tolerance_does():
    target = film_colour(130, *PAIR).lab
    one = thicknesses_from_colour(target, *PAIR, tolerance=3).nearest
    assert one.low_nm < 130 < one.high_nm
    edges = film_colour(np.array([one.low_nm, one.high_nm]), *PAIR).lab
    assert_allclose(colour_difference(edges, target), 3, atol=0.02)  # straight between points 0.5 nm apart
    assert_allclose(one.lab, target, atol=1e-3)


def test_a_tight_tolerance_still_finds_its_thickness():
    one = thicknesses_from_colour(film_colour(130.3, *PAIR).lab, *PAIR, tolerance=1e-3).nearest
    assert_allclose(one.thickness_nm, 130.3, atol=1e-3)
    assert one.low_nm < one.thickness_nm < one.high_nm
    assert one.high_nm - one.low_nm < 0.01


@pytest.mark.parametrize("lab", [[50, 80, 60], [95, 0, 0], [30, 0, 0]])
def test_when_none_fits_it_says_so_and_names_the_nearest(lab):
    match = thicknesses_from_colour(lab, *PAIR)
    assert match.candidates == ()
    assert not match.is_found
    assert not match.is_unique
    assert match.nearest.difference > 5
    assert match.note.startswith("No thickness between 0 and 300 nm")


def test_a_search_may_be_narrowed():
    target = film_colour(500, *PAIR).lab
    match = thicknesses_from_colour(target, *PAIR, low_nm=450, high_nm=550, tolerance=2)
    assert match.is_unique
    assert match.note.startswith("One thickness between 450 and 550 nm")
    assert_allclose(match.nearest.thickness_nm, 500, atol=0.01)


@pytest.mark.parametrize("ends", [(0, 300), (48, 100), (10, 48)])
def test_a_thickness_at_the_end_of_the_search_is_found(ends):
    for end in ends:
        match = thicknesses_from_colour(film_colour(end, *PAIR).lab, *PAIR, low_nm=ends[0], high_nm=ends[1])
        assert_allclose(match.nearest.thickness_nm, end, atol=1e-3)


def test_a_film_that_cannot_be_seen_tells_no_thickness():
    """Limit: a film like its substrate."""
    match = thicknesses_from_colour(film_colour(100, 1.5, 1.5).lab, 1.5, 1.5)
    assert (match.nearest.low_nm, match.nearest.high_nm) == (0, 300)
    assert match.note.startswith("Every thickness")


def test_the_other_rule_may_be_asked_for():
    lighter = film_colour(60, *PAIR).lab + np.array([1, 0, 0])
    match = thicknesses_from_colour(lighter, *PAIR, rule="CIE 1976")
    assert match.rule == "CIE 1976"
    assert match.nearest.difference <= 1


def test_under_water_the_same_film_has_another_colour():
    dry, wet = film_colour(48, *PAIR), film_colour(48, *PAIR, ambient=1.333)
    assert colour_difference(dry.lab, wet.lab) > 5


def test_a_row_of_thicknesses_keeps_its_shape_and_its_nan():
    found = film_colour([[48, np.nan]], *PAIR)
    assert found.lab.shape == (1, 2, 3)
    assert_allclose(found.lab[0, 0], [43.01, 6.14, -43.65], atol=6e-3)
    assert np.isnan(found.lab[0, 1]).all()
    assert film_colour([], *PAIR).lab.shape == (0, 3)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: film_colour(-1, *PAIR), "film thickness must be at least 0 nm, not -1 nm"),
        (lambda: film_colour(1001, *PAIR), "film thickness must be at most 1000"),
        (lambda: thicknesses_from_colour([50, np.nan, 0], *PAIR), "must be a finite number"),
        (lambda: thicknesses_from_colour([[50, 0, 0]], *PAIR), "one colour"),
        (lambda: thicknesses_from_colour([50, 0, 0], *PAIR, tolerance=0), "tolerance must be above 0"),
        (lambda: thicknesses_from_colour([50, 0, 0], *PAIR, low_nm=9, high_nm=9), "highest thickness must be above 9"),
        (lambda: thicknesses_from_colour([50, 0, 0], *PAIR, high_nm=2000), "highest thickness must be at most 1000"),
        (lambda: thicknesses_from_colour([50, 0, 0], *PAIR, rule="mine"), "rule of a colour difference"),
        (
            lambda: thicknesses_from_colour([50, 0, 0], float("nan"), 1.5),
            "colour difference from the optical constants",
        ),
    ],
)
def test_what_is_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_an_opaque_film_has_no_thickness_of_its_own():
    """Common practice: where no light comes back from the substrate, ripples of 1e-9 ΔE are no candidates."""
    dark = 2.5 + 2j, 3.9 + 0.02j
    match = thicknesses_from_colour(film_colour(500, *dark).lab, *dark, high_nm=1000)
    assert match.note.startswith("Every thickness between 0 and 1000 nm fits")
    assert len(match.candidates) < 4
    thin = thicknesses_from_colour(film_colour(75, *dark).lab, *dark, high_nm=1000)
    assert_allclose(thin.nearest.thickness_nm, 75, atol=0.01)
    assert len(thin.candidates) < 6
    assert f"Every thickness from {thin.nearest.low_nm:.1f} to 1000.0 nm fits." in thin.note


@pytest.mark.parametrize("thickness", [20.0, 75, 140, 260])
def test_an_absorbing_film_comes_back(thickness):
    """Limit: round trip on a film that absorbs a little."""
    grey = 2.2 + 0.15j, 3.9 + 0.02j
    match = thicknesses_from_colour(film_colour(thickness, *grey).lab, *grey)
    assert_allclose(match.nearest.thickness_nm, thickness, atol=0.01)


@pytest.mark.parametrize(
    ("differences", "places"),
    [
        ([3, 2, 2, 1, 1, 0, 4], [5]),  # steps on the way down are no dips
        ([0, 1, 2, 1, 0], [0, 4]),
        ([5, 1, 1.0002, 1.0001, 5], [1]),  # hardly anything between the two
        ([5, 1, 1.01, 1.005, 5], [1, 3]),
        ([5, 1, 1, 1, 5], [2]),
        ([2, 2, 2], [1]),
        ([1, 2, 3], [0]),
    ],
)
def test_dips(differences, places):
    """Hand."""
    assert _dips(np.array(differences, dtype=float)).tolist() == places
