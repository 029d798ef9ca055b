"""Colour of a thin film from its thickness, and all thicknesses that a measured colour can mean."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.optics.colorimetry import VISIBLE_NM, Colour, colour_difference, lab_values, spectrum_colour
from analysis.optics.reflectance import LayerIndex, film_reflectance
from analysis.ranges import within

THICKEST_COLOUR_NM = 1000.0  # fringes of thicker films are too narrow for a spectrum in steps of 5 nm
_GRID_NM = 0.5
_TOLD_APART = 1e-3  # ΔE by which the colour must pass away between two thicknesses, or they are one


@dataclass(frozen=True, slots=True)
class ThicknessCandidate:
    """One film thickness that gives nearly the measured colour."""

    thickness_nm: float
    difference: float  # ΔE between the film of this thickness and the measured colour [-]
    low_nm: float  # between low and high the difference stays within the tolerance
    high_nm: float
    lab: tuple[float, float, float]  # the colour computed for this thickness


@dataclass(frozen=True, slots=True)
class ThicknessMatch:
    """All film thicknesses that a measured colour can mean, the best one first; empty when none fits."""

    candidates: tuple[ThicknessCandidate, ...]
    nearest: ThicknessCandidate  # the best one, whether or not it lies within the tolerance
    tolerance: float  # largest ΔE that counts as fitting [-]
    rule: str
    low_nm: float  # the thicknesses searched
    high_nm: float

    @property
    def is_found(self) -> bool:
        """Whether any thickness fits."""
        return bool(self.candidates)

    @property
    def is_unique(self) -> bool:
        """Whether exactly one thickness fits among those searched."""
        return len(self.candidates) == 1

    @property
    def note(self) -> str:
        """What the search found, in one sentence."""
        searched = f"between {self.low_nm:g} and {self.high_nm:g} nm"
        limit = f"ΔE {self.tolerance:g} ({self.rule})"
        if not self.candidates:
            near = self.nearest
            return (
                f"No thickness {searched} has this colour within {limit}: the nearest, {near.thickness_nm:.1f} nm, is "
                f"{near.difference:.1f} away. Film, substrate, roughness or the geometry of the reading differ from "
                f"the model."
            )
        if any((one.low_nm, one.high_nm) == (self.low_nm, self.high_nm) for one in self.candidates):
            return f"Every thickness {searched} fits within {limit}: this colour does not tell the thickness."
        listed = ", ".join(f"{one.thickness_nm:.1f} nm (ΔE {one.difference:.1f})" for one in self.candidates)
        if self.is_unique:
            return f"One thickness {searched} fits within {limit}: {listed}."
        return (
            f"{len(self.candidates)} thicknesses {searched} fit within {limit}, since colours repeat: {listed}. The "
            f"colour alone does not say which.{self._stretches}"
        )

    @property
    def _stretches(self) -> str:
        """Where several candidates lie in one stretch that fits from end to end."""
        ends = [(one.low_nm, one.high_nm) for one in self.candidates]
        shared = sorted({pair for pair in ends if ends.count(pair) > 1})
        return "".join(f" Every thickness from {low:.1f} to {high:.1f} nm fits." for low, high in shared)


@formula(
    "R(λ, d) of one film by Airy's sum; from it XYZ (2°, D65), L*a*b*, sRGB",
    source="thin_film_airy cie_015 iec_61966_2_1",
    holds_when="even, smooth, non-scattering film on an opaque smooth substrate, seen straight on with its gloss",
    library="colour.msds_to_XYZ",
)
def film_colour(thickness_nm, film: LayerIndex, substrate: LayerIndex, ambient: float = 1.0) -> Colour:
    """Colour of a substrate with one film, such as an anodic oxide on titanium or a coating on silicon.

    Parameters
    ----------
    thickness_nm : float or array
        Film thickness [nm], 0 to 1000.
    film, substrate : OpticalConstants or complex
        Table of a material that covers 380 to 780 nm, or one n + i·k [-] for all wavelengths.
    ambient : float
        Refractive index above the film [-], above 0: 1 in air, about 1.33 under water.

    Returns
    -------
    Colour
        One colour for each thickness: XYZ, L*a*b*, sRGB with the word whether it had to be cut off.

    Raises
    ------
    ValueError
        For a value out of range. A NaN thickness has the colour NaN.

    Source: `thin_film_airy`, `cie_015`.

    >>> from analysis.optics.constants import AMORPHOUS_TITANIA, TITANIUM
    >>> film_colour(48, AMORPHOUS_TITANIA, TITANIUM).lab.round(2)
    array([ 43.01,   6.14, -43.65])
    """
    thickness = within("film thickness", thickness_nm, "nm", at_least=0, at_most=THICKEST_COLOUR_NM)
    return spectrum_colour(film_reflectance(thickness[..., None], np.array(VISIBLE_NM), film, substrate, ambient))


@formula(
    "all local minima over d of ΔE(L*a*b* of film(d), measured L*a*b*) that are at most the tolerance, "
    "with more than 0.001 between them",
    source="thin_film_airy sharma_2005",
    holds_when="as for the colour of a film; optical constants that fit the film at hand",
    library="scipy.signal.find_peaks, scipy.optimize.minimize_scalar",
)
def thicknesses_from_colour(
    lab,
    film: LayerIndex,
    substrate: LayerIndex,
    *,
    ambient: float = 1.0,
    low_nm: float = 0.0,
    high_nm: float = 300.0,
    tolerance: float = 5.0,
    rule: str = "CIE 2000",
) -> ThicknessMatch:
    """All film thicknesses that a measured colour can mean.

    Parameters
    ----------
    lab : array of 3
        Measured L*, a*, b* [-], for D65 and the 2° observer, gloss included.
    film, substrate : OpticalConstants or complex
        As in `film_colour`.
    ambient : float
        Refractive index above the film [-].
    low_nm, high_nm : float
        Thicknesses to search [nm], 0 up to 1000, low below high.
    tolerance : float
        Largest colour difference that counts as fitting [-], above 0. Tables of optical constants alone move a
        colour by several ΔE.
    rule : str
        Colour difference, "CIE 2000" or "CIE 1976".

    Returns
    -------
    ThicknessMatch
        Candidates by rising difference, each with the range around it that fits; `nearest` and `note` also when
        none does. Dips of the difference that less than 0.001 keeps apart count as one.

    Raises
    ------
    ValueError
        For a value out of range, NaN, or more than one colour.

    Source: `thin_film_airy`, `sharma_2005`.

    >>> from analysis.optics.constants import AMORPHOUS_TITANIA, TITANIUM
    >>> match = thicknesses_from_colour([43.01, 6.14, -43.65], AMORPHOUS_TITANIA, TITANIUM)
    >>> round(match.nearest.thickness_nm, 1), match.is_unique
    (48.0, True)
    """
    target = within("L*, a* or b*", lab_values(lab), has_nan=False)
    if target.shape != (3,):
        raise ValueError(f"one colour must be given, three numbers, not {target.shape}")
    limit = float(within("tolerance", tolerance, above=0, has_nan=False))
    grid = _grid(low_nm, high_nm)

    def difference(thickness):
        return colour_difference(film_colour(thickness, film, substrate, ambient).lab, target, rule)

    differences = within("colour difference from the optical constants", difference(grid), has_nan=False)
    found = [_refined(place, grid, differences, difference) for place in _dips(differences)]
    ranked = sorted(found, key=lambda pair: (round(pair[1], 9), pair[0]))
    colours = film_colour(np.array([thickness for thickness, _ in ranked]), film, substrate, ambient).lab.tolist()
    candidates = tuple(
        ThicknessCandidate(at, apart, *_range(at, apart, grid, differences, limit), tuple(colour))
        for (at, apart), colour in zip(ranked, colours, strict=True)
    )
    fitting = tuple(one for one in candidates if one.difference <= limit)
    return ThicknessMatch(fitting, candidates[0], limit, rule, float(grid[0]), float(grid[-1]))


def _grid(low_nm: float, high_nm: float) -> np.ndarray:
    low = float(within("lowest thickness", low_nm, "nm", at_least=0, at_most=THICKEST_COLOUR_NM, has_nan=False))
    high = float(within("highest thickness", high_nm, "nm", above=low, at_most=THICKEST_COLOUR_NM, has_nan=False))
    return np.linspace(low, high, max(3, 1 + int(np.ceil((high - low) / _GRID_NM))))


def _dips(differences: np.ndarray) -> np.ndarray:
    """Places of the local minima, both ends included; of a flat stretch only its middle."""
    from scipy.signal import find_peaks

    rim = [differences.max() + 1]
    return find_peaks(-np.concatenate((rim, differences, rim)), prominence=_TOLD_APART)[0] - 1


def _refined(place: int, grid: np.ndarray, differences: np.ndarray, difference: Callable) -> tuple[float, float]:
    """Thickness and difference at the bottom of a dip between the neighbours of its lowest grid point."""
    from scipy.optimize import minimize_scalar

    between = grid[max(place - 1, 0)], grid[min(place + 1, len(grid) - 1)]
    best = minimize_scalar(difference, bounds=between, method="bounded", options={"xatol": 1e-6})
    on_grid = float(grid[place]), float(differences[place])  # exact at the ends, where the search stops short
    return min(on_grid, (float(best.x), float(best.fun)), key=lambda pair: pair[1])


def _range(at: float, apart: float, grid: np.ndarray, differences: np.ndarray, limit: float) -> tuple[float, float]:
    """How far the thickness may move to either side until the difference passes the limit."""
    if apart > limit:
        return at, at
    thinner, thicker = grid < at, grid > at
    low = _edge(at, apart, grid[thinner][::-1], differences[thinner][::-1], limit)
    return low, _edge(at, apart, grid[thicker], differences[thicker], limit)


def _edge(at: float, apart: float, grid: np.ndarray, differences: np.ndarray, limit: float) -> float:
    past = np.flatnonzero(differences > limit)
    if not len(past):
        return float(grid[-1]) if len(grid) else at
    end = past[0]
    inner, held = (grid[end - 1], differences[end - 1]) if end else (at, apart)
    return float(inner + (grid[end] - inner) * (limit - held) / (differences[end] - held))
