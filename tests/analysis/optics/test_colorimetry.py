"""From spectrum to colour against colour-science called another way, published colours, and exact limits."""

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analysis.optics import (
    AMORPHOUS_TITANIA,
    TITANIUM,
    VISIBLE_NM,
    colour_difference,
    film_reflectance,
    lab_colour,
    spectrum_colour,
    xyz_colour,
)
from tests.analysis.tables import table

WAVES = np.array(VISIBLE_NM)
PAIRS = table("ciede2000_pairs").to_dict("records")
LABS = st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100))


def test_a_perfect_reflector_is_the_white_of_d65():
    """From memory (white of D65, 2°: 95.047, 100, 108.883), to the last digit colour-science 0.4.7; limit: L* 100."""
    white = spectrum_colour(np.ones(81))
    assert_allclose(white.xyz, [95.0471, 100, 108.8828], atol=6e-5)
    assert_allclose(white.lab, [100, 0, 0], atol=0.02)  # white of D65 by chromaticity to 4 decimals
    assert white.hex_code == "#ffffff"
    assert white.is_in_srgb is True


def test_black_and_grey():
    """Limit: nothing reflected is black; a grey has no chroma and Y in proportion."""
    black, grey = spectrum_colour([np.zeros(81), np.full(81, 0.184187)]).lab
    assert_allclose(black, 0, atol=1e-12)
    assert_allclose(grey, [50, 0, 0], atol=0.02)  # hand: Y = 18.4187 is L* 50


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("first", "last", "step"), [(380, 780, 5), (380, 780, 10), (400, 700, 10), (360, 830, 1)])
def test_any_spectrum_equals_the_library_called_directly(seed, first, last, step):
    """Independent: colour-science 0.4.7, one spectral distribution integrated as a whole."""
    from analysis.optics.colorimetry import _library

    colour = _library()
    waves = np.arange(first, last + 1, step)
    shares = np.random.default_rng(seed).uniform(0, 1, len(waves))
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(observer.shape)
    spectrum = colour.SpectralDistribution(shares, waves).align(observer.shape)
    expected = colour.sd_to_XYZ(spectrum, observer, light, method="Integration")
    found = spectrum_colour(shares, waves)
    assert_allclose(found.xyz, expected, rtol=1e-10)
    # From memory: matrix and curve of sRGB as printed to 4 decimals, which move a dark channel by up to 0.002.
    matrix = [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
    linear = np.clip(np.array(matrix) @ expected / 100, 0, 1)
    curve = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    assert_allclose(found.srgb, curve, atol=2e-3)


@pytest.mark.parametrize("row", table("titania_colours").to_dict("records"), ids=lambda row: f"{row['thickness_nm']}")
def test_colour_of_titania_films(row):
    found = spectrum_colour(film_reflectance(row["thickness_nm"], WAVES, AMORPHOUS_TITANIA, TITANIUM))
    assert_allclose(found.xyz, [row["X"], row["Y"], row["Z"]], atol=6e-4)
    assert_allclose(found.lab, [row["L"], row["a"], row["b"]], atol=6e-3)
    assert found.srgb_8bit.tolist() == [row["red"], row["green"], row["blue"]]
    assert found.is_in_srgb


@pytest.mark.parametrize("row", table("titania_colours").to_dict("records"), ids=lambda row: f"{row['thickness_nm']}")
def test_colour_of_films_with_one_index_for_all_wavelengths(row):
    found = spectrum_colour(film_reflectance(row["thickness_nm"], WAVES, 2.4, TITANIUM))
    assert_allclose(found.lab, [row["L_constant"], row["a_constant"], row["b_constant"]], atol=6e-3)


def test_the_step_of_the_wavelengths_matters_little():
    """Independent: the check values name at most 0.02 between steps of 1, 5 and 10 nm (50 nm film)."""
    labs = [
        spectrum_colour(film_reflectance(50, waves, AMORPHOUS_TITANIA, TITANIUM), waves).lab
        for waves in (np.arange(380, 781, step) for step in (1, 5, 10))
    ]
    assert_allclose(labs, [labs[1]] * 3, atol=0.02)


@pytest.mark.parametrize(
    ("lab", "code"),
    [
        # From memory: sRGB's own corners and grey in L*a*b*, as commonly tabulated to 2 decimals.
        ([53.24, 80.09, 67.20], "#ff0000"),
        ([87.73, -86.18, 83.18], "#00ff00"),
        ([32.30, 79.19, -107.86], "#0000ff"),
        ([53.585, 0.0, 0.0], "#808080"),
        ([100, 0, 0], "#ffffff"),
        ([0, 0, 0], "#000000"),
    ],
)
def test_colours_on_a_screen(lab, code):
    found = lab_colour(lab)
    assert found.hex_code == code
    assert found.is_in_srgb
    assert found.note == ""


@pytest.mark.parametrize("lab", [[60, -100, 60], [53.24, 90, 67.2], [32.3, 79.19, -120], [90, 50, 0]])
def test_a_colour_that_no_screen_shows_says_so(lab):
    """Limit: beyond a corner of the gamut."""
    found = lab_colour(lab)
    assert found.is_in_srgb is False
    assert found.gamut_excess > 0.01
    assert "outside sRGB" in found.note
    assert "cut off" in found.note
    assert ((found.srgb >= 0) & (found.srgb <= 1)).all()


def test_light_of_one_wavelength_lies_outside_srgb():
    """Limit: the spectral locus encloses every screen."""
    assert not spectrum_colour((WAVES == 520).astype(float)).is_in_srgb


def test_a_note_for_many_colours_counts_them():
    found = lab_colour([[60, -100, 60], [50, 0, 0], [np.nan, 0, 0]])
    assert found.is_in_srgb.tolist() == [False, True, False]
    assert found.note.startswith("1 of 3 colours lie outside sRGB")
    assert found.hex_code.tolist()[1:] == ["#777777", ""]


@settings(deadline=None)  # the first example loads the library
@given(LABS)
def test_lab_and_xyz_round_trip(lab):
    """Limit: round trip for colours that exist."""
    found = lab_colour(lab)
    assume((found.xyz >= 0).all())
    assert_allclose(xyz_colour(found.xyz).lab, lab, atol=1e-6)


def test_a_spectrum_with_nan_has_no_colour_and_others_keep_theirs():
    spectra = np.full((2, 81), 0.5)
    spectra[0, 3] = np.nan
    found = spectrum_colour(spectra)
    assert np.isnan(found.lab[0]).all()
    assert_allclose(found.lab[1], [76.07, 0, 0], atol=0.02)  # hand: 116·0.5^(1/3) − 16
    assert found.hex_code.tolist()[0] == ""


def test_any_shape_in_front():
    assert spectrum_colour(np.full((2, 3, 81), 0.5)).lab.shape == (2, 3, 3)
    assert spectrum_colour(np.full((2, 3, 81), 0.5)).hex_code.shape == (2, 3)
    assert spectrum_colour(np.zeros((0, 81))).hex_code.shape == (0,)


@pytest.mark.parametrize(
    ("spectrum", "waves", "words"),
    [
        (np.ones(80), WAVES, "81 values, one a wavelength"),
        (1.0, WAVES, "81 values"),
        (np.full(81, 58.5), WAVES, "spectrum must be at most 1.5"),
        (np.full(81, -0.1), WAVES, "spectrum must be at least 0"),
        (np.ones(3), [400, 500, 700], "even steps"),
        (np.ones(3), [700, 550, 400], "even steps"),
        (np.ones(4), [400, 500, 600, 700], "even steps of 1 to 20 nm, not 100"),
        (np.ones(30), np.arange(410, 701, 10), "span 400 to 700 nm, not 410"),
        (np.ones(30), np.arange(400, 691, 10), "span 400 to 700 nm"),
        (np.ones(1), [550], "a row of numbers"),
        (np.ones(81), np.where(WAVES == 500, np.nan, WAVES), "wavelength must be a finite number"),
    ],
)
def test_spectra_that_make_no_colour_are_refused(spectrum, waves, words):
    with pytest.raises(ValueError, match=words):
        spectrum_colour(spectrum, waves)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: xyz_colour([1, 2]), "three numbers"),
        (lambda: xyz_colour([-1, 2, 3]), "tristimulus value must be at least 0"),
        (lambda: lab_colour(50), "three numbers"),
        (lambda: lab_colour([121, 0, 0]), "L\\* must be at most 120"),
        (lambda: lab_colour([50, 501, 0]), "must be at most 500"),
        (lambda: colour_difference([50, 0, 0], [50, 0, 0], "CIE 1994"), "rule of a colour difference"),
    ],
)
def test_colours_out_of_range_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


@pytest.mark.parametrize("row", PAIRS, ids=lambda row: f"{row['de2000']}-{row['b2']}-{row['status']}")
def test_ciede2000_pairs(row):
    pair = [row["L1"], row["a1"], row["b1"]], [row["L2"], row["a2"], row["b2"]]
    assert_allclose(colour_difference(*pair), row["de2000"], atol=6e-5)
    assert_allclose(colour_difference(*pair[::-1]), row["de2000"], atol=6e-5)  # symmetric


@pytest.mark.parametrize("row", [row for row in PAIRS if row["de76"] == row["de76"]], ids=lambda row: f"{row['de76']}")
def test_cie_1976_is_the_distance(row):
    pair = [row["L1"], row["a1"], row["b1"]], [row["L2"], row["a2"], row["b2"]]
    assert_allclose(colour_difference(*pair, rule="CIE 1976"), row["de76"], atol=6e-5)


@settings(deadline=None)  # the first example loads the library
@given(LABS, st.sampled_from(["CIE 2000", "CIE 1976"]))
def test_a_colour_does_not_differ_from_itself(lab, rule):
    """Limit."""
    assert colour_difference(lab, lab, rule) == 0


def test_differences_broadcast_and_nan_stays():
    found = colour_difference([[50, 2.5, 0], [np.nan, 0, 0]], [50, 0, -2.5])
    assert_allclose(found, [4.3065, np.nan], atol=6e-5)
    assert type(colour_difference([50, 0, 0], [51, 0, 0])) is float
    assert colour_difference(np.zeros((0, 3)), [50, 0, 0]).shape == (0,)


def test_loading_the_library_leaves_no_trace():
    """Its import warns, changes how numpy prints, and puts mock modules in the place of matplotlib."""
    code = (
        "import sys, numpy as np\n"
        "from analysis.optics import lab_colour\n"
        "assert 'colour' not in sys.modules\n"
        "lab_colour([50, 0, 0])\n"
        "assert 'colour' in sys.modules\n"
        "print(repr(np.float64(1.5)), 'mock' in repr(sys.modules.get('matplotlib')).lower())\n"
    )
    done = subprocess.run([sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "np.float64(1.5) False"
    assert done.stderr == ""


@pytest.mark.parametrize(
    "waves",
    [
        np.arange(380.3, 781, 5),
        np.arange(395, 705, 2.5),
        np.arange(380, 781, 7.5),
        np.linspace(390, 710, 33),
        np.arange(300, 1101, 5.0),
    ],
    ids=lambda waves: f"{waves[0]:g}-{waves[-1]:g}-{waves[1] - waves[0]:g}",
)
def test_even_wavelengths_need_not_be_whole_numbers(waves):
    """Independent: numpy 2.4.6, a smooth spectrum summed over the library's tables at every nanometre."""
    from analysis.optics.colorimetry import _library

    colour = _library()
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(observer.shape).values[:, None]
    at = np.clip(observer.wavelengths, waves[0], waves[-1])
    expected = 100 * np.sum((0.3 + 0.2 * np.sin(at / 60))[:, None] * light * observer.values, axis=0)
    expected /= np.sum(light[:, 0] * observer.values[:, 1])
    # steps of up to 10 nm are brought to 1 nm by interpolation
    assert_allclose(spectrum_colour(0.3 + 0.2 * np.sin(waves / 60), waves).xyz, expected, atol=2e-3)
    assert_allclose(spectrum_colour(np.ones(len(waves)), waves).xyz, [95.0471, 100, 108.8828], atol=6e-5)


def test_light_of_every_single_wavelength_has_a_colour():
    """Interpolation of a single band swings below 0 beside it; no tristimulus value may."""
    found = spectrum_colour(np.eye(81))
    assert (found.xyz >= 0).all()
    assert_allclose(found.xyz.sum(axis=0), [95.0471, 100, 108.8828], atol=6e-5)


@pytest.mark.parametrize(
    "pair", [([60, -34, 36], [60, -32, 39]), ([22, 3, -26], [23, 2, -30]), ([80, 0.5, -3], [79, -1, 2])]
)
def test_ciede2000_written_down_again(pair):
    """Independent of the library: Sharma's formulas by hand, hues in degrees."""
    (l1, a1, b1), (l2, a2, b2) = pair
    mean = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    stretch = 1 + (1 - np.sqrt(mean**7 / (mean**7 + 25**7))) / 2
    c1, c2 = np.hypot(stretch * a1, b1), np.hypot(stretch * a2, b2)
    h1, h2 = (np.degrees(np.arctan2(b, stretch * a)) % 360 for a, b in ((a1, b1), (a2, b2)))
    turn = (h2 - h1 + 180) % 360 - 180
    middle, c, lightness = (h1 + turn / 2) % 360, (c1 + c2) / 2, (l1 + l2) / 2
    waves = ((0.17, 1, -30, -1), (0.24, 2, 0, 1), (0.32, 3, 6, 1), (0.20, 4, -63, -1))
    t = 1 + sum(sign * size * np.cos(np.radians(times * middle + shift)) for size, times, shift, sign in waves)
    sl = 1 + 0.015 * (lightness - 50) ** 2 / np.sqrt(20 + (lightness - 50) ** 2)
    parts = (l2 - l1) / sl, (c2 - c1) / (1 + 0.045 * c)
    hue = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2)) / (1 + 0.015 * c * t)
    bend = np.radians(60 * np.exp(-(((middle - 275) / 25) ** 2)))
    rotation = -np.sin(bend) * 2 * np.sqrt(c**7 / (c**7 + 25**7))
    expected = np.sqrt(parts[0] ** 2 + parts[1] ** 2 + hue**2 + rotation * parts[1] * hue)
    assert_allclose(colour_difference(*pair), expected, rtol=1e-7)


@pytest.mark.parametrize(("red", "is_shown"), [(80.09, True), (80.5, False), (82, False)])
def test_a_colour_just_outside_is_outside(red, is_shown):
    """Limit: sRGB's red corner and a little beyond; half a step of an 8-bit screen is all that is forgiven."""
    found = lab_colour([53.24, red, 67.2])
    assert found.is_in_srgb is is_shown
    assert found.gamut_excess == 0 if is_shown else 0.002 < found.gamut_excess < 0.1
