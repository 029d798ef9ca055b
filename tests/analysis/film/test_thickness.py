"""Films drawn from a bath, spun and drained; each with its limits said."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad, solve_ivp

from analysis.film.thickness import LANDAU_LEVICH, draining_film, late_spun_film, spun_film, withdrawal_film

SILICONE = {"viscosity": 9.3, "tension": 20.1, "density": 930.0}
DISK = {"density": 960.0, "viscosity": 100.0, "speed_rpm": 1000.0}
PLATE = {"viscosity": 100.0, "density": 960.0}


def test_the_constant_of_a_drawn_film():
    """Independent (scipy DOP853): h''' = (h − 1)/h³ leaves the flat film and its curvature tends to 0.64304.

    The constant is that curvature times 3^(2/3)/√2, since the meniscus has the curvature √2/lc.
    """
    start = 1e-6  # leaves the flat film as exp(x)
    path = solve_ivp(
        lambda _, y: (y[1], y[2], (y[0] - 1) / y[0] ** 3), (0, 3e4), (1 + start, start, start),
        method="DOP853", rtol=1e-11, atol=1e-13,
    )  # fmt: skip
    curvature = path.y[2, -1]
    assert_allclose(curvature, 0.643040, atol=3e-6)
    assert_allclose(curvature * 3 ** (2 / 3) / np.sqrt(2), LANDAU_LEVICH, atol=2e-5)


def test_a_drawn_film():
    """Independent, computed apart from the project (numpy 2.4.6): silicone oil of 10 mm²/s at 1 and 0.1 mm/s."""
    found = withdrawal_film(speed_mm_s=np.array([1.0, 0.1]), **SILICONE)
    assert_allclose(found.capillary_number[0], 4.6269e-4, rtol=2e-5)
    assert_allclose(found.capillary_length_mm, 1.48455, atol=6e-6)
    assert_allclose(found.thickness_um, [8.3995, 1.8096], atol=1e-4)
    assert_allclose(found.thickness_um[0] / found.thickness_um[1], 10 ** (2 / 3))  # limit
    assert found.outside == ()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"speed_mm_s": 30.0}, "capillary number"),
        ({"contact_angle_deg": 20.0}, "not fully wetting"),
        ({"texture_height_um": 20.0}, "texture decides"),
        ({"speed_mm_s": 100.0}, "not thin against the capillary length"),
    ],
)
def test_limits_of_a_drawn_film_are_said(changes, words):
    found = withdrawal_film(**{"speed_mm_s": 1.0, **SILICONE, **changes})
    assert any(words in note for note in found.outside)


def test_a_spun_film():
    """Independent, computed apart from the project: 100 µm, 960 kg/m³, 0.1 Pa s, 1000/min, 60 s."""
    found = spun_film(start_um=100.0, time_s=60.0, **DISK)
    assert_allclose(found.thickness_um, 10.8325, atol=6e-5)
    assert_allclose(found.late_time_um, 10.8966, atol=6e-5)
    assert found.outside == ()


def test_a_spun_film_against_integration():
    """Independent (scipy): dh/dt = −2ρω²h³/(3μ), thin flow on a disk."""
    omega = 1000 * 2 * np.pi / 60
    path = solve_ivp(
        lambda _, h: -2 * 960 * omega**2 * (h * 1e-6) ** 3 / (3 * 0.1) * 1e6, (0, 5), [100.0], rtol=1e-10, atol=1e-10
    )
    assert_allclose(spun_film(start_um=100.0, time_s=5.0, **DISK).thickness_um, path.y[0, -1], rtol=1e-7)


def test_before_spinning_and_without_spinning_nothing_is_lost():
    """Limit."""
    found = spun_film(start_um=100.0, time_s=np.array([0.0, 60.0]), **{**DISK, "speed_rpm": np.array([1000.0, 0.0])})
    assert found.thickness_um.tolist() == [100.0, 100.0]
    assert np.isinf(found.late_time_um).all()


def test_the_late_formula_used_early_is_said():
    """Trap: after 0.1 s it says 267 µm of a film that was 100 µm thick. Late, it is within 1 % and says nothing."""
    early = late_spun_film(time_s=0.1, start_um=100.0, **DISK)
    assert early.thickness_um > 100.0
    assert "too early" in early.outside[0]
    late = late_spun_film(time_s=60.0, start_um=100.0, **DISK)
    exact = spun_film(start_um=100.0, time_s=60.0, **DISK).thickness_um
    assert late.outside == ()
    assert 1 < late.thickness_um / exact < 1.01
    assert "nobody knows" in late_spun_film(time_s=60.0, **DISK).outside[0]
    both = late_spun_film(time_s=np.array([0.1, 60.0]), start_um=100.0, **DISK)
    assert both.outside[0].endswith("(in 1 of 2 cases)")


def test_inertia_of_a_thick_spun_film_is_said():
    thin_liquid = {**DISK, "viscosity": 1.0}
    assert "inertia" in spun_film(start_um=200.0, time_s=1.0, **thin_liquid).outside[0]


def test_a_draining_film():
    """Independent, computed apart from the project: 0.1 Pa s, 960 kg/m³, 50 mm, one hour."""
    found = draining_film(distance_mm=50.0, time_s=3600.0, start_um=100.0, **PLATE)
    assert_allclose((found.thickness_um, found.mean_um), (12.146, 8.097), atol=6e-4)
    assert found.outside == ()


def test_the_mean_of_a_draining_film_is_two_thirds():
    """Independent (scipy): average of the thickness over the plate."""
    whole, _ = quad(lambda z: draining_film(distance_mm=z, time_s=60.0, **PLATE).thickness_um, 0, 40)
    assert_allclose(draining_film(distance_mm=40.0, time_s=60.0, **PLATE).mean_um, whole / 40, rtol=1e-6)


def test_a_draining_film_conserves_its_liquid():
    """Independent: ∂h/∂t + (ρg sin β/μ)h²·∂h/∂z = 0, by central differences; in metres and seconds."""

    def h(z, t):
        return 1e-6 * draining_film(distance_mm=1e3 * z, time_s=t, tilt_deg=30.0, **PLATE).thickness_um

    z, t = 0.02, 100.0
    dt = (h(z, t * 1.0001) - h(z, t * 0.9999)) / (t * 2e-4)
    dz = (h(z * 1.0001, t) - h(z * 0.9999, t)) / (z * 2e-4)
    assert_allclose(dt, -960 * 9.80665 * 0.5 / 0.1 * h(z, t) ** 2 * dz, rtol=1e-6)


def test_limits_of_a_draining_film_are_said():
    early = draining_film(distance_mm=np.array([10.0, 50.0]), time_s=60.0, start_um=50.0, **PLATE)
    assert early.outside == ("too early: the film still has its starting thickness here (in 1 of 2 cases)",)
    assert "nobody knows" in draining_film(distance_mm=50.0, time_s=3600.0, **PLATE).outside[0]
    assert any("edge" in note for note in draining_film(distance_mm=0.1, time_s=1.0, **PLATE).outside)
    assert draining_film(distance_mm=0.0, time_s=1.0, start_um=10.0, **PLATE).thickness_um == 0


@pytest.mark.parametrize(
    ("film", "inputs", "words"),
    [
        (withdrawal_film, {"speed_mm_s": 0.0, **SILICONE}, "speed"),
        (withdrawal_film, {"speed_mm_s": np.nan, **SILICONE}, "speed"),
        (spun_film, {"start_um": 0.0, "time_s": 1.0, **DISK}, "start"),
        (spun_film, {"start_um": 1.0, "time_s": -1.0, **DISK}, "time"),
        (late_spun_film, {"time_s": 0.0, **DISK}, "time"),
        (draining_film, {"distance_mm": 1.0, "time_s": 0.0, **PLATE}, "time"),
        (draining_film, {"distance_mm": 1.0, "time_s": 1.0, "tilt_deg": 0.0, **PLATE}, "tilt"),
    ],
)
def test_impossible_films_are_refused(film, inputs, words):
    with pytest.raises(ValueError, match=words):
        film(**inputs)


def test_missing_values_of_an_array_stay_in_their_place():
    speeds = np.array([1.0, np.nan])
    assert np.isnan(withdrawal_film(speed_mm_s=speeds, **SILICONE).thickness_um).tolist() == [False, True]
    assert np.isnan(spun_film(start_um=speeds, time_s=1.0, **DISK).late_time_um).tolist() == [False, True]
    assert np.isnan(draining_film(distance_mm=speeds, time_s=1.0, **PLATE).mean_um).tolist() == [False, True]


@pytest.mark.parametrize(("progress", "is_late"), [(40.0, False), (49.0, False), (51.0, True)])
def test_late_means_within_one_per_cent(progress, is_late):
    """Hand: the late formula is √(1 + 1/p) too thick, p = 4ρω²h0²t/(3μ): 1.24 %, 1.02 %, 0.98 %."""
    omega = 1000 * 2 * np.pi / 60
    time = progress * 3 * 0.1 / (4 * 960 * omega**2 * (100e-6) ** 2)
    found = late_spun_film(time_s=time, start_um=100.0, **DISK)
    assert (found.outside == ()) == is_late
    exact = spun_film(start_um=100.0, time_s=time, **DISK).thickness_um
    assert (found.thickness_um / exact < 1.01) == is_late


@pytest.mark.parametrize(("reynolds", "is_said"), [(0.09, False), (0.11, True), (0.5, True)])
def test_inertia_counts_from_a_tenth_on(reynolds, is_said):
    """Hand: ρωh0²/μ with ω = 104.72/s, ρ = 960, h0 = 100 µm gives μ = 1.00531e-3/Re."""
    found = spun_film(start_um=100.0, time_s=1.0, density=960.0, speed_rpm=1000.0, viscosity=1.00531 / reynolds)
    assert (found.outside != ()) == is_said
