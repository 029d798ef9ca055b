"""How a measured quantity changes with dose (cycles, hours, litres): the forms tried, and how one is chosen."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within

Numbers = float | np.ndarray


@dataclass(frozen=True, slots=True)
class DoseModel:
    """One form of change with dose."""

    key: str
    title: str
    curve: Callable  # (dose, *parameters) -> value, without checks, for a fit
    parameters: tuple[str, ...]  # in the lab's words, with unit
    start: Callable  # (doses, values) -> first guess of the parameters


def _linear(dose, fresh, rate):
    return fresh - rate * dose


def _exponential(dose, fresh, rate):
    return _times(fresh, np.exp(-rate * dose))


def _plateau(dose, fresh, rate, plateau):
    return plateau + _times(fresh - plateau, np.exp(-rate * dose))


def _power(dose, fresh, factor, exponent):
    return np.where(exponent > 0, fresh + _times(factor, dose**exponent), np.nan)


def _times(size, growth):
    """Their product; nothing stays nothing, even where the growth leaves the range of a float."""
    return size * np.where(np.equal(size, 0) & np.isinf(growth), 0.0, growth)


@formula(
    "y = y0 − k·N",
    source="common_practice",
    holds_when="constant loss per dose; below 0 the quantity is gone, the line is not",
)
def linear_change(dose: Numbers, fresh: Numbers, rate: Numbers) -> Numbers:
    """Value after a dose when each cycle, hour or litre takes the same amount.

    Parameters
    ----------
    dose : float or array
        Dose [cycles, h, L], 0 or more.
    fresh : float or array
        Value of the fresh coupon, any unit.
    rate : float or array
        Loss per dose [unit of the value per dose]; negative for growth.

    Returns
    -------
    float or array
        In the unit of `fresh`; NaN stays in its place.

    Raises
    ------
    ValueError
        For a dose below 0, or an infinite value.

    Source: `common_practice`.

    >>> linear_change(200, 10.0, 0.0125)
    7.5
    """
    return _checked(_linear, dose, fresh=fresh, rate=rate)


@formula("y = y0·exp(−k·N)", source="common_practice", holds_when="the loss is in proportion to what is left")
def exponential_change(dose: Numbers, fresh: Numbers, rate: Numbers) -> Numbers:
    """Value after a dose when each cycle, hour or litre takes the same share of what is left.

    Parameters
    ----------
    dose : float or array
        Dose [cycles, h, L], 0 or more.
    fresh : float or array
        Value of the fresh coupon, any unit.
    rate : float or array
        Share lost per dose, small doses [1/dose]; negative for growth.

    Returns
    -------
    float or array
        In the unit of `fresh`; NaN stays in its place, inf where growth leaves the range of a float.

    Raises
    ------
    ValueError
        For a dose below 0, or an infinite value.

    Source: `common_practice`.

    >>> round(exponential_change(347.71, 10.0, 1.99346e-3), 4)
    5.0
    """
    return _checked(_exponential, dose, fresh=fresh, rate=rate)


@formula(
    "y = y∞ + (y0 − y∞)·exp(−k·N)",
    source="common_practice",
    holds_when="the quantity approaches a plateau; a level beyond the plateau is never reached",
)
def plateau_change(dose: Numbers, fresh: Numbers, rate: Numbers, plateau: Numbers) -> Numbers:
    """Value after a dose when the distance to a plateau shrinks by the same share each cycle, hour or litre.

    Parameters
    ----------
    dose, fresh, rate
        As in `exponential_change`.
    plateau : float or array
        Value that is approached, unit of `fresh`.

    Returns
    -------
    float or array
        In the unit of `fresh`; NaN stays in its place.

    Raises
    ------
    ValueError
        For a dose below 0, or an infinite value.

    Source: `common_practice`.

    >>> round(plateau_change(100, 10.0, math.log(2) / 100, 4.0), 12)
    7.0
    """
    return _checked(_plateau, dose, fresh=fresh, rate=rate, plateau=plateau)


@formula(
    "y = y0 + a·N^b",
    source="common_practice",
    holds_when="change that slows down (b < 1) or speeds up (b > 1) without a plateau; b above 0",
)
def power_change(dose: Numbers, fresh: Numbers, factor: Numbers, exponent: Numbers) -> Numbers:
    """Value after a dose when the change goes with a power of the dose, counted from the fresh value.

    Parameters
    ----------
    dose, fresh
        As in `exponential_change`.
    factor : float or array
        Change at dose 1, unit of `fresh`; negative for a loss.
    exponent : float or array
        Exponent [-], above 0.

    Returns
    -------
    float or array
        In the unit of `fresh`; NaN stays in its place.

    Raises
    ------
    ValueError
        For a dose below 0, an exponent not above 0, or an infinite value.

    Source: `common_practice`.

    >>> power_change(100, 10.0, -0.3, 0.5)
    7.0
    """
    within("exponent", exponent, above=0)
    return _checked(_power, dose, fresh=fresh, factor=factor, exponent=exponent)


@formula("N½ = ln 2/k", source="common_practice", holds_when="exponential change")
def half_life(rate: Numbers) -> Numbers:
    """Dose that halves what is left, for a loss in proportion to it.

    Parameters
    ----------
    rate : float or array
        Share lost per dose [1/dose], 0 or more; 0 gives inf.

    Returns
    -------
    float or array
        Dose [cycles, h, L]; NaN stays in its place.

    Raises
    ------
    ValueError
        For a rate below 0: what grows has no half-life.

    Source: `common_practice`.

    >>> round(half_life(1.99346e-3), 2)
    347.71
    """
    rates = within("rate", rate, "1/dose", at_least=0)
    with np.errstate(divide="ignore", over="ignore"):  # no loss: no half-life, which is infinity
        return plain(math.log(2) / np.abs(rates))  # a −0 is 0 as well


@formula(
    "AICc = n·ln(RSS/n) + 2K + 2K(K + 1)/(n − K − 1)",
    source="hurvich_tsai_1989",
    holds_when="normal errors of one spread; K counts the spread as well; differences matter, not the value",
)
def corrected_information_criterion(residual_sum_of_squares: Numbers, n: Numbers, parameters: Numbers) -> Numbers:
    """How much a curve leaves unexplained, with a charge for its parameters: the smaller the better.

    Parameters
    ----------
    residual_sum_of_squares : float or array
        Of the fit, unit of the values squared, above 0.
    n : float or array
        Readings [-].
    parameters : float or array
        Parameters of the curve [-]; the residual spread is counted on top.

    Returns
    -------
    float or array
        AICc [-]; inf where there are too few readings to judge, n < K + 2. NaN stays in its place.

    Raises
    ------
    ValueError
        For a residual sum of squares not above 0, or fewer than one reading or parameter.

    Source: `hurvich_tsai_1989`, `burnham_anderson_2002`.

    >>> round(corrected_information_criterion(math.e, 1e9, 1) / 1e9, 6)  # many readings: n·ln(RSS/n)
    -19.723266
    """
    rest = within("residual sum of squares", residual_sum_of_squares, above=0)
    count, k = within("readings", n, at_least=1), within("parameters", parameters, at_least=1) + 1
    spare = count - k - 1
    charge = 2 * k * (k + 1) / np.where(spare > 0, spare, 1)
    criterion = np.where(spare > 0, count * np.log(rest / count) + 2 * k + charge, np.inf)
    return plain(np.where(np.isnan(rest + count + k), np.nan, criterion))


def _checked(curve: Callable, dose: Numbers, **parameters: Numbers) -> Numbers:
    doses = within("dose", dose, at_least=0)
    numbers = [within(name.replace("_", " "), value) for name, value in parameters.items()]
    with np.errstate(over="ignore"):  # growth without end is infinity
        return plain(curve(doses, *numbers))


def _start_linear(doses, values):
    slope, fresh = np.polyfit(doses, values, 1)
    smallest = 1e-6 * (float(np.max(np.abs(values))) or 1.0) / float(np.max(doses))  # a steady coupon: any small step
    return fresh or smallest, -slope if abs(slope) > smallest else smallest


def _start_exponential(doses, values):
    rate, (fresh,) = _best(doses, values, lambda rate: [np.exp(-rate * doses)], _rates(doses))
    return fresh, rate


def _start_plateau(doses, values):
    rate, (plateau, distance) = _best(
        doses, values, lambda rate: [np.ones_like(doses), np.exp(-rate * doses)], _rates(doses)
    )
    return plateau + distance, rate, plateau


def _start_power(doses, values):
    exponent, (fresh, factor) = _best(
        doses, values, lambda exponent: [np.ones_like(doses), doses**exponent], np.geomspace(0.1, 8, 25)
    )
    return fresh, factor, exponent


def _rates(doses: np.ndarray) -> np.ndarray:
    sizes = np.geomspace(0.01, 30, 25) / float(np.max(doses))
    return np.concatenate([sizes, -sizes[sizes * np.max(doses) < 10]])


def _best(doses, values, columns, choices):
    """The choice of the one curved parameter that leaves least, the others by linear least squares."""
    tried = []
    for choice in choices:
        design = np.column_stack(columns(choice))
        scale = np.abs(design).max(axis=0)
        solution = np.linalg.lstsq(design / scale, values)[0] / scale
        tried.append((float(np.sum((design @ solution - values) ** 2)), choice, solution))
    return min(tried, key=lambda entry: entry[0])[1:]


DOSE_MODELS = {
    model.key: model
    for model in (
        DoseModel("linear", "linear", _linear, ("fresh value", "loss per dose"), _start_linear),
        DoseModel("exponential", "exponential", _exponential, ("fresh value", "rate [1/dose]"), _start_exponential),
        DoseModel(
            "plateau", "exponential to a plateau", _plateau, ("fresh value", "rate [1/dose]", "plateau"), _start_plateau
        ),
        DoseModel(
            "power", "power with offset", _power, ("fresh value", "change at dose 1", "exponent [-]"), _start_power
        ),
    )
}
