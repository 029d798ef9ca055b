"""Contact angle hysteresis: what one drop's advancing and receding angle say together."""

from __future__ import annotations

import math

from analysis.formula import formula
from analysis.records import MEASURED, Reading, Run

ADVANCING = "advancing_angle"
RECEDING = "receding_angle"
PAIR_QUANTITIES = ("hysteresis", "hysteresis_cosine", "hysteresis_percent", "retention_per_width")


@formula("Δθ = θa − θr", source="common_practice", holds_when="both angles of the same drop at the same place")
def hysteresis(advancing_deg: float, receding_deg: float) -> float:
    """Advancing minus receding angle of one drop.

    Parameters
    ----------
    advancing_deg, receding_deg : float
        Angles of the same drop [deg], 0 to 180.

    Returns
    -------
    float
        Difference [deg]. Negative when the receding angle was read above the advancing one: not corrected,
        so that a check of the run can report it.

    Raises
    ------
    ValueError
        For NaN or an angle outside 0 to 180.

    >>> round(hysteresis(113.1, 111.3), 6)
    1.8
    """
    _require_angles(advancing_deg, receding_deg)
    return advancing_deg - receding_deg


def hysteresis_cosine(advancing_deg: float, receding_deg: float) -> float:
    """Difference of the cosines cos θr − cos θa of one drop [-]; same arguments and refusals as `hysteresis`.

    Written as 2·sin((θa+θr)/2)·sin((θa−θr)/2): near 180° the plain difference of two cosines loses digits.

    Source: retention relation, `furmidge_1962`.

    >>> round(hysteresis_cosine(90.0, 60.0), 12)
    0.5
    """
    _require_angles(advancing_deg, receding_deg)
    half_sum = math.radians(advancing_deg + receding_deg) / 2
    half_difference = math.radians(advancing_deg - receding_deg) / 2
    return 2 * math.sin(half_sum) * math.sin(half_difference)


def hysteresis_percent(advancing_deg: float, receding_deg: float) -> float:
    """Difference of the cosines as a share of its largest possible value, (cos θr − cos θa)/2 [%].

    >>> hysteresis_percent(180.0, 0.0)
    100.0
    """
    return 50 * hysteresis_cosine(advancing_deg, receding_deg)


def retention_per_width(surface_tension: float, advancing_deg: float, receding_deg: float) -> float:
    """Retention force per width of the drop, γ(cos θr − cos θa), without any shape factor.

    Parameters
    ----------
    surface_tension : float
        Tension of the liquid against air [mN/m], above 0.
    advancing_deg, receding_deg : float
        Angles of the same drop [deg].

    Returns
    -------
    float
        Force per width [mN/m].

    Raises
    ------
    ValueError
        For a tension that is not a positive number, and as in `hysteresis`.

    Source: `furmidge_1962`.

    >>> round(retention_per_width(72.0, 90.0, 60.0), 9)
    36.0
    """
    if not (math.isfinite(surface_tension) and surface_tension > 0):
        raise ValueError(f"surface tension must be above 0 mN/m, not {surface_tension}")
    return surface_tension * hysteresis_cosine(advancing_deg, receding_deg)


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

    >>> angles = (Reading("advancing_angle", 113.1), Reading("receding_angle", 111.3))
    >>> [round(row["hysteresis"], 6) for row in drop_pairs(Run("R1", "C1", "needle", angles))]
    [1.8]
    """
    found: dict[tuple, dict[str, Reading]] = {}
    for reading in run.readings:
        if reading.quantity in (ADVANCING, RECEDING) and _is_angle(reading):
            place = (reading.position, reading.drop, reading.direction)
            found.setdefault(place, {})[reading.quantity] = reading
    tension = _surface_tension(run)
    return tuple(_row(place, angles, tension) for place, angles in found.items() if len(angles) == 2)


def _row(place: tuple, angles: dict[str, Reading], tension: float | None) -> dict:
    advancing, receding = angles[ADVANCING].value, angles[RECEDING].value
    return {
        "position": place[0],
        "drop": place[1],
        "direction": place[2],
        ADVANCING: advancing,
        RECEDING: receding,
        "hysteresis": hysteresis(advancing, receding),
        "hysteresis_cosine": hysteresis_cosine(advancing, receding),
        "hysteresis_percent": hysteresis_percent(advancing, receding),
        "retention_per_width": (None if tension is None else retention_per_width(tension, advancing, receding)),
        "excluded": angles[ADVANCING].excluded or angles[RECEDING].excluded,
    }


def _is_angle(reading: Reading) -> bool:
    return reading.qualifier == MEASURED and reading.value is not None and 0 <= reading.value <= 180


def _surface_tension(run: Run) -> float | None:
    known = run.liquid.properties.get("surface_tension") if run.liquid else None
    return None if known is None else known.value


def _require_angles(*angles_deg: float) -> None:
    for angle in angles_deg:
        if not 0 <= angle <= 180:  # also refuses NaN
            raise ValueError(f"a contact angle lies between 0 and 180 degrees, not {angle}")
