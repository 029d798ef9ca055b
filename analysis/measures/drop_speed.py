"""Speed of a drop that slides, from its positions in the frames of a film, and the capillary number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.regression import polynomial_fit

FEWEST = 5  # frames of a terminal part; from memory
SIGNIFICANCE = 0.05
_ROUND_OFF = 1e-9  # bend of a straight track by round-off, as a share of its length; less scatter is none


@dataclass(frozen=True, slots=True)
class DropSpeed:
    """Speed over the frames used, with its standard error from the regression."""

    speed_mm_per_s: float
    u_speed: float  # [mm/s]; too small when neighbouring frames err alike, see durbin_watson
    start_mm: float  # position at time 0 on the line
    residual_sd_mm: float
    r_squared: float | None
    durbin_watson: float | None  # about 2 for frames that err independently
    first_frame: int  # of the frames used, counted from 0
    n_used: int
    n: int
    is_terminal: bool | None  # None: not looked for
    notes: tuple[str, ...]


@formula(
    "x = x₀ + v·t + e, v and u(v) by least squares",
    source="nist_strd_linear",
    holds_when="constant speed over the frames used; times known without error",
    library="statsmodels.api.OLS",
)
def drop_speed(times_s: Sequence[float], positions_mm: Sequence[float]) -> DropSpeed:
    """Mean speed of a drop over all its frames.

    Parameters
    ----------
    times_s : sequence of float
        Time of each frame [s], not all equal.
    positions_mm : sequence of float
        Position of the same point of the drop along the track [mm].

    Returns
    -------
    DropSpeed
        Slope of the line; negative against the direction of the scale.

    Raises
    ------
    ValueError
        For fewer than 3 frames, NaN, unequal lengths, or times without spread.

    Source: `nist_strd_linear`, data set Norris.

    >>> round(drop_speed([0, 0.1, 0.2, 0.3], [0, 1.5, 3.0, 4.5]).speed_mm_per_s, 9)
    15.0
    """
    times, positions = _track(times_s, positions_mm)
    return _speed(times, positions, 0, None, ())


@formula(
    "x = x₀ + v·t over the longest end of the track without a bend: |c₂|/u(c₂) < t(0.975) in x = c₀ + c₁t + c₂t²",
    source="common_practice nist_strd_linear",
    holds_when="the drop ends at constant speed; frames err independently",
    library="statsmodels.api.OLS, scipy.stats.t",
)
def terminal_speed(times_s: Sequence[float], positions_mm: Sequence[float], fewest: int = FEWEST) -> DropSpeed:
    """Speed of a drop over the last part of its track, where it no longer speeds up or slows down.

    Parameters
    ----------
    times_s, positions_mm : sequence of float
        As in `drop_speed`; times must rise.
    fewest : int
        Frames that the terminal part must have at least [-], 4 or more.

    Returns
    -------
    DropSpeed
        Frames are dropped from the start until a parabola bends no more than its scatter explains. When even
        the last `fewest` frames bend, their line is given with `is_terminal` False and a note.

    Raises
    ------
    ValueError
        As in `drop_speed`; for times that do not rise, or fewer frames than `fewest`.

    Source: `common_practice`, `nist_strd_linear`.

    >>> noise = [0.01, -0.01, -0.01, 0.01] * 3
    >>> track = [0.0, 1.0, 4.0, 9.0] + [16 + 8 * i + noise[i] for i in range(12)]
    >>> found = terminal_speed(range(16), track)
    >>> round(found.speed_mm_per_s, 2), found.is_terminal, found.first_frame
    (8.0, True, 4)
    """
    times, positions = _track(times_s, positions_mm)
    if within("fewest frames", fewest, at_least=4, has_nan=False) % 1:
        raise ValueError(f"fewest frames must be a whole number, not {fewest:g}")
    if np.any(np.diff(times) <= 0):
        raise ValueError("times of the frames must rise")
    if len(times) < fewest:
        raise ValueError(f"a terminal part needs {fewest} frames, not {len(times)}")
    last = len(times) - int(fewest)
    first = next((start for start in range(last + 1) if _is_straight(times[start:], positions[start:])), None)
    is_terminal, notes = first is not None, ()
    if not is_terminal:
        first = last
        notes = (f"no terminal speed: even the last {fewest} frames bend; the line through them is given",)
    elif first == last:
        notes = ("only the fewest frames allowed are straight: film a longer track",)
    return _speed(times, positions, first, is_terminal, notes)


@formula(
    "Ca = η·v/γ",
    source="dimensionless_numbers",
    holds_when="viscosity, tension and speed of the same liquid; which viscosity (drop or lubricant) is to be said",
)
def capillary_number(viscosity_mpa_s: ArrayLike, speed_mm_per_s: ArrayLike, tension: ArrayLike) -> float | np.ndarray:
    """Viscous against capillary force of a moving drop.

    Parameters
    ----------
    viscosity_mpa_s : array_like
        Dynamic viscosity [mPa·s], above 0.
    speed_mm_per_s : array_like
        Speed [mm/s], at least 0.
    tension : array_like
        Surface or interfacial tension [mN/m], above 0.

    Returns
    -------
    float or numpy.ndarray
        Capillary number [-]; NaN stays NaN.

    Raises
    ------
    ValueError
        For values out of range.

    Source: `dimensionless_numbers`.

    >>> round(capillary_number(1.0, 72.0, 72.0), 9)
    0.001
    """
    viscosity = within("viscosity", viscosity_mpa_s, "mPa·s", above=0)
    speed = within("speed", speed_mm_per_s, "mm/s", at_least=0)
    return plain(viscosity * speed / within("tension", tension, "mN/m", above=0) / 1000)


def _track(times_s: Sequence[float], positions_mm: Sequence[float]) -> tuple[np.ndarray, np.ndarray]:
    times = within("time of a frame", times_s, "s", has_nan=False)
    positions = within("position of the drop", positions_mm, "mm", has_nan=False)
    if times.ndim != 1 or times.shape != positions.shape:
        raise ValueError(f"one position for each frame is needed, not {positions.size} for {times.size} frames")
    if times.size < 3:
        raise ValueError(f"a speed with its uncertainty needs 3 frames, not {times.size}")
    return times, positions


def _is_straight(times: np.ndarray, positions: np.ndarray) -> bool:
    from scipy.stats import t

    bent = polynomial_fit(times, positions, 2)
    bend = abs(bent.coefficients[2])
    # how far the parabola leaves its chord in the middle of the track
    if bend * np.ptp(times) ** 2 / 4 <= _ROUND_OFF * max(np.ptp(positions), np.abs(positions).max()):
        return True
    return bool(bend < t.ppf(1 - SIGNIFICANCE / 2, bent.df) * bent.standard_errors[2])


def _speed(
    times: np.ndarray, positions: np.ndarray, first: int, is_terminal: bool | None, notes: tuple[str, ...]
) -> DropSpeed:
    used = positions[first:]
    fit = polynomial_fit(times[first:], used, 1)
    has_scatter = fit.residual_sd > _ROUND_OFF * max(np.ptp(used), np.abs(used).max())
    start, speed = fit.coefficients
    if fit.durbin_watson is not None and fit.durbin_watson < 1 and has_scatter:
        notes = (*notes, "neighbouring frames err alike: the true uncertainty of the speed is larger")
    return DropSpeed(
        speed, fit.standard_errors[1], start, fit.residual_sd, fit.r_squared, fit.durbin_watson, first, fit.n,
        len(times), is_terminal, notes,
    )  # fmt: skip
