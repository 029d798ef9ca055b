"""Optical constants of solids against wavelength, each table with its source."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within


@dataclass(frozen=True, slots=True)
class OpticalConstants:
    """Refractive index n and absorption index k of one material, tabulated against wavelength."""

    name: str
    source: str  # key of analysis.sources, or where the lab has its own table from
    rows: tuple[tuple[float, float, float], ...]  # wavelength [nm] rising, n [-] above 0, k [-] from 0

    def __post_init__(self) -> None:
        if not self.source:
            raise ValueError(f"the optical constants of {self.name} need a source")
        table = within(f"optical constants of {self.name}", self.rows, has_nan=False)
        if table.ndim != 2 or table.shape[1] != 3 or len(table) < 2:
            raise ValueError(f"the optical constants of {self.name} are at least two rows of wavelength, n and k")
        within(f"wavelength for {self.name}", table[:, 0], "nm", above=0)
        within(f"step of wavelength for {self.name}", np.diff(table[:, 0]), "nm", above=0)
        within(f"refractive index of {self.name}", table[:, 1], above=0)
        within(f"absorption index of {self.name}", table[:, 2], at_least=0)

    @property
    def shortest_nm(self) -> float:
        """First wavelength of the table [nm]."""
        return self.rows[0][0]

    @property
    def longest_nm(self) -> float:
        """Last wavelength of the table [nm]."""
        return self.rows[-1][0]


# Both tables as in the refractiveindex.info database (CC0).
_TITANIUM = (
    (354, 1.82, 2.87), (368, 1.90, 2.90), (381, 1.99, 2.93), (397, 2.08, 2.95), (413, 2.14, 2.98),
    (431, 2.21, 3.01), (451, 2.27, 3.04), (471, 2.32, 3.10), (496, 2.36, 3.19), (521, 2.44, 3.30),
    (549, 2.54, 3.43), (582, 2.60, 3.58), (617, 2.67, 3.72), (659, 2.76, 3.84), (704, 2.86, 3.96),
    (756, 3.00, 4.01), (821, 3.21, 4.01),
)  # fmt: skip

_AMORPHOUS_TITANIA = (
    (359.37, 2.86461), (369, 2.79174), (378, 2.74215), (389.89, 2.69131), (399.95, 2.65685), (410.54, 2.62656),
    (420.29, 2.60281), (430.5, 2.58122), (441.22, 2.56147), (450.85, 2.54584), (460.91, 2.53125),
    (471.42, 2.51761), (480.56, 2.50691), (490.06, 2.49675), (499.94, 2.48711), (510.22, 2.47794),
    (520.94, 2.46922), (529.85, 2.46254), (541.42, 2.45454), (551.04, 2.44841), (561.01, 2.44250),
    (571.36, 2.43682), (579.37, 2.43269), (590.4, 2.42735), (598.96, 2.42348), (610.76, 2.41847),
    (619.92, 2.41484), (629.36, 2.41130), (639.09, 2.40785), (649.13, 2.40450), (659.49, 2.40123),
    (670.18, 2.39805), (681.23, 2.39496), (688.8, 2.39294), (700.48, 2.38998), (712.55, 2.38710),
    (720.84, 2.38522), (729.32, 2.38338), (742.42, 2.38068), (751.42, 2.37891), (760.64, 2.37718),
    (770.09, 2.37548), (779.77, 2.37381), (789.71, 2.37217),
)  # fmt: skip

TITANIUM = OpticalConstants("titanium", "johnson_christy_1974", _TITANIUM)
AMORPHOUS_TITANIA = OpticalConstants(
    "titanium dioxide, amorphous film", "jolivet_2023", tuple((nm, n, 0.0) for nm, n in _AMORPHOUS_TITANIA)
)


@formula(
    "ñ(λ) = n(λ) + i·k(λ)",
    source="common_practice",
    holds_when="inside the wavelengths of the table; straight lines between its points",
    library="numpy.interp",
)
def tabulated_index(material: OpticalConstants, wavelength_nm):
    """Complex refractive index of a tabulated material at any wavelength of its table.

    Parameters
    ----------
    material : OpticalConstants
        Table of n and k.
    wavelength_nm : float or array
        Wavelength in vacuum [nm], within the table: nothing is extrapolated.

    Returns
    -------
    complex or array
        n + i·k [-], interpolated linearly.

    Raises
    ------
    ValueError
        For a wavelength outside the table. NaN gives NaN in its place.

    Source: `common_practice`.

    >>> tabulated_index(TITANIUM, 549)
    (2.54+3.43j)
    """
    limits = {"at_least": material.shortest_nm, "at_most": material.longest_nm}
    at = within(f"wavelength for {material.name}", wavelength_nm, "nm", **limits)
    table, n, k = np.array(material.rows).T
    return plain(np.interp(at, table, n) + 1j * np.interp(at, table, k))


def complex_index(name: str, index: OpticalConstants | complex | np.ndarray, wavelength_nm) -> np.ndarray:
    """Refractive index of a layer at given wavelengths, from a table, a number or an array.

    Parameters
    ----------
    name : str
        Which layer it is, for the refusal.
    index : OpticalConstants, complex or array
        A table, or n + i·k [-] with n above 0 and k from 0: one number for all wavelengths, or an array that
        broadcasts with them.
    wavelength_nm : float or array
        Wavelength in vacuum [nm].

    Returns
    -------
    array of complex
        n + i·k [-]; NaN stays in its place.

    Raises
    ------
    ValueError
        For n not above 0, k below 0, or a wavelength outside the table.

    Source: `common_practice`.

    >>> complex_index("film", 2.4, 550)
    array(2.4+0.j)
    """
    if isinstance(index, OpticalConstants):
        return np.asarray(tabulated_index(index, wavelength_nm))
    found = np.asarray(index, dtype=complex)
    within(f"refractive index of the {name}", found.real, above=0)
    within(f"absorption index of the {name}", found.imag, at_least=0)
    return found


@formula(
    "n² = 5.913 + 0.2441/(λ² − 0.0803), λ in µm",
    source="devore_1951",
    holds_when="ordinary ray of rutile crystals, 430 to 1530 nm; an anodic film is amorphous and lies lower",
)
def rutile_index(wavelength_nm):
    """Refractive index of rutile (crystalline titanium dioxide), ordinary ray.

    Parameters
    ----------
    wavelength_nm : float or array
        Wavelength in vacuum [nm], 430 to 1530.

    Returns
    -------
    float or array
        Refractive index [-].

    Raises
    ------
    ValueError
        For a wavelength outside the range. NaN gives NaN in its place.

    Source: `devore_1951`.

    >>> round(rutile_index(589.3), 4)
    2.6129
    """
    square = (within("wavelength", wavelength_nm, "nm", at_least=430, at_most=1530) / 1000) ** 2
    return plain(np.sqrt(5.913 + 0.2441 / (square - 0.0803)))
