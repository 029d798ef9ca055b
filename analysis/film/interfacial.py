"""Interfacial tension of lubricant and liquid when none was measured: four estimates, each with its width.

Every result is marked as an estimate. A width of ±5 mN/m is the least, and enough to flip a verdict on cloaking.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import Numbers, number, said_where
from analysis.formula import formula
from analysis.ranges import plain

LEAST_HALF_WIDTH = 5.0  # mN/m: what an estimate is known to at best
# From memory of how far estimates against water lie from measured values (toluene: 51 against about 36).
AROMATIC_HALF_WIDTH = 16.0
ANTONOW_HALF_WIDTH = 15.0

_AROMATIC = "aromatic lubricant: the true value lies far lower, since ring electrons act with the polar liquid"
_POLAR = "a polar part that was left out makes the true value lower (silicone oils against water: about 38 to 47)"
_WOULD_MIX = "the estimate falls below zero and is given as zero: such liquids would mix"


@dataclass(frozen=True, slots=True)
class InterfacialEstimate:
    """An estimated interfacial tension [mN/m]: never to be taken for a measured one."""

    value: Numbers
    half_width: float  # the true value is expected within value ± half_width, rectangular
    model: str
    notes: tuple[str, ...] = ()
    is_estimate: bool = True

    @property
    def low(self) -> Numbers:
        """Lower end of the width, not below 0 [mN/m]."""
        return plain(np.maximum(self.value - self.half_width, 0.0))

    @property
    def high(self) -> Numbers:
        """Upper end of the width [mN/m]."""
        return self.value + self.half_width

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of a rectangle of that half-width [mN/m]."""
        return self.half_width / math.sqrt(3)

    @property
    def pair(self) -> tuple[Numbers, float]:
        """Value and standard uncertainty, as the film criteria take it."""
        return self.value, self.uncertainty


@formula(
    "γ12 = γ1 + γ2 − 2√(γ1ᵈ γ2ᵈ)",
    source="fowkes_1964",
    holds_when="only dispersion forces act across the interface; saturated oils against water, not aromatic ones",
)
def fowkes_interfacial(
    first_tension: Numbers,
    first_dispersive: Numbers,
    second_tension: Numbers,
    second_dispersive: Numbers,
    *,
    is_aromatic: bool = False,
    half_width: float | None = None,
) -> InterfacialEstimate:
    """Interfacial tension of two liquids estimated from their dispersive parts alone.

    Parameters
    ----------
    first_tension, second_tension : float or array
        Tensions against air [mN/m], 0 or more.
    first_dispersive, second_dispersive : float or array
        Their dispersive parts [mN/m], 0 up to the tension.
    is_aromatic : bool
        One of the liquids has aromatic rings: the width grows and a note says that the true value is far lower.
    half_width : float
        Half-width to state instead of the usual one [mN/m], 5 or more.

    Returns
    -------
    InterfacialEstimate
        Value and half-width [mN/m], marked as estimate.

    Raises
    ------
    ValueError
        For a tension below 0, a part above its whole, a half-width below 5, or a single NaN; NaN in an array
        stays NaN in its place.

    Source: `fowkes_1964`.

    >>> round(fowkes_interfacial(72.8, 21.8, 18.4, 18.4).value, 3)
    51.144
    """
    first, second = _tension("first tension", first_tension), _tension("second tension", second_tension)
    parts = _part("first", first_dispersive, first) * _part("second", second_dispersive, second)
    value = first + second - 2 * np.sqrt(parts)
    return _estimate(value, "Fowkes", is_aromatic=is_aromatic, half_width=half_width, note=_POLAR)


@formula(
    "γ12 = γ1 + γ2 − 2Φ√(γ1 γ2)",
    source="girifalco_good_1957",
    holds_when="Φ known for the pair of kinds of liquid; Φ = 1 only where the same forces act in both",
)
def girifalco_good_interfacial(
    first_tension: Numbers, second_tension: Numbers, phi: Numbers = 1.0, *, half_width: float | None = None
) -> InterfacialEstimate:
    """Interfacial tension of two liquids estimated with an interaction parameter Φ.

    Parameters
    ----------
    first_tension, second_tension : float or array
        Tensions against air [mN/m], 0 or more.
    phi : float or array
        Interaction parameter [-], 0 to 1.5: about 0.55 for alkanes on water, 1 where like meets like.
    half_width : float
        As in `fowkes_interfacial`.

    Returns
    -------
    InterfacialEstimate
        Value and half-width [mN/m]; a value that would fall below 0 is given as 0 and noted.

    Raises
    ------
    ValueError
        As in `fowkes_interfacial`, and for Φ outside 0 to 1.5.

    Source: `girifalco_good_1957`.

    >>> round(girifalco_good_interfacial(72.8, 18.4, 1.0).value, 2)
    18.0
    """
    first, second = _tension("first tension", first_tension), _tension("second tension", second_tension)
    factor = number("interaction parameter Φ", phi, at_least=0, at_most=1.5)
    return _estimate(first + second - 2 * factor * np.sqrt(first * second), "Girifalco–Good", half_width=half_width)


@formula(
    "Φ = (γ1 + γ2 − γ12)/(2√(γ1 γ2))",
    source="girifalco_good_1957",
    holds_when="γ12 measured on the same, mutually saturated liquids",
)
def interaction_parameter(first_tension: Numbers, second_tension: Numbers, interfacial_tension: Numbers) -> Numbers:
    """Interaction parameter Φ of two liquids from their measured interfacial tension.

    Parameters
    ----------
    first_tension, second_tension : float or array
        Tensions against air [mN/m], above 0.
    interfacial_tension : float or array
        Measured tension between them [mN/m], 0 or more.

    Returns
    -------
    float or array
        Φ [-].

    Raises
    ------
    ValueError
        For a tension out of range or a single NaN; NaN in an array stays NaN in its place.

    Source: `girifalco_good_1957`.

    >>> round(interaction_parameter(72.8, 18.4, 51.1), 4)
    0.5478
    """
    first = number("first tension", first_tension, unit="mN/m", above=0)
    second = number("second tension", second_tension, unit="mN/m", above=0)
    between = _tension("interfacial tension", interfacial_tension)
    return plain((first + second - between) / (2 * np.sqrt(first * second)))


@formula(
    "γ12 = γ1 + γ2 − 2√(γ1ᵈ γ2ᵈ) − 2√(γ1ᵖ γ2ᵖ)",
    source="owens_wendt_1969",
    holds_when="dispersive and polar parts of both liquids are known; acid–base action is not described",
)
def owens_wendt_interfacial(
    first_dispersive: Numbers,
    first_polar: Numbers,
    second_dispersive: Numbers,
    second_polar: Numbers,
    *,
    is_aromatic: bool = False,
    half_width: float | None = None,
) -> InterfacialEstimate:
    """Interfacial tension of two liquids estimated from their dispersive and polar parts.

    Parameters
    ----------
    first_dispersive, first_polar, second_dispersive, second_polar : float or array
        Parts of the tensions against air [mN/m], 0 or more.
    is_aromatic, half_width
        As in `fowkes_interfacial`.

    Returns
    -------
    InterfacialEstimate
        (√γ1ᵈ − √γ2ᵈ)² + (√γ1ᵖ − √γ2ᵖ)² [mN/m], which is the same and never below 0; with its half-width.

    Raises
    ------
    ValueError
        As in `fowkes_interfacial`.

    Source: `owens_wendt_1969`.

    >>> round(owens_wendt_interfacial(21.8, 51.0, 19.0, 0.8).value, 2)
    39.12
    """
    dispersive = np.sqrt(_tension("first dispersive part", first_dispersive)) - np.sqrt(
        _tension("second dispersive part", second_dispersive)
    )
    polar = np.sqrt(_tension("first polar part", first_polar)) - np.sqrt(_tension("second polar part", second_polar))
    return _estimate(dispersive**2 + polar**2, "Owens–Wendt", is_aromatic=is_aromatic, half_width=half_width)


@formula(
    "γ12 = |γ1 − γ2|",
    source="antonow_1907",
    holds_when="tensions of the mutually saturated liquids, one of which spreads on the other",
)
def antonow_interfacial(
    first_tension: Numbers, second_tension: Numbers, *, is_aromatic: bool = False, half_width: float | None = None
) -> InterfacialEstimate:
    """Interfacial tension of two liquids estimated as the difference of their tensions.

    Parameters
    ----------
    first_tension, second_tension : float or array
        Tensions against air [mN/m], 0 or more; of fresh liquids the rule may be off by 15 mN/m, of aromatic
        ones by 16.
    is_aromatic, half_width
        As in `fowkes_interfacial`.

    Returns
    -------
    InterfacialEstimate
        Value and half-width [mN/m].

    Raises
    ------
    ValueError
        As in `fowkes_interfacial`.

    Source: `antonow_1907`.

    >>> round(antonow_interfacial(72.8, 18.4).value, 1)
    54.4
    """
    value = np.abs(_tension("first tension", first_tension) - _tension("second tension", second_tension))
    usual = max(ANTONOW_HALF_WIDTH, AROMATIC_HALF_WIDTH) if is_aromatic else ANTONOW_HALF_WIDTH
    width = usual if half_width is None else half_width
    return _estimate(value, "Antonow", is_aromatic=is_aromatic, half_width=width)


@formula(
    "γ1ᵈ = (γ1 + γ2 − γ12)²/(4 γ2ᵈ)",
    source="fowkes_1964",
    holds_when="the second liquid is a saturated hydrocarbon, whose tension is wholly dispersive",
)
def dispersive_part(
    liquid_tension: Numbers,
    probe_tension: Numbers,
    interfacial_tension: Numbers,
    probe_dispersive: Numbers | None = None,
) -> Numbers:
    """Dispersive part of a liquid's tension from its measured interfacial tension against a dispersive liquid.

    Parameters
    ----------
    liquid_tension, interfacial_tension : float or array
        Of the liquid against air and against the probe liquid, measured [mN/m], 0 or more.
    probe_tension : float or array
        Of the probe liquid against air [mN/m], above 0.
    probe_dispersive : float or array
        Its dispersive part [mN/m], above 0 up to its tension; left out: the whole tension, as for alkanes.

    Returns
    -------
    float or array
        Dispersive part [mN/m].

    Raises
    ------
    ValueError
        For a tension out of range or a single NaN; NaN in an array stays NaN in its place. For an interfacial
        tension above the sum of the two tensions, which no liquid pair has, or one so low that the part would
        exceed its whole: then not only dispersion forces act.

    Source: `fowkes_1964`.

    >>> round(dispersive_part(72.8, 18.4, 51.1), 3)
    21.848
    """
    liquid = _tension("liquid tension", liquid_tension)
    probe = number("tension of the probe liquid", probe_tension, unit="mN/m", above=0)
    part = probe if probe_dispersive is None else _part("probe's", probe_dispersive, probe)
    number("probe's dispersive part", part, unit="mN/m", above=0)
    work = liquid + probe - _tension("interfacial tension", interfacial_tension)
    if np.any(work < 0):
        raise ValueError(f"an interfacial tension of {interfacial_tension} mN/m exceeds the sum of the two tensions")
    found = plain(work**2 / (4 * part))
    _part("liquid's", found, liquid)
    return found


def _tension(name: str, value: Numbers) -> np.ndarray:
    return number(name, value, unit="mN/m", at_least=0)


def _part(name: str, value: Numbers, whole: np.ndarray) -> np.ndarray:
    part = _tension(f"{name} dispersive part", value)
    if np.any(part > whole * (1 + 1e-12)):
        raise ValueError(f"the {name} dispersive part {value} mN/m exceeds its tension {plain(whole)} mN/m")
    return part


def _estimate(value, model, *, is_aromatic=False, half_width=None, note="") -> InterfacialEstimate:
    width = (AROMATIC_HALF_WIDTH if is_aromatic else LEAST_HALF_WIDTH) if half_width is None else float(half_width)
    if not LEAST_HALF_WIDTH <= width < math.inf:
        raise ValueError(f"an estimate is known to ±{LEAST_HALF_WIDTH:g} mN/m at best, not ±{width:g}")
    notes = tuple(filter(None, (_AROMATIC if is_aromatic else "", note))) + said_where(value < -1e-9, _WOULD_MIX)
    return InterfacialEstimate(plain(np.maximum(value, 0.0)), width, model, notes)
