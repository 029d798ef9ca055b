"""Where a retention factor comes from: the contact angle integrated around the rim of a drop."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from analysis.formula import formula
from analysis.wetting.hysteresis import hysteresis_cosine
from analysis.wetting.inputs import advancing_receding, contact_angle


@formula(
    "k = −∫₀^π cos θ(ψ)·cos ψ dψ/(cos θr − cos θa)",
    source="elsherbini_jacobi_2006",
    holds_when="round contact line, k with its diameter; the same law gives twice this k with the radius",
    library="scipy.integrate.quad",
)
def rim_factor(angle_at: Callable[[float], float], advancing_deg: float, receding_deg: float) -> float:
    """Retention factor of a round drop whose contact angle follows a given law around its rim.

    Parameters
    ----------
    angle_at : callable
        Takes the azimuth from the front [deg], 0 to 180, and gives the contact angle there [deg]; the other
        side of the drop mirrors it. A jump may stand at 90.
    advancing_deg, receding_deg : float
        Angles [deg] that the factor is counted with, θr below θa.

    Returns
    -------
    float
        k with the width of the contact line [-], to be compared with `RetentionForm.k_with_width`.

    Raises
    ------
    ValueError
        For an angle out of range, of the law as well, θr not below θa, or NaN.

    Source: `elsherbini_jacobi_2006`, the way of reasoning; the integral is the balance of forces on the rim.

    >>> round(rim_factor(lambda azimuth: 110 if azimuth < 90 else 95, 110, 95), 9)  # Furmidge's drop
    1.0
    """
    from scipy.integrate import quad

    advancing_receding(advancing_deg, receding_deg)
    held = hysteresis_cosine(advancing_deg, receding_deg)
    if held == 0:
        raise ValueError("without hysteresis no factor can be computed")

    def pull(azimuth: float) -> float:
        angle = contact_angle(angle_at(np.degrees(azimuth)), "contact angle of the law")
        return -np.cos(angle) * np.cos(azimuth)

    return quad(pull, 0, np.pi, points=[np.pi / 2], epsabs=1e-12, epsrel=1e-12)[0] / held
