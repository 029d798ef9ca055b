"""Two-level factorial trials: what each factor of a recipe does, and what pairs of them do together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from analysis.formula import formula
from analysis.statistics.comparison import sample
from analysis.statistics.moments import counts, finite, require_share

MOST_FACTORS = 12  # 4096 settings: nobody makes more


@dataclass(frozen=True, slots=True)
class Effect:
    """One effect: mean at the high level less mean at the low level, unit of the values."""

    name: str  # "A", "AB" …; factors of longer names are joined by "×"
    value: float
    half_normal: float  # quantile that it is drawn against [-]
    aliases: tuple[str, ...] = ()  # effects that the same difference would show, in a fractional trial


@dataclass(frozen=True, slots=True)
class FactorialResult:
    """Effects in standard order, with what is needed to tell them from scatter."""

    mean: float
    effects: tuple[Effect, ...]
    pseudo_standard_error: float | None  # Lenth; None with fewer than three effects, or where most are exactly 0
    margin: float | None  # an effect beyond it stands out, looked at alone
    simultaneous_margin: float | None  # an effect beyond it stands out among all
    standard_error: float | None  # from repeated coupons of the same setting; None without them
    df: int
    confidence: float

    @property
    def standing_out(self) -> tuple[str, ...]:
        """Names of the effects beyond the simultaneous margin."""
        limit = self.simultaneous_margin
        return () if limit is None else tuple(effect.name for effect in self.effects if abs(effect.value) > limit)


@formula(
    "effect = ȳ(+) − ȳ(−);  s0 = 1.5·median|c|, PSE = 1.5·median{|c| < 2.5·s0},  "
    "ME = t(1 − α/2; m/3)·PSE,  SME = t((1 + γ^(1/m))/2; m/3)·PSE",
    source="box_hunter_hunter_1978 lenth_1989",
    holds_when="every setting made once or equally often, in random order; few of the effects are real (for PSE)",
    library="numpy, scipy.special.stdtrit",
)
def factorial_effects(
    values: Sequence, factors: Sequence[str] | None = None, generators: Sequence[str] = (), confidence: float = 0.95
) -> FactorialResult:
    """Effects of a two-level factorial trial in standard order.

    Parameters
    ----------
    values : array of float, shape (runs,) or (runs, r)
        One value a coupon in standard order (first factor changes fastest, low first); a row of r coupons a setting.
    factors : sequence of str, optional
        Names of the factors that span the settings; left out: A, B, C …
    generators : sequence of str
        For a fraction: "D=ABC" sets a further factor by the product of others (single letters).
    confidence : float
        Of both margins [-].

    Returns
    -------
    FactorialResult
        2^k − 1 effects: main effects and products by standard order. With a fraction, each is named with its aliases.
        The margins of Lenth need no repeats but take most effects for scatter.

    Raises
    ------
    ValueError
        For NaN, a number of settings that is no power of two from 2 on, other numbers of names, a name given twice,
        or a generator that is none.

    Source: `box_hunter_hunter_1978`, `lenth_1989`.

    >>> found = factorial_effects([60, 72, 54, 68, 52, 83, 45, 80], ["T", "C", "K"])
    >>> found.mean, [(effect.name, effect.value) for effect in found.effects][:3]
    (64.25, [('T', 23.0), ('C', -5.0), ('TC', 1.5)])
    """
    require_share("confidence", confidence)
    numbers = finite(values)
    numbers = numbers.reshape(-1, 1) if numbers.ndim == 1 else numbers
    if numbers.ndim != 2:
        raise ValueError(f"values of shape {numbers.shape}: one setting a row is expected")
    names = _names(len(numbers), factors)
    means = numbers.mean(axis=1)
    terms = [term for term in _terms(len(names)) if term]
    signs = factorial_design(len(names))
    contrasts = [float(np.mean(means * np.prod(signs[:, term], axis=1)) * 2) for term in terms]
    aliases = _aliases(names, terms, generators)
    ranks = np.argsort(np.argsort(np.abs(contrasts), kind="stable"), kind="stable")
    from scipy.special import ndtri

    quantiles = ndtri(0.5 + 0.5 * (ranks + 0.5) / len(terms))
    effects = tuple(
        Effect(_joined([names[i] for i in term]), value, float(quantile), others)
        for term, value, quantile, others in zip(terms, contrasts, quantiles, aliases, strict=True)
    )
    error, df = _replicate_error(numbers)
    return FactorialResult(float(means.mean()), effects, *lenth_margins(contrasts, confidence), error, df, confidence)


def factorial_design(factors: int) -> np.ndarray:
    """Settings of a full two-level trial in standard order, −1 and +1, the first factor changing fastest.

    Parameters
    ----------
    factors : int
        Number of factors [-], 1 to 12.

    Returns
    -------
    numpy.ndarray
        Shape (2^factors, factors).

    Raises
    ------
    ValueError
        For a number of factors that is not whole, or outside 1 to 12.

    Source: `box_hunter_hunter_1978`.

    >>> factorial_design(2).tolist()
    [[-1, -1], [1, -1], [-1, 1], [1, 1]]
    """
    factors = int(counts("number of factors", factors, 1))
    if factors > MOST_FACTORS:
        raise ValueError(f"a two-level trial has 1 to {MOST_FACTORS} factors, not {factors}")
    return 2 * (np.arange(2**factors)[:, None] >> np.arange(factors) & 1) - 1


@formula(
    "s0 = 1.5·median|c|,  PSE = 1.5·median{|c| : |c| < 2.5·s0},  ME = t·PSE with m/3 degrees of freedom",
    source="lenth_1989",
    holds_when="most of the effects are scatter of one spread",
    library="scipy.special.stdtrit",
)
def lenth_margins(
    effects: Sequence[float], confidence: float = 0.95
) -> tuple[float | None, float | None, float | None]:
    """How large an effect must be to stand out from a trial without repeats.

    Parameters
    ----------
    effects : sequence of float
        All effects of the trial, any unit.
    confidence : float
        Of both margins [-].

    Returns
    -------
    tuple of float or None
        Pseudo standard error, margin for one effect, margin for all at once, unit of the effects. None with fewer
        than three effects, of which nothing can be told, and where most are exactly 0: rounded values show no scatter.

    Raises
    ------
    ValueError
        For NaN, no effects, or a confidence outside 0 to 1.

    Source: `lenth_1989`.

    >>> [round(number, 3) for number in lenth_margins([1, -2, 3, 0.5, -1, 20, 2])]
    [2.25, 8.469, 20.269]
    """
    require_share("confidence", confidence)
    sizes = np.abs(sample(effects))
    first = 1.5 * float(np.median(sizes))
    if sizes.size < 3 or first == 0:
        return None, None, None
    error = 1.5 * float(np.median(sizes[sizes < 2.5 * first]))
    from scipy.special import stdtrit

    df = sizes.size / 3
    single = float(stdtrit(df, (1 + confidence) / 2))
    joint = float(stdtrit(df, (1 + confidence ** (1 / sizes.size)) / 2))
    return error, single * error, joint * error


def _names(runs: int, factors: Sequence[str] | None) -> list[str]:
    count = runs.bit_length() - 1
    if runs < 2 or runs != 2**count or count > MOST_FACTORS:
        raise ValueError(f"{runs} settings are no full set: 2, 4, 8 … {2**MOST_FACTORS} are")
    names = [chr(ord("A") + index) for index in range(count)] if factors is None else [str(name) for name in factors]
    if len(names) != count:
        raise ValueError(f"{len(names)} factor names for {runs} settings, which have {count}")
    if len(set(names)) != count or not all(names):
        raise ValueError("each factor needs a name of its own")
    return names


def _terms(count: int) -> list[list[int]]:
    """Products of factors in standard order: A, B, AB, C, AC, BC, ABC …"""
    return [[index for index in range(count) if term >> index & 1] for term in range(2**count)]


def _joined(names: Sequence[str]) -> str:
    return ("" if all(len(name) == 1 for name in names) else "×").join(names)


def _replicate_error(numbers: np.ndarray) -> tuple[float | None, int]:
    """Standard error of an effect from coupons of the same setting."""
    runs, repeats = numbers.shape
    df = runs * (repeats - 1)
    if not df:
        return None, 0
    variance = float(np.sum(np.var(numbers, axis=1, ddof=1))) / runs
    return 2 * (variance / (runs * repeats)) ** 0.5, df


def _aliases(names: Sequence[str], terms: Sequence[Sequence[int]], generators: Sequence[str]) -> list[tuple[str, ...]]:
    """Effects with added factors that share the difference of each term, up to the sign of the generator."""
    if not generators:
        return [()] * len(terms)
    added = {}
    for generator in generators:
        name, _, product = generator.replace(" ", "").partition("=")
        letters = set(product.lstrip("+-"))
        if len(name) != 1 or name in (*names, *added) or not letters or not letters <= set(names):
            raise ValueError(f"{generator!r} does not set one further factor by a product of {', '.join(names)}")
        added[name] = letters
    order = [*names, *added]
    found: dict[frozenset, list[str]] = {}
    for size in range(1, len(added) + 1):
        for chosen in combinations(added, size):
            product = frozenset()
            for name in chosen:
                product ^= added[name]
            for term in (frozenset(), *(frozenset(names[i] for i in term) for term in terms)):
                letters = sorted({*term, *chosen}, key=order.index)
                found.setdefault(frozenset(term ^ product), []).append(_joined(letters))
    return [
        tuple(sorted(found.get(frozenset(names[i] for i in term), []), key=lambda word: (len(word), word)))
        for term in terms
    ]
