"""How much lubricant a coupon carries, from weighing it: thickness, overfill, share left, what the balance can see."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.film.arguments import Numbers, number, said_where, split
from analysis.film.stability import COVERAGE
from analysis.formula import formula
from analysis.ranges import plain

Pair = tuple[Numbers, Numbers]  # value and standard uncertainty
_UNDERFILLED = "less lubricant than the texture holds: the tops are bare or the texture is not filled everywhere"
_GAINED = "more lubricant than at the start: a weighing error, or something was taken up"
_NOT_RESOLVED = "the balance cannot tell this difference from none"


@dataclass(frozen=True, slots=True)
class LubricantAmount:
    """Lubricant on a coupon: mean thickness, volume per area, and how it compares with the texture's room."""

    thickness_um: Numbers
    uncertainty_um: Numbers  # standard uncertainty of the thickness
    per_area_ul_cm2: Numbers
    overfill_um: Numbers | None  # beyond the room below the tops; below 0 the texture is not full
    overfill_uncertainty_um: Numbers | None
    filled_share: Numbers | None  # of the room below the tops, 1 = just full
    outside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ShareRetained:
    """Lubricant left as a share of what there was [-], with its standard uncertainty."""

    share: Numbers
    uncertainty: Numbers
    outside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MassDifference:
    """A difference of two weighings as a thickness, and whether the balance resolves it."""

    thickness_um: Numbers
    uncertainty_um: Numbers  # standard uncertainty, from the balance alone
    step_um: Numbers  # one step of the balance's display
    is_resolved: bool | np.ndarray
    outside: tuple[str, ...] = ()


@formula(
    "h = m/(ρA)",
    source="gravimetry",
    holds_when="all of the mass is lubricant on this area; none on the back or the edges",
)
def lubricant_thickness_um(mass_mg: Numbers, area_mm2: Numbers, density: Numbers) -> Numbers:
    """Mean thickness of the lubricant on a coupon, from its mass.

    Parameters
    ----------
    mass_mg : float or array
        Mass of the lubricant [mg]: filled coupon less dry coupon. Below 0 where the weighings say so.
    area_mm2 : float or array
        Projected area that carries it [mm2], above 0; both sides, if both are wetted.
    density : float or array
        Of the lubricant [kg/m3], above 0.

    Returns
    -------
    float or array
        Volume per projected area [um]; what lies inside the texture counts too.

    Raises
    ------
    ValueError
        For an area or density not above 0 or a single NaN; NaN in an array stays NaN in its place.

    Source: `gravimetry`.

    >>> round(lubricant_thickness_um(12.5, 625.0, 930.0), 4)
    21.5054
    """
    mass = number("mass", mass_mg, unit="mg")
    area = number("area", area_mm2, unit="mm²", above=0)
    return plain(1e6 * mass / (area * number("density", density, unit="kg/m³", above=0)))


@formula(
    "h = m/(ρA), overfill = h − v, u²(h) = h²[(u_m/m)² + (u_A/A)² + (u_ρ/ρ)²]",
    source="gravimetry gum",
    holds_when="inputs uncorrelated and known to a few per cent; back and edges free of lubricant",
)
def lubricant_amount(
    *,
    mass_mg: Numbers | Pair,
    area_mm2: Numbers | Pair,
    density: Numbers | Pair,
    void_um: Numbers | Pair | None = None,
) -> LubricantAmount:
    """Lubricant on a coupon against the room in its texture, with the uncertainties propagated.

    Parameters
    ----------
    mass_mg, area_mm2, density
        As in `lubricant_thickness_um` [mg], [mm2], [kg/m3], each an exact number or a pair (value, standard
        uncertainty).
    void_um
        Room below the tops per area, `Texture.void_um` [um], 0 or more, in the same way; None without texture.

    Returns
    -------
    LubricantAmount
        Thickness [um], volume per area [uL/cm2], overfill [um] and filled share [-]: inf without room, NaN with
        neither room nor lubricant. `outside` says where the texture is not full.

    Raises
    ------
    ValueError
        As in `lubricant_thickness_um`, and for an uncertainty below 0.

    Source: `gravimetry`, `gum`.

    >>> found = lubricant_amount(mass_mg=(12.5, 0.1), area_mm2=625.0, density=930.0, void_um=7.5)
    >>> round(found.overfill_um, 3), round(found.uncertainty_um, 3)
    (14.005, 0.172)
    """
    (mass, u_mass), (area, u_area), (rho, u_rho) = (
        _pair("mass", mass_mg), _pair("area", area_mm2), _pair("density", density)
    )  # fmt: skip
    thickness = lubricant_thickness_um(mass, area, rho)
    per_mass = 1e6 / (area * rho)  # slope, so that a mass of 0 needs no relative uncertainty
    uncertainty = np.sqrt((per_mass * u_mass) ** 2 + thickness**2 * ((u_area / area) ** 2 + (u_rho / rho) ** 2))
    per_area = plain(np.asarray(thickness) / 10)
    if void_um is None:
        return LubricantAmount(thickness, plain(uncertainty), per_area, None, None, None)
    void, u_void = _pair("room below the tops", void_um)
    number("room below the tops", void, unit="µm", at_least=0)
    overfill = thickness - void
    with np.errstate(divide="ignore", invalid="ignore"):  # without room the share is endless, or NaN for 0/0
        share = thickness / void
    return LubricantAmount(
        thickness, plain(uncertainty), per_area, plain(overfill), plain(np.hypot(uncertainty, u_void)),
        plain(share), said_where(overfill < -1e-12 * void, _UNDERFILLED),
    )  # fmt: skip


@formula(
    "s = m/m0, u²(s) = (u_m/m0)² + (s·u_m0/m0)²",
    source="gravimetry gum",
    holds_when="the same coupon, weighed dry of the challenge liquid; the two masses uncorrelated",
)
def share_retained(mass_mg: Numbers | Pair, start_mg: Numbers | Pair) -> ShareRetained:
    """Share of the lubricant that is still there.

    Parameters
    ----------
    mass_mg, start_mg
        Mass of the lubricant now and at the start [mg], each an exact number or a pair (value, standard
        uncertainty); the start above 0.

    Returns
    -------
    ShareRetained
        Share [-] with standard uncertainty; it may lie below 0 or above 1 by weighing error, and `outside`
        says where it lies above 1.

    Raises
    ------
    ValueError
        For a start not above 0, an uncertainty below 0, or a single NaN; NaN in an array stays NaN.

    Source: `gravimetry`, `gum`.

    >>> round(share_retained(9.0, 12.0).share, 4)
    0.75
    """
    (mass, u_mass), (start, u_start) = _pair("mass", mass_mg), _pair("mass at the start", start_mg)
    number("mass at the start", start, unit="mg", above=0)
    share = mass / start
    return ShareRetained(
        plain(share), plain(np.hypot(u_mass / start, share * u_start / start)), said_where(share > 1, _GAINED)
    )


@formula("Δh = d/(ρA)", source="gravimetry", holds_when="the display is what limits: no drift, no draught")
def balance_step_um(step_mg: Numbers, area_mm2: Numbers, density: Numbers) -> Numbers:
    """One step of a balance's display as a thickness of lubricant.

    Parameters
    ----------
    step_mg : float or array
        Smallest difference that the balance shows [mg], above 0.
    area_mm2, density : float or array
        As in `lubricant_thickness_um` [mm2], [kg/m3].

    Returns
    -------
    float or array
        Thickness [um].

    Raises
    ------
    ValueError
        For an input not above 0 or a single NaN; NaN in an array stays NaN in its place.

    Source: `gravimetry`.

    >>> round(balance_step_um(0.1, 625.0, 930.0), 3)
    0.172
    """
    return lubricant_thickness_um(number("step of the balance", step_mg, unit="mg", above=0), area_mm2, density)


@formula(
    "u(Δm) = √(2(d²/12 + s²)); resolved when |Δm| > 2u",
    source="gum gravimetry",
    holds_when="both weighings on the same balance, rounding rectangular, repeatability s normal",
)
def mass_difference(
    *,
    difference_mg: Numbers,
    area_mm2: Numbers,
    density: Numbers,
    step_mg: Numbers,
    repeatability_mg: Numbers = 0.0,
) -> MassDifference:
    """Whether a balance resolves the difference of two weighings of a coupon.

    Parameters
    ----------
    difference_mg : float or array
        Later less earlier mass [mg].
    area_mm2, density : float or array
        As in `lubricant_thickness_um` [mm2], [kg/m3].
    step_mg : float or array
        Smallest difference that the balance shows [mg], above 0.
    repeatability_mg : float or array
        Standard deviation of repeated weighings [mg], 0 or more.

    Returns
    -------
    MassDifference
        Thickness with the standard uncertainty that the balance alone leaves [um]; resolved where the
        difference exceeds twice that. Drift and handling come on top.

    Raises
    ------
    ValueError
        For an input out of range or a single NaN; NaN in an array stays NaN and is not resolved.

    Source: `gum`, `gravimetry`.

    >>> mass_difference(difference_mg=0.05, area_mm2=625, density=930, step_mg=0.1).is_resolved
    False
    """
    step = number("step of the balance", step_mg, unit="mg", above=0)
    spread = number("repeatability", repeatability_mg, unit="mg", at_least=0)
    difference = number("difference", difference_mg, unit="mg")
    uncertainty = np.sqrt(2 * (step**2 / 12 + spread**2))
    thickness = lubricant_thickness_um(difference, area_mm2, density)
    shape = np.broadcast_shapes(np.shape(thickness), uncertainty.shape)
    is_resolved = np.array(np.broadcast_to(np.abs(difference) > COVERAGE * uncertainty, shape))
    return MassDifference(
        thickness,
        lubricant_thickness_um(uncertainty, area_mm2, density),
        balance_step_um(step, area_mm2, density),
        plain(is_resolved),
        said_where(~is_resolved & ~np.isnan(difference), _NOT_RESOLVED),
    )


def _pair(name: str, given) -> tuple[np.ndarray, np.ndarray]:
    value, uncertainty = split(name, given)
    return number(name, value), number(f"standard uncertainty of the {name}", uncertainty, at_least=0)
