"""Predicted sliding angle by simulation: for wide uncertainties, small hysteresis and drops that may not slide."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.inputs import number
from analysis.wetting.retention import PARALLEL_SIDED, RetentionForm, predicted_sliding, tilt_deg_of_sine, weight_un


@dataclass(frozen=True, slots=True)
class SimulatedSliding:
    """Distribution of the predicted sliding angle; infinity [deg] stands for a drop that cannot slide."""

    median_deg: float | np.ndarray
    low_deg: float | np.ndarray  # 2.5 % of the draws slide below
    high_deg: float | np.ndarray  # 97.5 % of the draws slide below
    share_cannot_slide: float | np.ndarray  # [-] of the draws
    share_without_hysteresis: float | np.ndarray  # [-] of the draws, taken as sliding at once
    draws: int
    seed: int
    form: RetentionForm


@formula(
    "sin α = k·L·γ(cos θr − cos θa)/(ρ·V·g), each input drawn from its normal distribution",
    source="furmidge_1962 gum_monte_carlo",
    holds_when="angles kept within 0 to 180 deg; a receding angle drawn above the advancing one means no hysteresis",
    library="numpy.random.Generator",
)
def simulated_sliding(
    width_mm: ArrayLike,
    *,
    advancing_deg: tuple[ArrayLike, ArrayLike],
    receding_deg: tuple[ArrayLike, ArrayLike],
    tension: tuple[ArrayLike, ArrayLike],
    density: ArrayLike,
    volume_ul: tuple[ArrayLike, ArrayLike],
    width_share: ArrayLike = 0.0,
    correlation: ArrayLike = 0.0,
    form: RetentionForm = PARALLEL_SIDED,
    seed: int,
    draws: int = 20_000,
) -> SimulatedSliding:
    """Sliding angle that the retention relation predicts, with its interval from simulated inputs.

    Parameters
    ----------
    width_mm, advancing_deg, receding_deg, tension, density, volume_ul, width_share, correlation, form
        As in `predicted_sliding`.
    seed : int
        Of the random numbers: the same seed gives the same result.
    draws : int
        Number of draws [-], 100 or more; memory grows with draws times the number of predictions.

    Returns
    -------
    SimulatedSliding
        Median, limits that hold 95 % of the draws [deg], and the share of draws that cannot slide [-].

    Raises
    ------
    ValueError
        As in `predicted_sliding`, and for fewer than 100 draws.

    Source: `furmidge_1962`, `gum_monte_carlo`.

    >>> found = simulated_sliding(2.44, advancing_deg=(110, 2), receding_deg=(95, 2), tension=(72.7, 0.2),
    ...     density=998.2, volume_ul=(5, 0.1), seed=1)
    >>> 60 < found.median_deg < 75, found.high_deg, 0.2 < found.share_cannot_slide < 0.4
    (True, inf, True)
    """
    expected = predicted_sliding(
        width_mm, advancing_deg=advancing_deg, receding_deg=receding_deg, tension=tension, density=density,
        volume_ul=volume_ul, width_share=width_share, correlation=correlation, form=form,
    )  # fmt: skip
    count = int(number("number of draws", draws, at_least=100))
    chance = np.random.default_rng(seed)
    lots = [chance.standard_normal((count, *np.shape(expected.sine_uncertainty))) for _ in range(5)]
    shared = np.asarray(correlation, dtype=float)
    lots[1] = shared * lots[0] + np.sqrt(1 - shared**2) * lots[1]
    ahead, behind = (
        _drawn(angle, lot, 0.0, 180.0) for angle, lot in zip((advancing_deg, receding_deg), lots, strict=False)
    )
    held = np.maximum(np.cos(np.radians(behind)) - np.cos(np.radians(ahead)), 0.0)
    force = form.k_with_width * np.asarray(width_mm) * _drawn((1.0, width_share), lots[2], 0.0)
    force = force * _drawn(tension, lots[3], 0.0) * held
    least = 1e-6 * np.asarray(volume_ul[0], dtype=float)  # a drop without volume has no angle
    sine = force / weight_un(_drawn(volume_ul, lots[4], least), density)
    gap = 0 * np.asarray(expected.sine_uncertainty)  # NaN where an input is
    angles = (plain(tilt_deg_of_sine(np.quantile(sine, share, axis=0))) for share in (0.5, 0.025, 0.975))
    shares = (plain(part.mean(axis=0) + gap) for part in (sine > 1, held == 0))
    return SimulatedSliding(*angles, *shares, count, seed, form)


def _drawn(item: tuple[ArrayLike, ArrayLike], lot: np.ndarray, least: ArrayLike, most: float = np.inf) -> np.ndarray:
    """Value plus its standard uncertainty times the lot, kept within what is physically possible."""
    value, spread = (np.asarray(part, dtype=float) for part in item)
    return np.clip(value + spread * lot, least, most)
