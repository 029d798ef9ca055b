"""Refractive index of a porous layer: three published mixing rules, and the porosity behind a measured index."""

from __future__ import annotations

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within

MIXING_RULES = ("volume_average", "bruggeman", "lorentz_lorenz")
_STATEMENT = (
    "volume average: n² = (1 − p)·ns² + p·np²; Bruggeman: Σ fi·(εi − ε)/(εi + 2ε) = 0; "
    "Lorentz–Lorenz: (n² − 1)/(n² + 2) = Σ fi·(ni² − 1)/(ni² + 2); ε = n²"
)
_ROUNDING = 1e-12  # relative: by so much an index mixed without pores, or of pores alone, may leave its bounds
_HOLDS = "pores far below the wavelength, no absorption; for silica with air the rules differ by up to 0.04"


@formula(_STATEMENT, source="volume_average_index bruggeman_1935 lorentz_lorenz", holds_when=_HOLDS)
def effective_index(solid_index, pore_index, porosity, *, rule: str = "volume_average"):
    """Refractive index of a porous layer whose pores hold air, oil or water.

    Parameters
    ----------
    solid_index, pore_index : float or array
        Refractive indices of the solid and of what fills the pores [-], above 0.
    porosity : float or array
        Share of pores in the volume [-], 0 to 1.
    rule : str
        "volume_average" of n² (upper bound), "bruggeman" (both phases alike, spherical), or "lorentz_lorenz"
        (polarisabilities add). Which one fits depends on the shape of the pores; state it with the result.

    Returns
    -------
    float or array
        Effective refractive index [-], between that of solid and pores.

    Raises
    ------
    ValueError
        For a value out of range or an unknown rule. NaN gives NaN in its place.

    Source: `volume_average_index`, `bruggeman_1935`, `lorentz_lorenz`.

    >>> round(effective_index(1.46, 1.0, 0.5), 4), round(effective_index(1.46, 1.0, 0.5, rule="bruggeman"), 4)
    (1.2513, 1.2229)
    """
    solid, pores = _permittivity("solid", solid_index), _permittivity("pores", pore_index)
    share = within("porosity", porosity, at_least=0, at_most=1)
    if _known(rule) == "volume_average":
        mixed = (1 - share) * solid + share * pores
    elif rule == "bruggeman":
        half = (2 - 3 * share) * solid + (3 * share - 1) * pores
        mixed = _bruggeman_root(half, solid * pores)
    else:
        polar = (1 - share) * (solid - 1) / (solid + 2) + share * (pores - 1) / (pores + 2)
        mixed = (1 + 2 * polar) / (1 - polar)
    return plain(np.sqrt(mixed))


def _bruggeman_root(half, product):
    """The positive root of 2ε² − half·ε − product = 0, written so that no digits cancel for a negative half."""
    root = np.sqrt(half**2 + 8 * product)
    return np.where(half >= 0, (half + root) / 4, 2 * product / (root - np.minimum(half, 0)))


@formula(
    _STATEMENT + "; solved for p",
    source="volume_average_index bruggeman_1935 lorentz_lorenz",
    holds_when=_HOLDS,
)
def porosity_from_index(layer_index, solid_index, pore_index=1.0, *, rule: str = "volume_average"):
    """Share of pores that a measured refractive index of a layer stands for.

    Parameters
    ----------
    layer_index : float or array
        Measured refractive index of the layer [-], between that of solid and pores.
    solid_index, pore_index : float or array
        Refractive indices of solid and pores [-], above 0, different from each other.
    rule : str
        As in `effective_index`.

    Returns
    -------
    float or array
        Porosity [-], 0 to 1.

    Raises
    ------
    ValueError
        For a value out of range, an unknown rule, equal indices of solid and pores, or a layer index that does
        not lie between them. NaN gives NaN in its place.

    Source: `volume_average_index`, `bruggeman_1935`, `lorentz_lorenz`.

    >>> round(porosity_from_index(1.22, 1.46), 4)
    0.5684
    """
    layer, solid = _permittivity("layer", layer_index), _permittivity("solid", solid_index)
    pores = _permittivity("pores", pore_index)
    if np.equal(solid, pores).any():
        raise ValueError("refractive indices of solid and pores must differ: no layer between them tells a porosity")
    if _known(rule) == "volume_average":
        short, far = solid - layer, solid - pores
    elif rule == "bruggeman":
        short = (solid - layer) / (solid + 2 * layer)
        far = short - (pores - layer) / (pores + 2 * layer)
    else:
        short, far = _polar(solid) - _polar(layer), _polar(solid) - _polar(pores)
    outside = (layer - solid) * (layer - pores) > _ROUNDING * np.abs(solid - pores) * layer
    if outside.any():
        worst = np.sqrt(np.broadcast_to(layer, outside.shape)[outside].flat[0])
        raise ValueError(f"refractive index of the layer must lie between that of solid and pores, not {worst:g}")
    return plain(np.clip(short / far, 0.0, 1.0))


def _polar(permittivity):
    return (permittivity - 1) / (permittivity + 2)


def _permittivity(name: str, index):
    return within(f"refractive index of the {name}", index, above=0) ** 2


def _known(rule: str) -> str:
    if rule not in MIXING_RULES:
        raise ValueError(f"mixing rule must be one of {', '.join(MIXING_RULES)}, not {rule!r}")
    return rule
