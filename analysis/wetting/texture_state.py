"""Whether a drop rests on a texture or sinks into it: crossover angle, state of lower energy, robustness.

Numbers or arrays that broadcast. NaN in an array stays NaN in its place; a single NaN is refused.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.angles import wenzel_angle_deg
from analysis.wetting.cassie import flat_tops_angle_deg
from analysis.wetting.inputs import contact_angle, number, positive

WENZEL, CASSIE, EQUAL = "wenzel", "cassie", "equal"
_ROUNDING = 1e-12


@dataclass(frozen=True, slots=True)
class TextureState:
    """Both states of a drop on flat tops, and which of them has the lower energy."""

    stable: str | np.ndarray  # "wenzel", "cassie" or "equal"; "" where an input is NaN
    stable_angle_deg: float | np.ndarray  # apparent angle in that state
    wenzel_angle_deg: float | np.ndarray
    cassie_angle_deg: float | np.ndarray
    crossover_angle_deg: float | np.ndarray
    cassie_excess: float | np.ndarray  # energy of Cassie above Wenzel, per projected area and per γ [-]


@formula("cos θc = (φ − 1)/(r − φ)", source="wenzel_1936 cassie_baxter_1944", holds_when="flat-topped texture")
def crossover_angle_deg(roughness: ArrayLike, solid_fraction: ArrayLike) -> float | np.ndarray:
    """Angle on the smooth solid above which a drop on the tops has less energy than one that fills the texture.

    Parameters
    ----------
    roughness : array_like
        True over projected area r [-], 1 or more.
    solid_fraction : array_like
        Area of the tops per projected area φ [-], 0 to 1.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg], never below 90: no liquid with a smaller angle rests stably on flat tops.

    Raises
    ------
    ValueError
        Out of range; a smooth surface (r = φ = 1), which has no two states; a single NaN.

    Source: `wenzel_1936`, `cassie_baxter_1944`: both formulas set equal.

    >>> round(crossover_angle_deg(2.0, 0.25), 3)
    115.377
    """
    ratio = number("roughness factor", roughness, at_least=1)
    tops = number("solid fraction", solid_fraction, at_least=0, at_most=1)
    number("r − φ (0 for a smooth surface, which has no two states)", ratio - tops, above=0)
    return plain(np.degrees(np.arccos((tops - 1) / (ratio - tops))))


@formula(
    "E(Cassie) − E(Wenzel) = γ[r·cos θY − φ(cos θY + 1) + 1];  cos θc = (φ − 1)/(r − φ)",
    source="wenzel_1936 cassie_baxter_1944",
    holds_when="flat-topped texture small against the drop; says which state is stable, not how high the barrier is",
)
def texture_state(young_deg: ArrayLike, roughness: ArrayLike, solid_fraction: ArrayLike) -> TextureState:
    """Which of the two states of a drop on flat tops is stable, and the apparent angle in each.

    Parameters
    ----------
    young_deg : array_like
        Angle on the smooth solid [deg], 0 to 180.
    roughness, solid_fraction : array_like
        r, 1 or more, and φ, 0 to 1 [-].

    Returns
    -------
    TextureState
        A drop may stay on the tops although the other state has less energy (metastable), until pressure,
        vibration or evaporation let it in; once in, it does not come back by itself.

    Raises
    ------
    ValueError
        As in `crossover_angle_deg`.

    Source: `wenzel_1936`, `cassie_baxter_1944`.

    >>> found = texture_state([120, 60], 2.0, 0.25)
    >>> found.stable.tolist(), found.stable_angle_deg.round(1).tolist()
    (['cassie', 'wenzel'], [151.0, 0.0])
    """
    crossover = crossover_angle_deg(roughness, solid_fraction)
    wenzel, cassie = wenzel_angle_deg(young_deg, roughness), flat_tops_angle_deg(young_deg, solid_fraction)
    cosine = np.cos(contact_angle(young_deg))
    ratio, tops = np.asarray(roughness, dtype=float), np.asarray(solid_fraction, dtype=float)
    excess = ratio * cosine - tops * (cosine + 1) + 1
    kinds = [np.abs(excess) <= _ROUNDING * ratio, excess > 0, excess < 0]
    stable = np.select(kinds, [EQUAL, WENZEL, CASSIE], "")
    shape = stable.shape
    angle = np.where(stable == CASSIE, cassie, wenzel) + 0 * excess  # NaN where excess is
    whole = (np.broadcast_to(item, shape) for item in (angle, wenzel, cassie, crossover, excess))
    return TextureState(plain(stable), *(plain(item) for item in whole))


@formula(
    "A* = lc(1 − cos θ)/{R(D* − 1)(D* − 1 + 2 sin θ)},  lc = √(γ/ρg)",
    source="nat_sustain_2020",
    holds_when="fibres or a mesh of round wires; sagging of the liquid between them; below 1 it collapses",
)
def robustness(
    contact_angle_deg: ArrayLike, spacing_ratio: ArrayLike, fibre_radius_um: ArrayLike, capillary_length_mm: ArrayLike
) -> float | np.ndarray:
    """Pressure at which a liquid breaks through fibres, over the pressure of a drop or puddle of it.

    Parameters
    ----------
    contact_angle_deg : array_like
        Angle on the fibre [deg], 0 to 180; for fibres with particles, the apparent angle on the particles.
    spacing_ratio : array_like
        D* = (R + D)/R [-], above 1.
    fibre_radius_um : array_like
        R [um], above 0: half the diameter.
    capillary_length_mm : array_like
        Of the liquid [mm], above 0.

    Returns
    -------
    float or numpy.ndarray
        Robustness A* [-]; below 1 the liquid enters under its own weight.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> round(robustness(35, 1 + 43 / 36, 18, 1.9), 2)
    6.83
    """
    angle = contact_angle(contact_angle_deg)
    gap = number("spacing ratio D*", spacing_ratio, above=1) - 1
    return plain(_reach(angle, fibre_radius_um, capillary_length_mm) / (gap * (gap + 2 * np.sin(angle))))


@formula(
    "D* = 1 − sin θ + √{sin²θ + lc(1 − cos θ)/(R·A*)}",
    source="nat_sustain_2020",
    holds_when="as for the robustness, solved for D*",
)
def largest_spacing_ratio(
    contact_angle_deg: ArrayLike,
    wanted_robustness: ArrayLike,
    fibre_radius_um: ArrayLike,
    capillary_length_mm: ArrayLike,
) -> float | np.ndarray:
    """Widest spacing of fibres that still has a wanted robustness.

    Parameters
    ----------
    contact_angle_deg, fibre_radius_um, capillary_length_mm : array_like
        As in `robustness` [deg], [um], [mm].
    wanted_robustness : array_like
        A* [-], above 0.

    Returns
    -------
    float or numpy.ndarray
        D* [-].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `nat_sustain_2020`.

    >>> round(largest_spacing_ratio(60, 1, 10, 1.9), 3)
    9.919
    """
    angle, wanted = contact_angle(contact_angle_deg), positive("robustness A*", wanted_robustness)
    part = _reach(angle, fibre_radius_um, capillary_length_mm) / wanted
    sine = np.sin(angle)
    return plain(1 - sine + np.sqrt(sine**2 + part))


def _reach(angle: np.ndarray, fibre_radius_um: ArrayLike, capillary_length_mm: ArrayLike) -> np.ndarray:
    radius = positive("fibre radius", fibre_radius_um, "um")
    length = positive("capillary length", capillary_length_mm, "mm")
    return 1e3 * length * 2 * np.sin(angle / 2) ** 2 / radius
