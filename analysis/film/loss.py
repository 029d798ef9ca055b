"""Loss and wear against dose, and the dose at which a limit is reached: coupon by coupon, then over coupons.

Each coupon has its own curve. What is said of the recipe comes from the coupons' doses to the limit, one value a
coupon; readings of one coupon are never taken for independent coupons. A coupon that did not reach the limit within
its test counts as "later than its last dose", and is neither left out nor given that dose as its value.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.film.dose_models import DOSE_MODELS, corrected_information_criterion
from analysis.formula import formula
from analysis.statistics.censoring import calibrated_confidence, censored_lognormal_fit, censored_normal_fit
from analysis.statistics.comparison import percent
from analysis.statistics.crossing import level_crossing
from analysis.statistics.fits import CurveFit, nonlinear_fit
from analysis.statistics.replication import finite, require_share

ABOVE, BELOW = "above", "below"
ROUNDING = 1e-12  # of the readings: a curve that moves no more than that is steady
REACHED, LATER, EARLIER = "=", ">", "<"


@dataclass(frozen=True, slots=True)
class ModelChoice:
    """One form of change tried on all coupons; the criterion is None where it is no candidate, and `note` says why."""

    model: str
    title: str
    criterion: float | None  # AICc
    difference: float | None  # to the best
    weight: float  # share of the evidence among the candidates [-]
    residual_sd: float | None  # over all coupons, unit of the values
    note: str = ""


@dataclass(frozen=True, slots=True)
class CouponLoss:
    """One coupon: its curve, and the dose at which the curve reaches the limit."""

    coupon: str
    fit: CurveFit
    qualifier: str | None  # "=" reached within the test, ">" later than the last dose, "<" before the first
    dose: float | None  # at the limit; the last dose behind ">", the first behind "<"; None without a fit
    standard_error: float | None
    delta_low: float | None
    delta_high: float | None
    profile_low: float | None
    profile_high: float | None
    n_doses: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class DoseToLimit:
    """Median dose over coupons at which a limit is reached, with its interval over coupons."""

    median: float | None  # inf: beyond the test; None: cannot be told
    at_least: float | None  # dose that the median of these coupons certainly passes
    low: float | None
    high: float | None  # None: no upper bound can be given
    confidence: float
    interval_kind: str
    n_coupons: int
    n_reached: int
    model: str | None
    choices: tuple[ModelChoice, ...]
    coupons: tuple[CouponLoss, ...]
    sentence: str
    note: str = ""


@formula(
    "AICc over all coupons, each with its own parameters and one common spread;  wᵢ = exp(−Δᵢ/2)/Σ exp(−Δⱼ/2)",
    source="burnham_anderson_2002 hurvich_tsai_1989",
    holds_when="readings of a coupon scatter independently about its curve, with the same spread on all",
    library="scipy.optimize.least_squares",
)
def compare_dose_models(
    coupons: Sequence, doses: Sequence[float], values: Sequence[float], models: Iterable[str] = tuple(DOSE_MODELS)
) -> tuple[ModelChoice, ...]:
    """Forms of change with dose, tried on all coupons and ordered by how well they explain the readings.

    Parameters
    ----------
    coupons : sequence
        Coupon of each reading.
    doses : sequence of float
        Dose [cycles, h, L], 0 or more.
    values : sequence of float
        Measured quantity, any unit. Several readings of a coupon at one dose are averaged first.
    models : iterable of str
        Keys of `DOSE_MODELS`, each counted once.

    Returns
    -------
    tuple of ModelChoice
        Best first; a form that could not be fitted to every coupon, or has too few readings, comes last with a note.

    Raises
    ------
    ValueError
        For NaN, a dose below 0, other lengths, no readings, or an unknown model.

    Source: `burnham_anderson_2002`.

    >>> cycles = [0, 100, 200, 300, 400, 500]
    >>> best = compare_dose_models(["C1"] * 6, cycles, [10.0, 8.2, 6.7, 5.5, 4.5, 3.7])[0]
    >>> best.model, best.weight > 0.9
    ('exponential', True)
    """
    return _choices(_by_coupon(coupons, doses, values), models)[0]


@formula(
    "coupon i: f(Nᵢ, θ̂ᵢ) = L;  over coupons: ln N ~ normal, those not reached counted as N > last dose",
    source="schmee_hahn_1979 hurvich_tsai_1989",
    holds_when="coupons independent; nothing is extrapolated beyond the last dose of a coupon",
    library="scipy.optimize",
)
def dose_to_limit(
    coupons: Sequence,
    doses: Sequence[float],
    values: Sequence[float],
    limit: float,
    *,
    worse: str,
    model: str | None = None,
    confidence: float = 0.95,
    distribution: str = "lognormal",
    dose_unit: str = "cycles",
) -> DoseToLimit:
    """Dose at which a measured quantity reaches its limit: of each coupon, and of the median coupon.

    Parameters
    ----------
    coupons, doses, values
        As in `compare_dose_models`.
    limit : float
        Limit of the measured quantity, unit of the values.
    worse : str
        "above" or "below": the side of the limit on which a coupon no longer serves.
    model : str, optional
        Key of `DOSE_MODELS`; left out, the best by AICc over all coupons.
    confidence : float
        Two-sided confidence of all intervals [-].
    distribution : str
        "lognormal" or "normal": how the dose to the limit spreads over coupons.
    dose_unit : str
        For the sentence.

    Returns
    -------
    DoseToLimit
        With three coupons or more that reached the limit, the median comes from the censored likelihood, and its
        interval is calibrated so that it is Student's when all reached it. With fewer, it is an order statistic, with
        a one-sided lower bound where the number of coupons allows one. A median beyond the longest test rests on the
        distribution, which `note` and sentence say. A coupon without a curve makes the result undecided, since leaving
        it out would choose the result.

    Raises
    ------
    ValueError
        As `compare_dose_models`, and for a limit that is not finite or an unknown side or distribution.

    Source: `schmee_hahn_1979` for the censored likelihood; invented readings:

    >>> cycles = [0, 100, 200, 300, 400, 500]
    >>> found = dose_to_limit(["C1"] * 6, cycles, [10.0, 8.2, 6.7, 5.5, 4.5, 3.7], 5.0, worse="below")
    >>> found.model, round(found.coupons[0].dose, 1)
    ('exponential', 347.7)
    """
    require_share("confidence", confidence)
    if worse not in (ABOVE, BELOW):
        raise ValueError(f"worse must be {ABOVE!r} or {BELOW!r}, not {worse!r}")
    if distribution not in ("lognormal", "normal"):
        raise ValueError(f"distribution must be 'lognormal' or 'normal', not {distribution!r}")
    if not math.isfinite(limit):
        raise ValueError(f"the limit must be a finite number, not {limit}")
    groups = _by_coupon(coupons, doses, values)
    choices, fits = _choices(groups, tuple(DOSE_MODELS) if model is None else (model,))
    best = choices[0].model if choices[0].criterion is not None or model else None
    if best is None or not all(fit.is_fitted for fit in fits[best].values()):
        return _undecided(groups, choices, fits, best, confidence)
    losses = tuple(
        _coupon_loss(name, *data, best, fits[best][name], limit, worse, confidence) for name, data in groups.items()
    )
    return _over_coupons(losses, choices, best, limit, confidence, distribution, dose_unit)


def _by_coupon(coupons, doses, values) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Coupon -> its doses in order, and the mean reading at each."""
    dose, value, names = finite(doses), finite(values), np.asarray([str(name) for name in coupons])
    if not names.shape == dose.shape == value.shape:
        raise ValueError(f"{names.size} coupons, {dose.size} doses and {value.size} values do not belong together")
    if np.any(dose < 0):
        raise ValueError(f"a dose must be 0 or more, not {dose.min():g}")
    groups = {}
    for name in dict.fromkeys(names):
        own, place = np.unique(dose[names == name], return_inverse=True)
        groups[str(name)] = own, np.bincount(place, value[names == name]) / np.bincount(place)
    return groups


def _choices(groups, models) -> tuple[tuple[ModelChoice, ...], dict[str, dict[str, CurveFit]]]:
    keys = (models,) if isinstance(models, str) else tuple(dict.fromkeys(models))
    unknown = [key for key in keys if key not in DOSE_MODELS]
    if unknown or not keys:
        raise ValueError(f"unknown model {unknown[0] if unknown else None!r}; there are {', '.join(DOSE_MODELS)}")
    fits = {key: {name: _fit(key, *data) for name, data in groups.items()} for key in keys}
    tried = [_criterion(key, fits[key], groups) for key in keys]
    known = [choice for choice in tried if choice.criterion is not None]
    if not known:
        return tuple(tried), fits
    least = min(choice.criterion for choice in known)
    evidence = {choice.model: math.exp((least - choice.criterion) / 2) for choice in known}
    weighed = [
        ModelChoice(
            choice.model,
            choice.title,
            choice.criterion,
            choice.criterion - least,
            evidence[choice.model] / sum(evidence.values()),
            choice.residual_sd,
        )
        for choice in sorted(known, key=lambda choice: choice.criterion)
    ]
    return (*weighed, *(choice for choice in tried if choice.criterion is None)), fits


def _fit(key: str, doses: np.ndarray, values: np.ndarray) -> CurveFit:
    model = DOSE_MODELS[key]
    count = len(model.parameters)
    if doses.size <= count:
        note = f"fit failed: {doses.size} doses cannot give {count} parameters and their errors"
        return CurveFit(None, None, None, None, None, doses.size, doses.size - count, None, 0, 0, note)
    return nonlinear_fit(model.curve, doses, values, model.start(doses, values))


def _criterion(key: str, fits: dict[str, CurveFit], groups) -> ModelChoice:
    model = DOSE_MODELS[key]
    failed = [f"{name}: {fit.note}" for name, fit in fits.items() if not fit.is_fitted]
    if failed:
        return ModelChoice(key, model.title, None, None, 0.0, None, failed[0])
    n = sum(fit.n for fit in fits.values())
    count = len(fits) * len(model.parameters)
    rest = sum(fit.residual_sum_of_squares for fit in fits.values())
    size = max(float(np.max(np.abs(values))) for _, values in groups.values()) or 1.0
    # readings without any scatter: what is left is rounding, and the form with fewer parameters should win
    criterion = corrected_information_criterion(max(rest, n * (1e-9 * size) ** 2), n, count)
    spread = math.sqrt(rest / (n - count))
    if math.isinf(criterion):
        note = f"{n} readings are too few to judge {count} parameters"
        return ModelChoice(key, model.title, None, None, 0.0, spread, note)
    return ModelChoice(key, model.title, criterion, None, 0.0, spread)


def _coupon_loss(name, doses, values, key, fit, limit, worse, confidence) -> CouponLoss:
    curve, span = DOSE_MODELS[key].curve, (float(doses[0]), float(doses[-1]))
    sign, none = (1 if worse == ABOVE else -1), (None,) * 5
    beyond = sign * (float(curve(doses[:1], *fit.parameters)[0]) - limit)
    if beyond > ROUNDING * np.max(np.abs(values)):
        return CouponLoss(name, fit, EARLIER, span[0], *none, doses.size, "beyond the limit at the first dose")
    found = level_crossing(curve, doses, values, fit, limit, span, confidence, domain=(0, math.inf))
    if found.at is None:
        return CouponLoss(name, fit, LATER, span[1], *none, doses.size, "not reached within the test")
    if np.ptp(curve(np.array(span), *fit.parameters)) <= ROUNDING * np.max(np.abs(values)):
        return CouponLoss(name, fit, LATER, span[1], *none, doses.size, "stays at the limit and does not pass it")
    ends = found.delta_low, found.delta_high, found.profile_low, found.profile_high
    return CouponLoss(name, fit, REACHED, found.at, found.standard_error, *ends, doses.size, found.note)


def _over_coupons(losses, choices, model, limit, confidence, distribution, unit) -> DoseToLimit:
    doses = np.array([loss.dose for loss in losses])
    later = np.array([loss.qualifier == LATER for loss in losses])
    earlier = np.array([loss.qualifier == EARLIER for loss in losses])
    n, reached = len(losses), int(np.sum(~later))
    fit = (censored_lognormal_fit if distribution == "lognormal" else censored_normal_fit)(
        doses, later, earlier, calibrated_confidence(confidence, n)
    )
    at_least = float(np.sort(np.where(earlier, 0.0, doses))[(n - 1) // 2])
    if fit.is_fitted:
        back = math.exp if distribution == "lognormal" else lambda dose: max(float(dose), 0.0)  # no dose below 0
        median, low, high = back(fit.mu), back(fit.low), back(fit.high)
        kind, note = f"censored {distribution} likelihood over coupons", ""
        if median > doses.max():
            note = f"the median lies beyond the longest test and rests on the {distribution} form"
    else:
        median, low = _ranked(doses, later, earlier, confidence)
        high, kind, note = None, "order statistics over coupons, one-sided lower bound", fit.note
    sentence = _sentence(median, at_least, low, high, limit, confidence, n, reached, doses.max(), unit)
    return DoseToLimit(
        median, at_least, low, high, confidence, kind, n, reached, model, choices, losses, sentence, note
    )


def _ranked(doses, later, earlier, confidence) -> tuple[float | None, float | None]:
    """Median by rank, and the value that half of all coupons pass with this confidence, where n allows one."""
    from scipy.stats import binom

    from analysis.statistics.censoring import median_with_censoring

    median = median_with_censoring(doses, later, earlier)
    ordered = np.sort(np.where(earlier, 0.0, doses))
    rank = int(np.sum(binom.cdf(np.arange(len(doses)), len(doses), 0.5) <= 1 - confidence))
    return median, (float(ordered[rank - 1]) if rank else None)


def _sentence(median, at_least, low, high, limit, confidence, n, reached, longest, unit) -> str:
    of = f"{reached} of {n} coupons reached it" if n > 1 else "one coupon"
    if median is None:
        return f"At what dose the limit {limit:g} is reached cannot be told ({of})."
    if math.isinf(median):
        bound = "" if low is None else f", with {percent(confidence)} confidence > {low:.4g} {unit}"
        by = " by half of the coupons" if reached else ""
        return f"The limit {limit:g} was not reached{by} within the test: > {at_least:.4g} {unit} ({of}{bound})."
    if high is None:
        bound = "no interval" if low is None else f"{percent(confidence)} lower bound {low:.4g}"
    else:
        bound = f"{percent(confidence)} interval {low:.4g} to {high:.4g}"
    word = "median, beyond the longest test" if median > longest else "median"
    return f"The limit {limit:g} is reached after {median:.4g} {unit} ({word}; {bound}; {of})."


def _undecided(groups, choices, fits, model, confidence) -> DoseToLimit:
    own = fits[model or choices[0].model]
    note = choices[0].note or next(fit.note for fit in own.values() if not fit.is_fitted)
    losses = tuple(
        CouponLoss(name, own[name], None, *(None,) * 6, data[0].size, own[name].note) for name, data in groups.items()
    )
    sentence = "At what dose the limit is reached cannot be told: no curve fits all coupons."
    return DoseToLimit(
        None, None, None, None, confidence, "none", len(groups), 0, model, choices, losses, sentence, note
    )
