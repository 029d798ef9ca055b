"""Repeatability and reproducibility against the worked examples of two standards and tables of h and k."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.precision import (
    cell_consistency,
    cell_precision,
    mandel_h_critical,
    mandel_k_critical,
    precision_report,
)
from tests.analysis.tables import table

SULFUR = list(table("iso5725_sulfur_results").itertuples(index=False))
GLUCOSE = list(table("e691_glucose_results").itertuples(index=False))


def cells(name, key):
    """Laboratory -> results of one level or material."""
    frame = table(name)
    part = frame[frame.iloc[:, 0] == key]
    return {str(lab): rows["result"].tolist() for lab, rows in part.groupby("lab")}


@pytest.mark.parametrize("row", list(table("mandel_h").itertuples(index=False)))
def test_table_of_h(row):
    assert_allclose(mandel_h_critical(row.p, row.alpha), row.critical, atol=5.01e-3)  # two decimals in the table


@pytest.mark.parametrize("row", list(table("mandel_k").itertuples(index=False)))
def test_table_of_k(row):
    assert_allclose(mandel_k_critical(row.p, row.n, row.alpha), row.critical, atol=5.01e-3)


@pytest.mark.parametrize(("p", "n", "alpha"), [(3, 2, 0.05), (8, 3, 0.005), (40, 9, 1e-6)])
def test_k_from_the_f_distribution(p, n, alpha):
    f = stats.f.isf(alpha, n - 1, (p - 1) * (n - 1))  # independent: scipy.stats.f (scipy 1.17.1)
    assert_allclose(mandel_k_critical(p, n, alpha), math.sqrt(p * f / (p - 1 + f)), rtol=1e-12)


def test_critical_values_of_arrays():
    assert mandel_h_critical(np.array([[3], [8]]), np.array([0.05, 0.01, 0.005])).shape == (2, 3)
    assert mandel_k_critical(np.array([3, 8]), np.array([2, 3]), 0.01).shape == (2,)
    assert type(mandel_k_critical(8, 3, 0.01)) is type(mandel_h_critical(8, 0.01)) is float


# from memory: ISO 5725-2:1994, annex B.1 (data and printed results); the columns with four decimals are independent
# (numpy 2.4.6, from the formulas of the standard)
@pytest.mark.parametrize("row", SULFUR, ids=lambda row: f"level {row.level}")
def test_sulfur_in_coal(row):
    found = cell_precision(cells("iso5725_sulfur", row.level))
    numbers = found.mean, found.repeatability_sd, found.reproducibility_sd
    assert [round(number, 3) for number in numbers] == [row.mean_3, row.s_r_3, row.s_reproducibility_3]
    assert_allclose(numbers, (row.mean, row.s_r, row.s_reproducibility), atol=5.01e-5)
    assert_allclose(found.effective_size, row.size, atol=5.01e-5)
    limits = found.repeatability_limit, found.reproducibility_limit
    assert_allclose(limits, (2.8 * numbers[1], 2.8 * numbers[2]), rtol=1e-14)


def test_sulfur_flags_are_a_straggler_and_two_means():
    # independent: C and G from numpy against the critical values of scipy; level 3, C = 0.580 > 0.516 (5 %) < 0.615
    flags = {level: precision_report(cells("iso5725_sulfur", level)).flags for level in (1, 2, 3, 4)}
    assert flags[1] == {}
    assert flags[2] == {"6": ("Mandel h: statistical outlier",)}
    assert flags[3]["5"][0] == "Cochran: straggler"
    assert flags[4] == {"3": ("Mandel h: statistical outlier",)}


# published: data of the example of glucose in serum (ASTM E691); results independent (numpy 2.4.6)
@pytest.mark.parametrize("row", GLUCOSE, ids=lambda row: row.material)
def test_glucose_in_serum(row):
    data = cells("e691_glucose", row.material)
    report = precision_report(data)
    found = report.all_cells
    sds = found.cell_mean_sd, found.repeatability_sd, found.reproducibility_sd
    assert_allclose((found.mean, *sds), (row.mean, row.s_x, row.s_r, row.s_reproducibility), atol=5.01e-5)
    limits = found.repeatability_limit, found.reproducibility_limit
    assert_allclose(limits, (row.repeatability_limit, row.reproducibility_limit), atol=5.01e-4)
    assert_allclose(report.cochran.statistic, row.cochran, atol=5.01e-5)
    by_lab = {cell.cell: cell for cell in report.cells}
    assert_allclose(abs(by_lab[str(row.h_lab)].h), row.h, atol=5.01e-3)
    assert_allclose(by_lab[str(row.k_lab)].k, row.k, atol=5.01e-3)
    assert max(report.cells, key=lambda cell: cell.k).cell == str(row.k_lab)
    assert_allclose(max(abs(cell.h) for cell in report.cells), row.h, atol=5.01e-3)


def test_glucose_cells_beyond_the_half_percent_level():
    # published: ASTM E691 flags C/4 and E/2 by k, none by h (C/4 lies at 2.14 under 2.15)
    found = {
        (material, cell.cell): (cell.is_h_beyond, cell.is_k_beyond)
        for material in "ABCDE"
        for cell in cell_consistency(cells("e691_glucose", material))
    }
    assert {key: value for key, value in found.items() if any(value)} == {
        ("C", "4"): (False, True),
        ("E", "2"): (False, True),
    }


def test_three_classes_of_cochran():
    # published arithmetic: C = 0.7253 > 0.615 (1 %) and 0.4262 < 0.516 (5 %), p = 8, n = 3
    said = {m: precision_report(cells("e691_glucose", m)).cochran.outlier_class for m in "ABCDE"}
    assert said["C"] == said["E"] == "statistical outlier"
    assert said["A"] == said["B"] == said["D"] == "correct"
    assert precision_report(cells("iso5725_sulfur", 3)).cochran.outlier_class == "straggler"


def test_negative_lab_component_leaves_reproducibility_at_repeatability():
    found = cell_precision(cells("e691_glucose", "A"))
    assert found.between_variance < 0 == found.between_sd
    assert found.reproducibility_sd == found.repeatability_sd
    assert "negative" in found.note


def test_equal_cells_agree_with_the_formula_of_the_other_standard():
    # hand: ASTM E691, s_R = max(s_r, √(s_x² + s_r²(n − 1)/n))
    for material in "ABCDE":
        found = cell_precision(cells("e691_glucose", material))
        other = math.sqrt(found.cell_mean_sd**2 + found.repeatability_sd**2 * 2 / 3)
        assert_allclose(found.reproducibility_sd, max(found.repeatability_sd, other), rtol=1e-12)


def test_numbers_are_given_with_and_without_flagged_cells():
    data = cells("e691_glucose", "C")
    report = precision_report(data)
    assert (report.all_cells.n_cells, report.without_outliers.n_cells) == (8, 7)
    assert report.without_outliers == cell_precision(data, without=["4"])
    rest = [values for lab, values in data.items() if lab != "4"]
    pooled = math.sqrt(np.mean([np.var(values, ddof=1) for values in rest]))  # independent: numpy
    assert_allclose(report.without_outliers.repeatability_sd, pooled, rtol=1e-13)
    assert report.without_outliers.left_out == ("4",)
    assert len(report.cells) == 8  # flagged, never removed


def test_stragglers_stay_unless_asked_for():
    report = precision_report(cells("iso5725_sulfur", 1) | {"9": [0.60, 0.80]})
    assert report.flags
    assert report.all_cells.n_cells == 9
    level = precision_report(cells("e691_glucose", "C"))
    assert "Grubbs: straggler" in level.flags["4"]


@pytest.mark.parametrize(("excess", "said"), [(0.999, "correct"), (1.001, "straggler")])
def test_k_of_unequal_cells_follows_the_beta_law(excess, said):
    # independent: scipy.stats.beta (scipy 1.17.1): the share of one cell in the pooled sum of squares, ν = 3 of 8, is
    # beta(3/2, 5/2); a cell is placed just under and just over the 5 % quantile of that share
    share = excess * stats.beta.isf(0.05, 1.5, 2.5)
    half = math.sqrt(share / (1 - share) * 2.5 / 4)  # hand: sum of squares 0.5 + 2 = 2.5 in A and B, 4·half² in C
    data = {"A": [0, 1], "B": [-1, 1, 0, 0, 0], "C": [-half, half, -half, half]}
    found = cell_consistency(data)[2]
    assert_allclose(found.k, math.sqrt(share * 8 / 3), rtol=1e-12)
    assert found.k_class == said


def test_one_result_a_cell_and_one_cell_are_told():
    once = cell_precision({"A": [1.0], "B": [2.0], "C": [4.0]})
    assert (once.repeatability_sd, once.reproducibility_sd) == (None, None)
    assert "one result" in once.note
    alone = cell_precision({"A": [1.0, 2.0, 4.0]})
    assert_allclose(alone.repeatability_sd, math.sqrt(7 / 3))  # hand: deviations −4/3, −1/3, 5/3
    assert (alone.between_sd, alone.reproducibility_sd) == (None, None)
    assert cell_precision({"A": [1.0]}).repeatability_sd is None


@pytest.mark.parametrize(
    "data",
    [
        {"A": [1.0]},
        {"A": [1.0, 2.0]},
        {"A": [1.0], "B": [2.0], "C": [4.0]},
        {"A": [0.1, 0.1], "B": [0.1, 0.1], "C": [0.1, 0.1]},
        {"A": [0.1, 0.1], "B": [0.2, 0.2], "C": [0.4, 0.4]},
        {"A": [1.0, 2.0], "B": [3.0], "C": []},
        {"A": [1.0, 2.0], "B": [3.0, 4.0]},
    ],
)
def test_small_and_equal_cells_make_a_report_without_flags(data):
    report = precision_report(data)
    assert report.flags == {}
    assert len(report.cells) == sum(bool(values) for values in data.values())
    assert report.without_flagged == report.all_cells


def test_report_ignores_order_and_scales():
    data = cells("e691_glucose", "B")
    plain = cell_precision(data)
    turned = cell_precision({lab: [10 * v for v in data[lab][::-1]] for lab in sorted(data, reverse=True)})
    assert_allclose(turned.reproducibility_sd, 10 * plain.reproducibility_sd, rtol=1e-12)


@pytest.mark.parametrize("data", [{}, {"A": []}, {"A": [1.0, math.nan]}, {"A": [1.0], "B": [math.inf]}])
def test_precision_refuses_nothing_nan_and_infinite(data):
    with pytest.raises(ValueError):
        precision_report(data)


def test_precision_refuses_an_unknown_cell_and_none_left():
    with pytest.raises(ValueError, match="no cell is called X"):
        cell_precision({"A": [1.0, 2.0]}, without=["X"])
    with pytest.raises(ValueError, match="no results are left"):
        cell_precision({"A": [1.0, 2.0]}, without=["A"])


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (mandel_h_critical, (2, 0.05)),
        (mandel_k_critical, (1, 3, 0.05)),
        (mandel_k_critical, (3, 1, 0.05)),
        (mandel_h_critical, (5, 5)),
        (mandel_h_critical, (4.5, 0.05)),
        (mandel_k_critical, (math.nan, 3, 0.05)),
    ],
)
def test_critical_values_refuse_what_is_out_of_range(function, arguments):
    with pytest.raises(ValueError):
        function(*arguments)
