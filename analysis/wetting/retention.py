"""What holds a drop on a tilted surface: retention force, predicted sliding angle, and k from a measured one.

The relation is m g sin α = k L γ (cos θr − cos θa). A number k means nothing without the length L it belongs
to, so the two are one choice here, a `RetentionForm`; every function takes the width of the contact line and
the form turns it into its own length. Numbers or arrays that broadcast; NaN in an array stays NaN in its place,
a single NaN is refused.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain
from analysis.wetting.angles import mean_angle_deg
from analysis.wetting.capillary import GRAVITY, cap_drop, resting_drop
from analysis.wetting.hysteresis import retention_per_width
from analysis.wetting.inputs import advancing_receding, number, positive

CANNOT_SLIDE = math.inf  # the retention force exceeds the weight even on an upright surface
_LENGTH_PER_WIDTH = {"width": 1.0, "radius": 0.5}


@dataclass(frozen=True, slots=True)
class RetentionForm:
    """A retention factor, the length it belongs to, and the picture of the contact line behind it."""

    key: str
    k: float
    length: str  # "width" of the contact line, or its "radius"
    picture: str
    source: str

    def __post_init__(self) -> None:
        positive(f"retention factor k of {self.key!r}", self.k)
        if self.length not in _LENGTH_PER_WIDTH:
            raise ValueError(f"k belongs to the {' or the '.join(_LENGTH_PER_WIDTH)}, not to {self.length!r}")

    @property
    def k_with_width(self) -> float:
        """The same factor when the length is the width of the contact line: forms compare only like this."""
        return self.k * _LENGTH_PER_WIDTH[self.length]

    @property
    def label(self) -> str:
        return f"k = {self.k:.4g} with the {self.length} of the contact line ({self.picture})"


_ALL = (
    RetentionForm("parallel_sided", 1.0, "width", "front at θa, rear at θr", "furmidge_1962"),
    RetentionForm("cosine_linear", 4 / math.pi, "radius", "cosine linear in azimuth", "extrand_gent_1990"),
    RetentionForm("cosine_cubic", 24 / math.pi**3, "width", "cosine cubic in azimuth", "elsherbini_jacobi_2006"),
    RetentionForm(
        "cosine_cubic_radius", 48 / math.pi**3, "radius", "cosine cubic in azimuth", "elsherbini_jacobi_2006"
    ),
    RetentionForm("tilt_first_order", math.pi / 2, "radius", "first order in tilt", "de_coninck_2016"),
)
RETENTION_FORMS: dict[str, RetentionForm] = {form.key: form for form in _ALL}
PARALLEL_SIDED = RETENTION_FORMS["parallel_sided"]


@formula("m·g = ρ·V·g", source="common_practice", holds_when="standard gravity, buoyancy in air neglected")
def weight_un(volume_ul: ArrayLike, density: ArrayLike) -> float | np.ndarray:
    """Weight of a drop.

    Parameters
    ----------
    volume_ul : array_like
        Drop volume [uL], above 0.
    density : array_like
        Of the liquid [kg/m3], above 0.

    Returns
    -------
    float or numpy.ndarray
        Weight [uN].

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `common_practice`.

    >>> round(weight_un(10, 998.2), 3)
    97.89
    """
    volume = positive("drop volume", volume_ul, "uL")
    return plain(positive("density", density, "kg/m3") * volume * GRAVITY * 1e-3)


@formula(
    "w = 2a at cos θ = (cos θa + cos θr)/2",
    source="cap_geometry young_laplace",
    holds_when="drop still round and level: a tilted drop is longer, and a measured width is better",
)
def contact_width_mm(
    volume_ul: ArrayLike,
    advancing_deg: ArrayLike,
    receding_deg: ArrayLike,
    tension: ArrayLike | None = None,
    density: ArrayLike | None = None,
) -> float | np.ndarray:
    """Width of the contact line of a drop at the mean angle, where it was not measured.

    Parameters
    ----------
    volume_ul : array_like
        Drop volume [uL], above 0.
    advancing_deg, receding_deg : array_like
        Angles [deg], 0 to 180, θr not above θa.
    tension, density : array_like, optional
        Of the liquid [mN/m], [kg/m3]. With both the drop is flattened by gravity; without it is a spherical
        cap, which is too narrow for large drops at large angles.

    Returns
    -------
    float or numpy.ndarray
        Width [mm].

    Raises
    ------
    ValueError
        Out of range, only one of tension and density, or a single NaN.

    Source: `cap_geometry`, `young_laplace`.

    >>> round(contact_width_mm(10, 110, 90), 4)
    3.077
    """
    advancing_receding(advancing_deg, receding_deg)
    angle = mean_angle_deg(advancing_deg, receding_deg)
    if (tension is None) != (density is None):
        raise ValueError("gravity needs both the surface tension and the density of the liquid")
    shape = cap_drop(volume_ul, angle) if tension is None else resting_drop(volume_ul, angle, tension, density)
    return shape.base_width_mm


@formula(
    "F = k·L·γ(cos θr − cos θa)",
    source="furmidge_1962 elsherbini_jacobi_2006",
    holds_when="drop on the verge of moving, angles taken at its front and rear; k belongs to its length L",
)
def retention_force_un(
    width_mm: ArrayLike,
    tension: ArrayLike,
    advancing_deg: ArrayLike,
    receding_deg: ArrayLike,
    form: RetentionForm = PARALLEL_SIDED,
) -> float | np.ndarray:
    """Largest force with which the contact line can hold a drop.

    Parameters
    ----------
    width_mm : array_like
        Width of the contact line across the slope [mm], above 0: not the widest width of the drop, not a
        radius.
    tension : array_like
        Surface tension of the liquid [mN/m], above 0.
    advancing_deg, receding_deg : array_like
        Angles at front and rear [deg], 0 to 180, θr not above θa.
    form : RetentionForm
        Factor and the length it belongs to, as one choice.

    Returns
    -------
    float or numpy.ndarray
        Force [uN].

    Raises
    ------
    ValueError
        Out of range, θr above θa, or a single NaN.

    Source: the form's own; `furmidge_1962` for k = 1 with the width.

    >>> round(retention_force_un(2.80, 72.8, 110, 95), 3)
    51.952
    """
    width = positive("width of the contact line", width_mm, "mm")
    advancing_receding(advancing_deg, receding_deg)
    return plain(form.k_with_width * width * retention_per_width(tension, advancing_deg, receding_deg))


@formula(
    "sin α = F/(m·g)", source="furmidge_1962", holds_when="slow tilt, no evaporation; where F > m·g it cannot slide"
)
def sliding_angle_deg(force_un: ArrayLike, volume_ul: ArrayLike, density: ArrayLike) -> float | np.ndarray:
    """Tilt at which the weight along the slope equals the retention force.

    Parameters
    ----------
    force_un : array_like
        Retention force [uN], 0 or more.
    volume_ul, density : array_like
        Of the drop [uL], [kg/m3], above 0.

    Returns
    -------
    float or numpy.ndarray
        Angle [deg], or `CANNOT_SLIDE` (infinity) where the force exceeds the whole weight.

    Raises
    ------
    ValueError
        Out of range, or a single NaN.

    Source: `furmidge_1962`.

    >>> round(sliding_angle_deg(51.952, 10, 998.2), 2)
    32.05
    >>> sliding_angle_deg(120.0, 10, 998.2) == CANNOT_SLIDE
    True
    """
    force = number("retention force", force_un, "uN", at_least=0)
    return plain(tilt_deg_of_sine(force / weight_un(volume_ul, density)))


@formula(
    "k = m·g·sin α/[w·γ(cos θr − cos θa)]",
    source="furmidge_1962",
    holds_when="always with the width of the contact line; undefined without hysteresis",
)
def retention_factor(
    angle_deg: ArrayLike,
    volume_ul: ArrayLike,
    density: ArrayLike,
    width_mm: ArrayLike,
    tension: ArrayLike,
    advancing_deg: ArrayLike,
    receding_deg: ArrayLike,
) -> float | np.ndarray:
    """Factor k that a measured sliding angle implies, always for the width of the contact line.

    Parameters
    ----------
    angle_deg : array_like
        Measured sliding angle [deg], above 0 up to 90.
    volume_ul, density, width_mm, tension, advancing_deg, receding_deg : array_like
        As in `retention_force_un` and `weight_un` [uL], [kg/m3], [mm], [mN/m], [deg].

    Returns
    -------
    float or numpy.ndarray
        k with the width [-]; compare it with `RetentionForm.k_with_width`.

    Raises
    ------
    ValueError
        Out of range, for angles without hysteresis (k is then undefined), or a single NaN.

    Source: `furmidge_1962`.

    >>> round(retention_factor(24.2546, 10, 998.2, 2.80, 72.8, 110, 95), 4)
    0.774
    """
    tilt = number("measured sliding angle", angle_deg, "deg", above=0, at_most=90)
    force = retention_force_un(width_mm, tension, advancing_deg, receding_deg)
    if np.any(np.asarray(force) == 0):
        raise ValueError("without hysteresis no factor can be computed")
    return plain(weight_un(volume_ul, density) * np.sin(np.radians(tilt)) / force)


def tilt_deg_of_sine(sine: ArrayLike) -> np.ndarray:
    """Sliding angle of a sine [deg]: 0 below 0, `CANNOT_SLIDE` above 1, NaN stays."""
    ratio = np.asarray(sine, dtype=float)
    return np.where(ratio > 1, CANNOT_SLIDE, np.degrees(np.arcsin(np.clip(ratio, 0.0, 1.0))))


@dataclass(frozen=True, slots=True)
class SlidingPrediction:
    """Predicted sliding angle [deg] and the sine behind it; `CANNOT_SLIDE` where the sine exceeds 1."""

    angle_deg: float | np.ndarray
    low_deg: float | np.ndarray  # at the sine less twice its standard uncertainty
    high_deg: float | np.ndarray
    sine: float | np.ndarray
    sine_uncertainty: float | np.ndarray
    form: RetentionForm

    @property
    def relative_uncertainty(self) -> float | np.ndarray:
        """Standard uncertainty of the sine over the sine [-], infinite where nothing holds the drop."""
        sine, uncertainty = np.broadcast_arrays(self.sine, self.sine_uncertainty)
        return plain(np.divide(uncertainty, sine, out=np.full(sine.shape, np.inf), where=~(sine <= 0)))


@formula(
    "sin α = k·L·γ(cos θr − cos θa)/(ρ·V·g),  u²(sin α) = Σ(∂sin α/∂x·u(x))² + 2r·(∂/∂θa)(∂/∂θr)·u(θa)·u(θr)",
    source="furmidge_1962 gum",
    holds_when="first order: uncertainties small, away from sin α = 1; else simulated_sliding",
)
def predicted_sliding(
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
) -> SlidingPrediction:
    """Sliding angle that the retention relation predicts, with first-order uncertainty.

    Parameters
    ----------
    width_mm : array_like
        Width of the contact line [mm], above 0.
    advancing_deg, receding_deg, tension, volume_ul : tuple
        Value and standard uncertainty [deg], [mN/m], [uL].
    density : array_like
        [kg/m3]; its uncertainty is negligible here.
    width_share : array_like
        Relative standard uncertainty of k times the width [-].
    correlation : array_like
        Of the errors of advancing and receding angle [-], −1 to 1; what shifts both alike matters less.
    form : RetentionForm
        Factor with its length.

    Returns
    -------
    SlidingPrediction
        Limits are the angles at sin α ± 2 standard uncertainties: near 90° the angle itself is no longer
        linear in anything.

    Raises
    ------
    ValueError
        As in `retention_force_un`; for an uncertainty below 0, a correlation out of range, or a number where a
        pair is asked for.

    Source: `furmidge_1962`, `gum`.

    >>> found = predicted_sliding(2.8, advancing_deg=(110, 2), receding_deg=(95, 2),
    ...     tension=(72.7, 0.2), density=998.2, volume_ul=(10, 0.2), width_share=0.05 / 2.8,
    ...     form=RETENTION_FORMS["cosine_cubic"])
    >>> round(found.angle_deg), round(math.degrees(found.sine_uncertainty / math.cos(math.asin(found.sine))))
    (24, 5)
    """
    advancing, u_advancing = value_and_spread("advancing angle", advancing_deg)
    receding, u_receding = value_and_spread("receding angle", receding_deg)
    gamma, u_gamma = value_and_spread("surface tension", tension)
    volume, u_volume = value_and_spread("drop volume", volume_ul)
    u_width = number("uncertainty of k times the width", width_share, at_least=0)
    shared = number("correlation", correlation, at_least=-1, at_most=1)
    weight = weight_un(volume, density)
    sine = retention_force_un(width_mm, gamma, advancing, receding, form) / weight
    per_cosine = form.k_with_width * np.asarray(width_mm) * gamma / weight
    ahead = per_cosine * np.sin(np.radians(advancing)) * np.radians(u_advancing)
    behind = -per_cosine * np.sin(np.radians(receding)) * np.radians(u_receding)
    shares = u_gamma / gamma, u_volume / volume, u_width
    variance = ahead**2 + behind**2 + 2 * shared * ahead * behind + sine**2 * sum(share**2 for share in shares)
    uncertainty = np.sqrt(np.maximum(variance, 0.0))  # rounding at a correlation of 1
    angles = (plain(tilt_deg_of_sine(sine + step * uncertainty)) for step in (0, -2, 2))
    return SlidingPrediction(*angles, plain(sine), plain(uncertainty), form)


def value_and_spread(name: str, item: tuple[ArrayLike, ArrayLike]) -> tuple[np.ndarray, np.ndarray]:
    """Both as arrays, the standard uncertainty 0 or more."""
    try:
        value, spread = item
    except (TypeError, ValueError):
        raise ValueError(f"{name} must be a pair of value and standard uncertainty, not {item!r}") from None
    return np.asarray(value, dtype=float), number(f"uncertainty of the {name}", spread, at_least=0)
