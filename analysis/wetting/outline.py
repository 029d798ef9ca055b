"""Outlines of drops flattened by gravity: many Young–Laplace problems integrated and solved together.

Everything here takes one-dimensional arrays of the same length without NaN, angles in radians, lengths in mm;
`capillary` and `measured_drops` are what others call.
"""

from __future__ import annotations

import numpy as np

WIDEST = 150.0  # base radius of a puddle in capillary lengths, up to which exp(2·radius) is a safe number; then a lake
_ACCURACY = 1e-9  # relative, of one integration; the root is found to a tenth of it


def ends(top_radius: np.ndarray, angle: np.ndarray, length: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Base radius, height and volume of outlines with these radii of curvature at the top.

    The outline is followed from the top (scipy's Runge–Kutta of order 8) until it is inclined by the contact
    angle; lengths are counted in top radii. The inclination is stretched as ε·sinh τ: on a puddle it grows
    exponentially from nearly nothing, with ε the inclination at which gravity begins to bend the outline.
    """
    from scipy.integrate import solve_ivp

    bond = (top_radius / length) ** 2
    onset = 1 / np.sqrt(1 + bond)
    reach = np.arcsinh(angle / onset)

    def slopes(progress: float, state: np.ndarray) -> np.ndarray:
        across, down, _ = state.reshape(3, -1)
        inclination = onset * np.sinh(reach * progress)
        sine = np.sin(inclination)
        around = np.divide(sine, across, out=np.ones_like(sine), where=across > 0)
        step = reach * onset * np.cosh(reach * progress) / (2 + bond * down - around)
        fall = sine * step
        return np.concatenate([np.cos(inclination) * step, fall, np.pi * across**2 * fall])

    start = np.zeros(3 * top_radius.size)
    # a first step of our own: the solver's guess compares with the state, which is 0 at the top
    found = solve_ivp(slopes, (0, 1), start, method="DOP853", rtol=_ACCURACY, atol=1e-300, first_step=0.02)
    across, down, volume = found.y[:, -1].reshape(3, -1)
    return across * top_radius, down * top_radius, volume * top_radius**3


def top_radius_of_volume(volume: np.ndarray, angle: np.ndarray, length: np.ndarray) -> np.ndarray:
    """Radius of curvature at the top of a drop of this volume: at least that of the spherical cap."""
    cosine = np.cos(angle)
    cap = np.cbrt(3 * volume / (np.pi * (2 + cosine) * (1 - cosine) ** 2))
    return _solve(lambda *drop: ends(*drop)[2], volume, np.log(cap), angle, length, power=3)


def top_radius_of_base(base: np.ndarray, angle: np.ndarray, length: np.ndarray) -> np.ndarray:
    """Radius of curvature at the top of a drop with this base radius."""
    return _solve(lambda *drop: ends(*drop)[0], base, np.log(base), angle, length, power=1)


def top_radius_of_volume_per_base(ratio: np.ndarray, angle: np.ndarray, length: np.ndarray) -> np.ndarray:
    """Radius of curvature at the top of a drop with this volume over its base radius [mm²]."""
    cap = np.sqrt(ratio / (cap_volume_per_base_cubed(angle) * np.sin(angle) ** 2))

    def measure(*drop):
        base, _, volume = ends(*drop)
        return volume / base

    return _solve(measure, ratio, np.log(cap), angle, length, power=2)


def puddle_width(volume: np.ndarray, angle: np.ndarray, length: np.ndarray) -> np.ndarray:
    """Base radius that a drop of this volume would have at the height of a puddle, in capillary lengths."""
    return np.sqrt(volume / (2 * np.pi * length * np.sin(angle / 2))) / length


def lake_of_volume(volume: np.ndarray, angle: np.ndarray, length: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Base radius and height of a puddle wider than `WIDEST`, flat in its middle.

    Its weight hangs on the rim and rests on the base, V = π·a²·h − 2π·a·lc²·sin θ; the height is that of an endless
    rim with its curvature round the puddle to first order, which leaves an error below 3e-5 of either.
    """
    base, hanging = puddle_width(volume, angle, length) * length, length**2 * np.sin(angle)
    for _ in range(8):  # each step brings the capillary length over the base, at least 150, nearer
        height = _lake_height(base, angle, length)
        base = (hanging + np.sqrt(hanging**2 + volume * height / np.pi)) / height
    return base, _lake_height(base, angle, length)


def lake_of_volume_per_base(ratio: np.ndarray, angle: np.ndarray, length: np.ndarray) -> np.ndarray:
    """Volume of a puddle wider than `WIDEST` with this volume over its base radius [mm²]."""
    base = ratio / (2 * np.pi * length * np.sin(angle / 2))
    for _ in range(8):
        base = (ratio / np.pi + 2 * length**2 * np.sin(angle)) / _lake_height(base, angle, length)
    return ratio * base


def _lake_height(base: np.ndarray, angle: np.ndarray, length: np.ndarray) -> np.ndarray:
    cosine = np.cos(angle / 2)
    round_it = 2 / 3 * length / base * (1 + cosine + cosine**2) / (1 + cosine)
    return 2 * length * np.sin(angle / 2) * np.sqrt(1 + round_it)


def cap_volume_per_base_cubed(angle: np.ndarray) -> np.ndarray:
    """V/a³ of a spherical cap: π(t³ + 3t)/6 with t = h/a = tan(θ/2)."""
    slope = np.tan(angle / 2)
    return np.pi * slope * (slope**2 + 3) / 6


def _solve(measure, wanted, start, angle, length, *, power: float) -> np.ndarray:
    """The top radius at which a growing measure reaches the wanted value, found in logarithms.

    For a cap the measure grows with the top radius to the given power, and more slowly the flatter the drop.
    """
    from scipy.optimize.elementwise import bracket_root, find_root

    def excess(log_radius, *drop):
        shape = np.shape(log_radius)
        radius, goal, *rest = (np.broadcast_to(item, shape).ravel() for item in (np.exp(log_radius), *drop))
        return np.log(measure(radius, *rest) / goal).reshape(shape)

    drop = (wanted, angle, length)
    missing = -excess(start, *drop)
    near, far = start + missing / (power + 0.1), start + 1.5 * missing / power
    margin = 1e-7
    bracket = bracket_root(excess, np.minimum(near, far) - margin, np.maximum(near, far) + margin, args=drop)
    close = {"xatol": _ACCURACY / 10, "xrtol": 0, "fatol": _ACCURACY / 10, "frtol": 0}
    found = find_root(excess, bracket.bracket, args=drop, tolerances=close)
    if not np.all(bracket.success & found.success):
        raise ArithmeticError("no outline was found for a drop; its inputs may lie beyond what can be computed")
    return np.exp(found.x)
