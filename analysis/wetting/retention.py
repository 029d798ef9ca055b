"""What holds a drop on a tilted surface: retention force, predicted sliding angle, and k from a measured one.

The relation is m g sin α = k L γ (cos θr − cos θa). A number k means nothing without the length L it belongs
to, so the two are one choice here, a `RetentionForm`; every function takes the width of the contact line and
the form turns it into its own length.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.propagation import first_order
from analysis.wetting.capillary import GRAVITY
from analysis.wetting.hysteresis import retention_per_width

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


def weight_un(volume_ul: float, density: float) -> float:
    """Weight of a drop [uN] from its volume [uL] and density [kg/m3].

    >>> round(weight_un(10, 998.2), 3)
    97.89
    """
    return density * volume_ul * GRAVITY * 1e-3


def retention_force_un(
    width_mm: float,
    tension: float,
    advancing_deg: float,
    receding_deg: float,
    form: RetentionForm = PARALLEL_SIDED,
) -> float:
    """Largest force with which the contact line can hold a drop.

    Parameters
    ----------
    width_mm : float
        Width of the contact line across the slope [mm], above 0: not the widest width of the drop, not a
        radius.
    tension : float
        Surface tension of the liquid [mN/m].
    advancing_deg, receding_deg : float
        Angles at front and rear [deg], θr not above θa.
    form : RetentionForm
        Factor and the length it belongs to, as one choice.

    Returns
    -------
    float
        Force [uN].

    Raises
    ------
    ValueError
        For a width not above 0, θr above θa, an angle outside 0 to 180, or NaN.

    Source: the form's own; `furmidge_1962` for k = 1 with the width.

    >>> round(retention_force_un(2.80, 72.8, 110, 95), 3)
    51.952
    """
    if not (width_mm > 0 and math.isfinite(width_mm)):
        raise ValueError(f"the width of the contact line must be above 0 mm, not {width_mm}")
    if receding_deg > advancing_deg:
        raise ValueError(f"the receding angle {receding_deg} lies above the advancing one {advancing_deg}")
    return form.k_with_width * width_mm * retention_per_width(tension, advancing_deg, receding_deg)


def sliding_angle_deg(force_un: float, volume_ul: float, density: float) -> float:
    """Tilt at which the weight along the slope equals the retention force.

    Parameters
    ----------
    force_un : float
        Retention force [uN], 0 or more.
    volume_ul, density : float
        Of the drop [uL], [kg/m3].

    Returns
    -------
    float
        Angle [deg], or `CANNOT_SLIDE` (infinity) where the force exceeds the whole weight.

    Raises
    ------
    ValueError
        For a force below 0, a weight not above 0, or NaN.

    Source: `furmidge_1962`.

    >>> round(sliding_angle_deg(51.952, 10, 998.2), 2)
    32.05
    >>> sliding_angle_deg(120.0, 10, 998.2) == CANNOT_SLIDE
    True
    """
    weight = weight_un(volume_ul, density)
    if not (force_un >= 0 and weight > 0):
        raise ValueError(f"needs a force of 0 or more and a weight above 0, not {force_un} and {weight}")
    share = force_un / weight
    return math.degrees(math.asin(share)) if share <= 1 else CANNOT_SLIDE


def retention_factor(
    angle_deg: float,
    volume_ul: float,
    density: float,
    width_mm: float,
    tension: float,
    advancing_deg: float,
    receding_deg: float,
) -> float:
    """Factor k that a measured sliding angle implies, always for the width of the contact line.

    Parameters
    ----------
    angle_deg : float
        Measured sliding angle [deg], above 0 up to 90.
    volume_ul, density, width_mm, tension, advancing_deg, receding_deg : float
        As in `retention_force_un` and `weight_un`.

    Returns
    -------
    float
        k with the width [-]; compare it with `RetentionForm.k_with_width`.

    Raises
    ------
    ValueError
        For an angle outside (0, 90], for angles without hysteresis (k is then undefined), or NaN.

    Source: `furmidge_1962`.

    >>> round(retention_factor(24.2546, 10, 998.2, 2.80, 72.8, 110, 95), 4)
    0.774
    """
    if not 0 < angle_deg <= 90:
        raise ValueError(f"a measured sliding angle lies above 0 and up to 90 degrees, not {angle_deg}")
    force = retention_force_un(width_mm, tension, advancing_deg, receding_deg)
    if force == 0:
        raise ValueError("without hysteresis no factor can be computed")
    return weight_un(volume_ul, density) * math.sin(math.radians(angle_deg)) / force


@dataclass(frozen=True, slots=True)
class SlidingPrediction:
    """Predicted sliding angle [deg] and the sine behind it; `CANNOT_SLIDE` where the sine exceeds 1."""

    angle_deg: float
    low_deg: float  # at the sine less twice its standard uncertainty
    high_deg: float
    sine: float
    sine_uncertainty: float
    form: RetentionForm

    @property
    def relative_uncertainty(self) -> float:
        return self.sine_uncertainty / self.sine if self.sine > 0 else math.inf


def predicted_sliding(
    width_mm: float,
    *,
    advancing_deg: tuple[float, float],
    receding_deg: tuple[float, float],
    tension: tuple[float, float],
    density: float,
    volume_ul: tuple[float, float],
    width_share: float = 0.0,
    form: RetentionForm = PARALLEL_SIDED,
) -> SlidingPrediction:
    """Sliding angle that the retention relation predicts, with first-order uncertainty.

    Parameters
    ----------
    width_mm : float
        Width of the contact line [mm].
    advancing_deg, receding_deg, tension, volume_ul : tuple of float
        Value and standard uncertainty [deg], [mN/m], [uL].
    density : float
        [kg/m3]; its uncertainty is negligible here.
    width_share : float
        Relative standard uncertainty of k times the width [-].
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
        As in `retention_force_un`.

    Source: `furmidge_1962`, `gum`.

    >>> found = predicted_sliding(2.8, advancing_deg=(110, 2), receding_deg=(95, 2),
    ...     tension=(72.7, 0.2), density=998.2, volume_ul=(10, 0.2), width_share=0.05 / 2.8,
    ...     form=RETENTION_FORMS["cosine_cubic"])
    >>> round(found.angle_deg), round(math.degrees(found.sine_uncertainty / math.cos(math.asin(found.sine))))
    (24, 5)
    """
    retention_force_un(width_mm, tension[0], advancing_deg[0], receding_deg[0])  # refuses what is impossible

    def sine_of(advancing, receding, surface_tension, volume, scale):
        difference = math.cos(math.radians(receding)) - math.cos(math.radians(advancing))
        force = form.k_with_width * scale * width_mm * surface_tension * difference
        return force / weight_un(volume, density)

    sine, uncertainty = first_order(
        sine_of,
        {
            "advancing": advancing_deg,
            "receding": receding_deg,
            "surface_tension": tension,
            "volume": volume_ul,
            "scale": (1.0, width_share),
        },
    )
    angles = [_tilt(sine + step * uncertainty) for step in (0, -2, 2)]
    return SlidingPrediction(*angles, sine, uncertainty, form)


def mean_angle_deg(advancing_deg: float, receding_deg: float) -> float:
    """Angle half-way between advancing and receding in their cosines [deg]: the resting drop's shape is taken
    there.

    >>> round(mean_angle_deg(110, 90), 3)
    99.847
    """
    cosines = math.cos(math.radians(advancing_deg)) + math.cos(math.radians(receding_deg))
    return math.degrees(math.acos(cosines / 2))


def _tilt(sine: float) -> float:
    return math.degrees(math.asin(max(sine, 0.0))) if sine <= 1 else CANNOT_SLIDE
