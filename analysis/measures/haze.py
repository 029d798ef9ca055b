"""Total and diffuse transmittance and haze from four readings; what haze means ends at 30 %."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within

DIFFUSING = 30.0  # % haze: above it the material is diffusing and the method does not apply


@dataclass(frozen=True, slots=True)
class Transmittance:
    """Transmittances and haze of one place [%], with standard uncertainties where those of the readings are known."""

    total: float
    diffuse: float
    parallel: float
    haze: float | None  # None where no light passes
    u_total: float | None
    u_diffuse: float | None
    u_haze: float | None
    notes: tuple[str, ...]

    @property
    def is_diffusing(self) -> bool:
        """Above 30 % haze, where the method does not apply."""
        return self.haze is not None and self.haze > DIFFUSING


@formula(
    "Tt = 100·T2/T1",
    source="astm_d1003",
    holds_when="T1 incident light, T2 all light with the specimen; planar, non-fluorescent specimen",
)
def total_transmittance(t1: ArrayLike, t2: ArrayLike) -> float | np.ndarray:
    """Share of light that passes in any direction.

    Parameters
    ----------
    t1 : array_like
        Reading of the incident light, any unit, above 0.
    t2 : array_like
        Reading of all the light behind the specimen, same unit, at least 0.

    Returns
    -------
    float or numpy.ndarray
        Total transmittance [%]; NaN stays NaN.

    Raises
    ------
    ValueError
        For readings out of range.

    Source: `astm_d1003`.

    >>> round(total_transmittance(100.0, 91.2), 9)
    91.2
    """
    incident, passed = _light(t1, t2)
    return plain(100 * passed / incident)


@formula(
    "Td = 100·[T4 − T3·(T2/T1)]/T1",
    source="astm_d1003",
    holds_when="T3 light scattered by the instrument alone, T4 by instrument and specimen; form from memory",
)
def diffuse_transmittance(t1: ArrayLike, t2: ArrayLike, t3: ArrayLike, t4: ArrayLike) -> float | np.ndarray:
    """Share of light that passes and is scattered by the specimen.

    Parameters
    ----------
    t1, t2 : array_like
        As in `total_transmittance`.
    t3, t4 : array_like
        Scattered light without and with the specimen, same unit.

    Returns
    -------
    float or numpy.ndarray
        Diffuse transmittance [%]; a small negative value is noise and stays. NaN stays NaN.

    Raises
    ------
    ValueError
        For readings out of range.

    Source: `astm_d1003`; form `from_memory`.

    >>> round(diffuse_transmittance(100.0, 91.2, 0.6, 2.4), 4)
    1.8528
    """
    incident, passed = _light(t1, t2)
    alone, both = _scatter(t3, t4)
    return plain(100 * (both - alone * passed / incident) / incident)


@formula(
    "H = 100·Td/Tt = 100·(T4/T2 − T3/T1)",
    source="astm_d1003",
    holds_when="haze up to 30 %; scattered means by more than 2.5°; form from memory",
)
def haze_percent(t1: ArrayLike, t2: ArrayLike, t3: ArrayLike, t4: ArrayLike) -> float | np.ndarray:
    """Share of the passing light that the specimen scatters.

    Parameters
    ----------
    t1, t2, t3, t4 : array_like
        As in `diffuse_transmittance`; they broadcast.

    Returns
    -------
    float or numpy.ndarray
        Haze [%]. NaN where no light passes (T2 = 0: undefined) or a reading is NaN; a small negative value is
        noise and stays.

    Raises
    ------
    ValueError
        For readings out of range.

    Source: `astm_d1003`; form `from_memory`.

    >>> round(haze_percent(100.0, 91.2, 0.6, 2.4), 4)
    2.0316
    """
    incident, passed = _light(t1, t2)
    alone, both = _scatter(t3, t4)
    return plain(100 * (both / np.where(passed > 0, passed, np.nan) - alone / incident))


@formula(
    "u²(H) = 100²·[(u4/T2)² + (T4·u2/T2²)² + (u3/T1)² + (T3·u1/T1²)²]",
    source="gum astm_d1003",
    holds_when="the four readings independent, uncertainties small beside T1 and T2",
)
def transmittance_and_haze(
    t1: float, t2: float, t3: float, t4: float, u_readings: tuple[float, float, float, float] | None = None
) -> Transmittance:
    """Transmittances and haze of one place with uncertainties, and what limits them.

    Parameters
    ----------
    t1, t2, t3, t4 : float
        Readings as in `diffuse_transmittance`.
    u_readings : tuple of float, optional
        Standard uncertainty of each reading, same unit, at least 0.

    Returns
    -------
    Transmittance
        Values [%]; haze None for T2 = 0; notes on the 30 % limit and on readings that cannot be right.

    Raises
    ------
    ValueError
        For readings out of range or NaN.

    Source: `astm_d1003`, `gum`.

    >>> found = transmittance_and_haze(100.0, 91.2, 0.6, 2.4, (0.1, 0.1, 0.02, 0.02))
    >>> round(found.haze, 3), round(found.u_haze, 3)
    (2.032, 0.03)
    """
    for name, reading in (("T1", t1), ("T2", t2), ("T3", t3), ("T4", t4)):
        within(f"reading {name}", reading, has_nan=False)
    total, diffuse = total_transmittance(t1, t2), diffuse_transmittance(t1, t2, t3, t4)
    haze = None if t2 == 0 else haze_percent(t1, t2, t3, t4)
    u_total = u_diffuse = u_haze = None
    if u_readings is not None:
        u1, u2, u3, u4 = (
            float(within("standard uncertainty of a reading", u, at_least=0, has_nan=False)) for u in u_readings
        )
        u_total = 100 * float(np.hypot(u2 / t1, t2 * u1 / t1**2))
        by_t1 = (2 * t3 * t2 / t1 - t4) / t1**2
        u_diffuse = 100 * float(np.linalg.norm([u4 / t1, t2 * u3 / t1**2, t3 * u2 / t1**2, by_t1 * u1]))
        if t2 > 0:
            u_haze = 100 * float(np.linalg.norm([u4 / t2, t4 * u2 / t2**2, u3 / t1, t3 * u1 / t1**2]))
    return Transmittance(
        total, diffuse, total - diffuse, haze, u_total, u_diffuse, u_haze, tuple(_notes(t1, t2, t4, haze))
    )


def _light(t1: ArrayLike, t2: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    return within("reading T1 of the incident light", t1, above=0), within(
        "reading T2 of all the light", t2, at_least=0
    )


def _scatter(t3: ArrayLike, t4: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    return within("reading T3 of the instrument's scatter", t3), within("reading T4 of all scatter", t4)


def _notes(t1: float, t2: float, t4: float, haze: float | None) -> list[str]:
    notes = []
    if haze is None:
        notes.append("no light passes: haze is undefined")
    elif haze > DIFFUSING:
        notes.append(f"haze above {DIFFUSING:g} %: a diffusing material, for which the method does not apply")
    elif haze < 0:
        notes.append("negative haze: noise about zero, kept as read")
    if t2 > t1:
        notes.append("more light behind the specimen than in front of it: check the readings")
    if t4 > t2:
        notes.append("more scattered than total light: check the readings")
    return notes
