"""Gauge study: how much of the spread comes from measuring, when several people read the same parts several times.

A drop cannot be placed twice: what is repeated is the reading of the same image, or of neighbouring spots, and the
study says which. Spread between spots then counts as repeatability.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import within
from analysis.statistics.chart_constants import chart_constants, d2, d3

NDC_FACTOR = 1.41  # √2 as rounded by convention; the number of distinct categories is floored after it


@dataclass(frozen=True, slots=True)
class VarianceRow:
    """One line of an analysis of variance; F and p are None where there is no test."""

    source: str
    ss: float
    df: int
    ms: float
    f: float | None
    p: float | None


@dataclass(frozen=True, slots=True)
class SpreadShare:
    """One part of the spread: standard deviation, its share of the whole spread, and of the whole variance."""

    sd: float  # unit of the readings
    study_percent: float  # 100·sd/sd of everything; these do not add up to 100
    contribution_percent: float  # 100·variance/variance of everything; these do


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """Crossed gauge study by analysis of variance."""

    rows: tuple[VarianceRow, ...]
    ev: SpreadShare  # equipment: repeatability
    av: SpreadShare  # appraisers: operators and their interaction with the parts
    operator: SpreadShare
    interaction: SpreadShare
    grr: SpreadShare  # ev and av together
    pv: SpreadShare  # parts
    tv: SpreadShare
    raw_variances: dict[str, float]  # as estimated, may be negative: repeatability, operator, interaction, part
    ndc: int | None  # distinct categories; None where the gauge shows no spread
    ndc_unrounded: float | None
    is_pooled: bool  # interaction pooled with repeatability
    pool_above: float | None
    note: str


@dataclass(frozen=True, slots=True)
class RangeStudy:
    """Crossed gauge study by averages and ranges."""

    ev: SpreadShare
    av: SpreadShare
    grr: SpreadShare
    pv: SpreadShare
    tv: SpreadShare
    mean_range: float
    operator_difference: float  # largest less smallest mean of an operator
    part_range: float  # largest less smallest mean of a part
    range_limit: float  # D4 times the mean range
    ranges_beyond: tuple[tuple[int, int], ...]  # (part, operator), counted from 0, whose range exceeds the limit
    ndc: int | None
    ndc_unrounded: float | None


@formula(
    "y = μ + Pᵢ + Oⱼ + (PO)ᵢⱼ + eᵢⱼₖ;  σ²e = MSE; σ²po = (MSPO − MSE)/n; σ²o = (MSO − MSPO)/(pn); "
    "σ²p = (MSP − MSPO)/(on);  GRR² = σ²e + σ²o + σ²po;  ndc = whole part of 1.41·PV/GRR",
    source="aiag_msa iso_22514_7",
    holds_when="every operator reads every part equally often; parts and operators stand for many others",
    library="scipy.special.fdtrc",
)
def gauge_study(readings: ArrayLike, pool_above: float | None = 0.25) -> GaugeStudy:
    """Split the spread of repeated readings into parts, operators and repeatability (crossed random model).

    Parameters
    ----------
    readings : array of shape (parts, operators, trials)
        Readings, any unit; at least two of each, none missing.
    pool_above : float or None
        p of the interaction above which it is pooled with the repeatability [-], 0 to 1; usual are 0.05 and
        0.25; None never pools. The choice can change the verdict and belongs in the report.

    Returns
    -------
    GaugeStudy
        Standard deviations in the unit of the readings. A variance that comes out negative is kept in
        `raw_variances`, taken as 0 in the shares, and named in the note.

    Raises
    ------
    ValueError
        For NaN, another shape, fewer than two parts, operators or trials, readings without any spread, or a
        threshold outside 0 to 1.

    Source: `aiag_msa`; `iso_22514_7`.

    >>> found = gauge_study([[[1.0, 1.1], [1.0, 1.2]], [[2.0, 2.1], [2.1, 2.1]], [[3.1, 3.0], [3.2, 3.1]]])
    >>> found.ndc, found.is_pooled
    (17, True)
    """
    block = _block(readings)
    if pool_above is not None and not 0 <= pool_above <= 1:
        raise ValueError(f"the p above which the interaction is pooled must lie between 0 and 1, not {pool_above}")
    rows = _rows(block)
    is_pooled = pool_above is not None and rows[2].p is not None and rows[2].p > pool_above
    raw = _variances(rows, block.shape, is_pooled)
    kept = {name: max(value, 0.0) for name, value in raw.items()}
    negative = [name for name, value in raw.items() if value < 0]
    note = f"The variance of {', '.join(negative)} comes out negative and is taken as 0." if negative else ""
    av = kept["operator"] + kept["interaction"]
    grr = av + kept["repeatability"]
    total = grr + kept["part"]
    shares = {
        name: _share(variance, total)
        for name, variance in {
            "ev": kept["repeatability"],
            "av": av,
            "grr": grr,
            "pv": kept["part"],
            "tv": total,
        }.items()
    }
    exact, ndc = _categories(shares["pv"].sd, shares["grr"].sd)
    return GaugeStudy(
        rows, **shares, operator=_share(kept["operator"], total), interaction=_share(kept["interaction"], total),
        raw_variances=raw, ndc=ndc, ndc_unrounded=exact, is_pooled=is_pooled, pool_above=pool_above, note=note,
    )  # fmt: skip


@formula(
    "EV = R̄·K₁; AV = √[(X̄diff·K₂)² − EV²/(pn)]; PV = Rp·K₃;  K₁ = 1/d₂(n), K₂, K₃ = 1/√(d₂² + d₃²) of operators, parts",
    source="aiag_msa",
    holds_when="no interaction of parts and operators; normal readings",
)
def range_study(readings: ArrayLike, constants: tuple[float, float, float] | None = None) -> RangeStudy:
    """Gauge study by averages and ranges, as done by hand: no interaction, and less sharp than `gauge_study`.

    Parameters
    ----------
    readings : array of shape (parts, operators, trials)
        Readings, any unit; at least two of each, none missing.
    constants : tuple of three floats, optional
        K₁, K₂, K₃ [-] as a table rounds them; left out: unrounded.

    Returns
    -------
    RangeStudy
        Standard deviations in the unit of the readings; AV is 0 where the difference of the operators is no
        larger than repeatability makes it.

    Raises
    ------
    ValueError
        For NaN, another shape, fewer than two parts, operators or trials, constants that are not three numbers above
        0, or readings without any spread between trials, operators or parts.

    Source: `aiag_msa`.

    >>> found = range_study([[[1.0, 1.1], [1.0, 1.2]], [[2.0, 2.1], [2.1, 2.1]], [[3.1, 3.0], [3.2, 3.1]]])
    >>> round(found.mean_range, 4), round(found.range_limit, 4)
    (0.1, 0.3267)
    """
    block = _block(readings)
    parts, operators, trials = block.shape
    if constants is not None and len(constants) != 3:
        raise ValueError(f"three constants K₁, K₂, K₃ are needed, not {len(constants)}")
    k1, k2, k3 = constants or (1 / d2(trials), *(1 / math.hypot(d2(n), d3(n)) for n in (operators, parts)))
    within("constants K₁, K₂, K₃", (k1, k2, k3), above=0, has_nan=False)
    ranges = np.ptp(block, axis=2)
    mean_range = float(ranges.mean())
    difference, part_range = float(np.ptp(block.mean(axis=(0, 2)))), float(np.ptp(block.mean(axis=(1, 2))))
    ev = mean_range * k1
    av = math.sqrt(max((difference * k2) ** 2 - ev**2 / (parts * trials), 0.0))
    grr, pv = math.hypot(ev, av), part_range * k3
    total = grr**2 + pv**2
    if total == 0:
        raise ValueError("the means of parts and of operators are equal, and no trial differs: nothing to split")
    limit = chart_constants(trials).d4_limit * mean_range
    beyond = tuple((int(part), int(operator)) for part, operator in np.argwhere(ranges > limit * (1 + 1e-12)))
    exact, ndc = _categories(pv, grr)
    shares = (_share(sd**2, total) for sd in (ev, av, grr, pv, math.sqrt(total)))
    return RangeStudy(*shares, mean_range, difference, part_range, limit, beyond, ndc, exact)


def _block(readings: ArrayLike) -> np.ndarray:
    block = np.asarray(readings, dtype=float)
    if block.ndim != 3 or min(block.shape) < 2:
        raise ValueError(
            f"a gauge study needs two or more parts, operators and trials, not an array of shape {block.shape}"
        )
    if not np.all(np.isfinite(block)):
        raise ValueError("NaN or an infinite value cannot enter this statistic")
    if np.ptp(block) == 0:
        raise ValueError("readings without any spread make no gauge study")
    return block


def _rows(block: np.ndarray) -> tuple[VarianceRow, ...]:
    """The analysis of variance, on readings less their mean so that a large common part costs no digits."""
    parts, operators, trials = block.shape
    off = block - block.flat[0]
    off = off - off.mean()
    cells, by_part, by_operator = off.mean(axis=2), off.mean(axis=(1, 2)), off.mean(axis=(0, 2))
    crossed = cells - by_part[:, None] - by_operator
    squares = (
        operators * trials * float(by_part @ by_part),
        parts * trials * float(by_operator @ by_operator),
        trials * float(np.sum(crossed**2)),
        float(np.sum((off - cells[:, :, None]) ** 2)),
    )
    dfs = (parts - 1, operators - 1, (parts - 1) * (operators - 1), parts * operators * (trials - 1))
    means = [ss / df for ss, df in zip(squares, dfs, strict=True)]
    tests = [_f_test(means[0], means[2], dfs[0], dfs[2]), _f_test(means[1], means[2], dfs[1], dfs[2])]
    tests += [_f_test(means[2], means[3], dfs[2], dfs[3]), (None, None)]
    names = ("part", "operator", "interaction", "repeatability")
    rows = [VarianceRow(*row[:4], *row[4]) for row in zip(names, squares, dfs, means, tests, strict=True)]
    total_df = block.size - 1
    return (*rows, VarianceRow("total", sum(squares), total_df, sum(squares) / total_df, None, None))


def _f_test(above: float, below: float, df_above: int, df_below: int) -> tuple[float | None, float | None]:
    if below == 0:
        return None, None
    from scipy.special import fdtrc

    return above / below, float(fdtrc(df_above, df_below, above / below))


def _variances(rows: tuple[VarianceRow, ...], shape: tuple[int, ...], is_pooled: bool) -> dict[str, float]:
    parts, operators, trials = shape
    part, operator, crossed, repeat = rows[:4]
    if is_pooled:
        error = (crossed.ss + repeat.ss) / (crossed.df + repeat.df)
        within, between, interaction = error, error, 0.0
    else:
        within, between, interaction = repeat.ms, crossed.ms, (crossed.ms - repeat.ms) / trials
    return {
        "repeatability": within,
        "operator": (operator.ms - between) / (parts * trials),
        "interaction": interaction,
        "part": (part.ms - between) / (operators * trials),
    }


def _share(variance: float, total: float) -> SpreadShare:
    return SpreadShare(math.sqrt(variance), 100 * math.sqrt(variance / total), 100 * variance / total)


def _categories(part_sd: float, gauge_sd: float) -> tuple[float | None, int | None]:
    if gauge_sd == 0:
        return None, None
    exact = NDC_FACTOR * part_sd / gauge_sd
    return exact, math.floor(exact + 1e-9)  # 4.999999999 from rounding is 5
