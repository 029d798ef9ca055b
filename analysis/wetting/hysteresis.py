"""Contact angle hysteresis: what one drop's advancing and receding angle say together.

Numbers or arrays that broadcast. NaN in an array stays NaN in its place; a single NaN is refused.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.records import MEASURED, Reading, Run
from analysis.wetting.inputs import number, positive

ADVANCING = "advancing_angle"
RECEDING = "receding_angle"
PAIR_QUANTITIES = ("hysteresis", "hysteresis_cosine", "hysteresis_percent", "retention_per_width")


@formula("Δθ = θa − θr", source="common_practice", holds_when="both angles of the same drop at the same place")
def hysteresis(advancing_deg: ArrayLike, receding_deg: ArrayLike) -> float | np.ndarray:
    """Advancing minus receding angle of one drop.

    Parameters
    ----------
    advancing_deg, receding_deg : array_like
        Angles of the same drop [deg], 0 to 180.

    Returns
    -------
    float or numpy.ndarray
        Difference [deg]. Negative when the receding angle was read above the advancing one: not corrected,
        so that a check of the run can report it.

    Raises
    ------
    ValueError
        For an angle outside 0 to 180, or a single NaN.

    Source: `common_practice`.

    >>> round(hysteresis(113.1, 111.3), 6)
    1.8
    """
    advancing, receding = _angles(advancing_deg, receding_deg)
    return plain(advancing - receding)


@formula(
    "Δcos θ = cos θr − cos θa", source="furmidge_1962", holds_when="both angles of the same drop at the same place"
)
def hysteresis_cosine(advancing_deg: ArrayLike, receding_deg: ArrayLike) -> float | np.ndarray:
    """Difference of the cosines of receding and advancing angle of one drop: the part that enters forces.

    Parameters
    ----------
    advancing_deg, receding_deg : array_like
        As in `hysteresis` [deg].

    Returns
    -------
    float or numpy.ndarray
        Difference [-], −2 to 2; written as 2·sin((θa+θr)/2)·sin((θa−θr)/2), since near 180° the plain
        difference of two cosines loses digits.

    Raises
    ------
    ValueError
        As in `hysteresis`.

    Source: `furmidge_1962`.

    >>> round(hysteresis_cosine(90.0, 60.0), 12)
    0.5
    """
    advancing, receding = _angles(advancing_deg, receding_deg)
    half_sum, half_difference = np.radians((advancing + receding) / 2), np.radians((advancing - receding) / 2)
    return plain(2 * np.sin(half_sum) * np.sin(half_difference))


@formula("H = 100·(cos θr − cos θa)/2", source="korhonen_2013", holds_when="both angles of the same drop")
def hysteresis_percent(advancing_deg: ArrayLike, receding_deg: ArrayLike) -> float | np.ndarray:
    """Difference of the cosines of one drop as a share of its largest possible value.

    Parameters
    ----------
    advancing_deg, receding_deg : array_like
        As in `hysteresis` [deg].

    Returns
    -------
    float or numpy.ndarray
        Share [%].

    Raises
    ------
    ValueError
        As in `hysteresis`.

    Source: `korhonen_2013`.

    >>> hysteresis_percent(180.0, 0.0)
    100.0
    """
    return 50 * hysteresis_cosine(advancing_deg, receding_deg)


@formula("F/w = γ(cos θr − cos θa)", source="furmidge_1962", holds_when="no shape factor: k = 1 with the width")
def retention_per_width(
    surface_tension: ArrayLike, advancing_deg: ArrayLike, receding_deg: ArrayLike
) -> float | np.ndarray:
    """Retention force per width of the drop, without any shape factor.

    Parameters
    ----------
    surface_tension : array_like
        Tension of the liquid against air [mN/m], above 0.
    advancing_deg, receding_deg : array_like
        Angles of the same drop [deg].

    Returns
    -------
    float or numpy.ndarray
        Force per width [mN/m].

    Raises
    ------
    ValueError
        For a tension that is not a positive number, and as in `hysteresis`.

    Source: `furmidge_1962`.

    >>> round(retention_per_width(72.0, 90.0, 60.0), 9)
    36.0
    """
    tension = positive("surface tension", surface_tension, "mN/m")
    return plain(tension * hysteresis_cosine(advancing_deg, receding_deg))


def drop_pairs(run: Run) -> tuple[dict, ...]:
    """One row for each drop whose two angles were both measured, in the order of the readings.

    Parameters
    ----------
    run : Run
        Readings `advancing_angle` and `receding_angle` [deg] of one coupon.

    Returns
    -------
    tuple of dict
        Keys position, drop, direction, advancing_angle, receding_angle, hysteresis [deg],
        hysteresis_cosine [-], hysteresis_percent [%], retention_per_width [mN/m] or None without the
        liquid's tension, excluded. A drop with an angle missing, lost or impossible (NaN, outside 0 to 180)
        makes no row; a row is excluded when either angle is.

    Source: `common_practice`.

    >>> angles = (Reading("advancing_angle", 113.1), Reading("receding_angle", 111.3))
    >>> [round(row["hysteresis"], 6) for row in drop_pairs(Run("R1", "C1", "needle", angles))]
    [1.8]
    """
    return tuple(dict(row) for row in _pairs(run.readings, _surface_tension(run)))


@lru_cache(maxsize=2048)  # each check and each quantity of a run asks for its pairs
def _pairs(readings: tuple[Reading, ...], tension: float | None) -> tuple[dict, ...]:
    found: dict[tuple, dict[str, Reading]] = {}
    for reading in readings:
        if reading.quantity in (ADVANCING, RECEDING) and _is_angle(reading):
            place = (reading.position, reading.drop, reading.direction)
            found.setdefault(place, {})[reading.quantity] = reading
    pairs = [(place, pair) for place, pair in found.items() if len(pair) == 2]
    if not pairs:  # most runs are of another kind
        return ()
    return tuple(_row(*pair, numbers) for pair, numbers in zip(pairs, _numbers(pairs, tension), strict=True))


def _numbers(pairs: list, tension: float | None) -> list[tuple]:
    """The PAIR_QUANTITIES of each pair, all pairs together."""
    ahead, behind = (np.array([pair[name].value for _, pair in pairs], dtype=float) for name in (ADVANCING, RECEDING))
    per_width = [None] * len(pairs) if tension is None else retention_per_width(tension, ahead, behind).tolist()
    columns = (function(ahead, behind).tolist() for function in (hysteresis, hysteresis_cosine, hysteresis_percent))
    return list(zip(*columns, per_width, strict=True))


def _row(place: tuple, pair: dict[str, Reading], numbers: tuple) -> dict:
    return {
        "position": place[0],
        "drop": place[1],
        "direction": place[2],
        ADVANCING: pair[ADVANCING].value,
        RECEDING: pair[RECEDING].value,
        **dict(zip(PAIR_QUANTITIES, numbers, strict=True)),
        "excluded": pair[ADVANCING].excluded or pair[RECEDING].excluded,
    }


def _is_angle(reading: Reading) -> bool:
    return reading.qualifier == MEASURED and reading.value is not None and 0 <= reading.value <= 180


def _surface_tension(run: Run) -> float | None:
    known = run.liquid.properties.get("surface_tension") if run.liquid else None
    return None if known is None else known.value


def _angles(advancing_deg: ArrayLike, receding_deg: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    limits = {"at_least": 0, "at_most": 180}
    advancing = number("advancing angle", advancing_deg, "deg", **limits)
    return advancing, number("receding angle", receding_deg, "deg", **limits)
