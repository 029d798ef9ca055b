"""Drop speed against certified regression data and statsmodels; the terminal part against tracks made for it."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.measures import capillary_number, drop_speed, terminal_speed
from tests.analysis.tables import table


def test_certified_line():
    rows = table("strd_norris")
    found = drop_speed(rows.x, rows.y)
    # published: NIST StRD Norris, certified values
    assert_allclose(found.speed_mm_per_s, 1.00211681802045, rtol=1e-11)
    assert_allclose(found.u_speed, 0.429796848199937e-03, rtol=1e-10)
    assert_allclose(found.start_mm, -0.262323073774029, rtol=1e-9)
    assert_allclose(found.residual_sd_mm, 0.884796396144373, rtol=1e-10)
    assert_allclose(found.r_squared, 0.999993745883712, rtol=1e-12)
    assert (found.n_used, found.n, found.first_frame, found.is_terminal) == (36, 36, 0, None)


def test_line_against_statsmodels():
    import statsmodels.api as sm

    random = np.random.default_rng(7)
    times = np.arange(20) / 250
    positions = 3 + 42 * times + random.normal(0, 0.02, 20)
    ols = sm.OLS(positions, sm.add_constant(times)).fit()  # independent: statsmodels 0.15.0
    found = drop_speed(times, positions)
    assert_allclose([found.start_mm, found.speed_mm_per_s], ols.params, rtol=1e-9)
    assert_allclose(found.u_speed, ols.bse[1], rtol=1e-9)


def test_direction_and_unit():
    times, positions = [0, 1, 2, 3], [5.0, 4.1, 2.9, 2.0]
    found = drop_speed(times, positions)
    assert found.speed_mm_per_s < 0
    metres = drop_speed(times, np.array(positions) / 1000)
    assert_allclose(metres.speed_mm_per_s * 1000, found.speed_mm_per_s)
    shifted = drop_speed(np.array(times) + 1e6, positions)
    assert_allclose([shifted.speed_mm_per_s, shifted.u_speed], [found.speed_mm_per_s, found.u_speed], rtol=1e-8)


@pytest.mark.parametrize("seed", range(5))
def test_terminal_part_of_a_drop_that_speeds_up(seed):
    random = np.random.default_rng(seed)
    times = np.arange(0, 2, 0.02)
    tau, final = 0.15, 30.0  # relaxes to 30 mm/s; after 0.6 s it is within 2 %
    positions = final * (times - tau * (1 - np.exp(-times / tau))) + random.normal(0, 0.02, times.size)
    found = terminal_speed(times, positions)
    assert found.is_terminal
    assert found.first_frame > 5
    assert_allclose(found.speed_mm_per_s, final, rtol=0.01)
    whole = drop_speed(times, positions).speed_mm_per_s
    assert abs(found.speed_mm_per_s - final) < abs(whole - final)


def test_a_drop_that_never_settles_is_told():
    times = np.arange(30) / 10
    found = terminal_speed(times, 5 * times**2)
    assert found.is_terminal is False
    assert "no terminal speed" in found.notes[0]
    assert_allclose(found.speed_mm_per_s, 10 * times[-5:].mean(), rtol=1e-9)  # hand: chord of a parabola


def test_an_exactly_straight_track_is_terminal_from_the_start():
    times = np.arange(12) / 240
    for positions in (17.3 * times + 4, np.full(12, 4.2)):  # limit: no scatter; a drop at rest
        found = terminal_speed(times, positions)
        assert (found.is_terminal, found.first_frame) == (True, 0)
        assert_allclose(found.speed_mm_per_s, (positions[-1] - positions[0]) / times[-1], atol=1e-9)


def test_errors_alike_in_neighbouring_frames_are_told():
    times = np.arange(40) / 40
    found = drop_speed(times, 10 * times + 0.1 * np.sin(2 * np.pi * times))
    assert found.durbin_watson < 1
    assert any("err alike" in note for note in found.notes)


@pytest.mark.parametrize(
    ("times", "positions"),
    [([0, 1], [0, 1]), ([], []), ([0, 1, 2], [0, 1]), ([0, 1, math.nan], [0, 1, 2]), ([1, 1, 1], [0, 1, 2]),
     ([0, 1, 2], [0, math.inf, 2]), ([[0, 1, 2]], [[0, 1, 2]])],
)  # fmt: skip
def test_impossible_tracks_are_refused(times, positions):
    with pytest.raises(ValueError):
        drop_speed(times, positions)


def test_terminal_speed_needs_rising_times_and_enough_frames():
    with pytest.raises(ValueError, match="rise"):
        terminal_speed([0, 1, 1, 2, 3], [0, 1, 2, 3, 4])
    with pytest.raises(ValueError, match="5 frames"):
        terminal_speed([0, 1, 2, 3], [0, 1, 2, 3])
    with pytest.raises(ValueError, match="fewest"):
        terminal_speed(range(9), range(9), fewest=3)


def test_capillary_number():
    assert_allclose(capillary_number(1.0016, 10, 72.736), 1.0016e-3 * 10e-3 / 72.736e-3)  # hand: in SI units
    found = capillary_number([50, math.nan], 10, 20.8)
    assert np.isnan(found).tolist() == [False, True]
    for bad in ((0, 1, 1), (1, -1, 1), (1, 1, 0)):
        with pytest.raises(ValueError):
            capillary_number(*bad)


def test_round_off_is_no_scatter_that_could_be_alike():
    random = np.random.default_rng(5)
    for _ in range(100):
        times = np.arange(random.integers(3, 30)) / 240
        found = drop_speed(times, random.uniform(-5, 5) + random.uniform(-50, 50) * times)
        assert found.notes == ()


def test_frames_are_whole():
    with pytest.raises(ValueError, match="fewest frames must be a whole number"):
        terminal_speed(range(9), range(9), fewest=4.5)


@pytest.mark.parametrize("seed", range(20))
def test_a_track_is_straight_where_its_bend_is_not_significant(seed):
    """Independent: statsmodels 0.15.0, two-sided p of the square term against 5 %."""
    import statsmodels.api as sm

    random = np.random.default_rng(seed)
    times = np.arange(12) / 24
    positions = 30 * times + random.uniform(0, 1) * times**2 + random.normal(0, 0.02, 12)
    p = sm.OLS(positions, np.column_stack([np.ones(12), times, times**2])).fit().pvalues[2]
    assert (terminal_speed(times, positions).first_frame == 0) == (p > 0.05)


@pytest.mark.parametrize(("period", "is_told"), [(8, True), (4.5, False)])
def test_durbin_watson_is_told_below_1(period, is_told):
    """Hand: a wave of n frames has d = 2 − 2·cos(2π/n) about its line: 0.59 for 8 frames, 1.65 for 4.5."""
    frames = np.arange(72)
    found = drop_speed(frames / 24, 10 * frames / 24 + 0.1 * np.sin(2 * np.pi * frames / period))
    assert_allclose(found.durbin_watson, 2 - 2 * np.cos(2 * np.pi / period), rtol=0.03)
    assert any("err alike" in note for note in found.notes) is is_told
