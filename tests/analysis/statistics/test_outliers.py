"""Outlier flags against the published example of Rosner and of Grubbs."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.outliers import (
    cochran_critical,
    cochran_test,
    esd_critical,
    flag_outliers,
    grubbs_critical,
    grubbs_test,
    outlier_class,
    studentized_deviation,
)
from tests.analysis.tables import table

# published: NIST/SEMATECH e-Handbook 1.3.5.17.1, uranium (Tietjen & Moore 1972)
URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]


def test_rosner_example_step_by_step():
    values, expected = table("rosner")["value"].tolist(), table("rosner_steps")
    found = flag_outliers(values, alpha=0.05, most=10)
    assert [step.value for step in found.steps] == expected["value"].tolist()
    assert_allclose([step.statistic for step in found.steps], expected["statistic"], atol=6e-7)
    assert_allclose([step.critical for step in found.steps], expected["critical"], atol=6e-7)


def test_three_outliers_do_not_hide_each_other():
    # published: e-Handbook 1.3.5.17.3: three outliers, although the first two steps stay below their limits
    values = table("rosner")["value"].tolist()
    found = flag_outliers(values, most=10)
    assert found.steps[0].statistic < found.steps[0].critical
    assert [values[index] for index in found.flagged] == [5.34, 5.42, 6.01]
    assert len(found.flags) == len(values)  # flagged, never removed


def test_one_outlier_is_the_grubbs_test():
    # independent: G 2.468765 and the two-sided 5 % value 2.126645 (scipy 1.17; 2.127 in the usual tables)
    (step,) = flag_outliers(URANIUM).steps
    assert_allclose((step.statistic, step.critical), (2.468765, 2.126645), atol=5e-7)
    assert flag_outliers(URANIUM).flagged == (7,)


@pytest.mark.parametrize(
    ("n", "critical"),
    [
        (4, 1.481),
        (5, 1.715),
        (6, 1.887),
        (10, 2.290),
        (14, None),
    ],  # published: tables of Grubbs, two-sided 5 %
)
def test_critical_values_of_small_samples(n, critical):
    (step,) = flag_outliers([0.0] * (n - 1) + [1.0]).steps
    if critical:
        assert_allclose(step.critical, critical, atol=6e-4)
    assert_allclose(step.statistic, (n - 1) / math.sqrt(n), rtol=1e-12)  # limit: the largest possible value


def test_flags_follow_the_order_of_the_readings():
    assert flag_outliers(URANIUM[::-1]).flagged == (0,)


def test_steady_readings_are_not_flagged():
    assert flag_outliers([113.1, 114.1, 113.7, 113.8, 112.9]).flagged == ()
    assert flag_outliers([5.0] * 6).steps == ()


@pytest.mark.parametrize("values", [[1.0], [1.0, 2.0, 90.0]])
def test_too_few_readings_are_said_not_flagged(values):
    found = flag_outliers(values)
    assert found.flags == (False,) * len(values)
    assert "too few" in found.note


@pytest.mark.parametrize("values", [[], [1.0, 2.0, 3.0, math.nan]])
def test_outliers_refuse_nothing_and_nan(values):
    with pytest.raises(ValueError):
        flag_outliers(values)


@pytest.mark.parametrize("row", list(table("grubbs_critical").itertuples(index=False)))
def test_table_of_grubbs(row):
    assert_allclose(grubbs_critical(row.n, row.alpha, is_two_sided=row.sides == 2), row.critical, atol=5.01e-4)


@pytest.mark.parametrize("row", list(table("cochran_critical").itertuples(index=False)))
def test_table_of_cochran(row):
    assert_allclose(cochran_critical(row.p, row.n, row.alpha), row.critical, atol=5.01e-4)


@pytest.mark.parametrize("row", list(table("rosner_steps").itertuples(index=False)), ids=lambda row: f"step {row.step}")
def test_critical_values_of_rosner(row):
    assert_allclose(esd_critical(54, row.step), row.critical, atol=6e-7)


@pytest.mark.parametrize(("is_two_sided", "critical"), [(True, 2.126645), (False, 2.031652)])
def test_which_table_is_meant_is_named(is_two_sided, critical):
    # published trap: the e-Handbook quotes the one-sided 2.032 for the uranium data, ISO 5725-2 the two-sided 2.126
    assert_allclose(grubbs_critical(8, 0.05, is_two_sided=is_two_sided), critical, atol=6e-7)
    found = grubbs_test(URANIUM, "either" if is_two_sided else "high")
    assert_allclose((found.statistic, found.critical_5_percent), (2.468765, critical), atol=6e-7)
    assert (found.index, found.value, found.outlier_class) == (7, 245.57, "statistical outlier")
    assert ("two-sided" if is_two_sided else "one-sided") in found.test


def test_beam_deflections_hold_no_outlier():
    # independent: StRD Lew with numpy and scipy 1.17.1: G = 1.7215; published table: 3.384 for n = 100, two-sided 5 %
    found = grubbs_test(table("strd_lew")["deflection"], "either")
    assert_allclose(found.statistic, 1.7215, atol=5.01e-5)
    assert found.outlier_class == "correct"


@pytest.mark.parametrize(("side", "index"), [("high", 3), ("low", 0), ("either", 0)])
def test_the_named_side_is_tested(side, index):
    assert grubbs_test([-9.0, 1.0, 2.0, 4.0], side).index == index


def test_three_values_make_an_empty_test():
    # limit: the largest possible statistic of three values is 2/√3 = 1.1547, the 1 % value 1.1547
    found = grubbs_test([0.0, 0.0, 1.0], "either")
    assert_allclose(found.statistic, 2 / math.sqrt(3), rtol=1e-14)
    assert "empty" in found.note


def test_equal_values_are_told():
    assert grubbs_test([0.3] * 5, "either").statistic is None
    found = cochran_test([0.0, 0.0, 0.0], 3)
    assert (found.statistic, found.outlier_class) == (None, "correct")


@pytest.mark.parametrize(("p", "n", "alpha"), [(2, 2, 0.05), (8, 3, 0.01), (50, 12, 1e-5)])
def test_cochran_from_the_f_distribution(p, n, alpha):
    f = stats.f.isf(alpha / p, n - 1, (p - 1) * (n - 1))  # independent: scipy.stats.f (scipy 1.17.1)
    # f.isf itself keeps 12 digits at such a level
    assert_allclose(cochran_critical(p, n, alpha), f / (f + p - 1), rtol=1e-11)


@pytest.mark.parametrize("scale", [1e-200, 1.0, 1e200])
def test_cochran_of_huge_and_tiny_spreads(scale):
    found = cochran_test([scale, scale, 2 * scale], 4)
    assert_allclose(found.statistic, 4 / 6, rtol=1e-14)  # hand: 4/(1 + 1 + 4)
    assert found.index == 2


def test_level_of_the_two_sided_test_is_kept():
    # independent: 20 000 samples of 8 normal values (numpy, seed 3): 5 % ± 0.5 % (3 standard errors) are flagged
    samples = np.random.default_rng(3).normal(size=(20_000, 8))
    g = np.max(np.abs(samples - samples.mean(1, keepdims=True)), axis=1) / samples.std(1, ddof=1)
    assert abs(np.mean(g > grubbs_critical(8, 0.05, is_two_sided=True)) - 0.05) < 0.005


@pytest.mark.parametrize(
    ("statistic", "said"),
    [
        (0.5, "correct"),
        (1.0, "correct"),
        (1.5, "straggler"),
        (2.0, "straggler"),
        (2.1, "statistical outlier"),
        (None, "correct"),
        (math.nan, "correct"),
    ],
)
def test_classes(statistic, said):
    # from memory: ISO 5725-2, 7.3: correct up to the 5 % value, straggler up to the 1 % value, outlier above
    assert outlier_class(statistic, 1.0, 2.0) == said


def test_critical_values_of_arrays():
    sizes = np.array([[3], [8], [100]])
    assert grubbs_critical(sizes, np.array([0.05, 0.01]), is_two_sided=True).shape == (3, 2)
    assert esd_critical(54, np.arange(1, 11)).shape == (10,)
    assert cochran_critical(np.array([3, 8]), 3, 0.05).shape == (2,)
    assert type(grubbs_critical(8, 0.05, is_two_sided=True)) is type(cochran_critical(8, 3, 0.05)) is float


@pytest.mark.parametrize(
    "call",
    [
        lambda: grubbs_critical(2, 0.05, is_two_sided=True),
        lambda: grubbs_critical(math.nan, 0.05, is_two_sided=True),
        lambda: grubbs_critical(5, 1.5, is_two_sided=True),
        lambda: grubbs_test([1.0, 2.0], "either"),
        lambda: grubbs_test([1.0, 2.0, math.nan], "high"),
        lambda: grubbs_test([1.0, 2.0, 3.0], "both"),
        lambda: cochran_critical(1, 3, 0.05),
        lambda: cochran_critical(3, 2.5, 0.05),
        lambda: cochran_test([1.0, -1.0], 3),
        lambda: cochran_test([1.0], 3),
        lambda: esd_critical(5, 4),
        lambda: esd_critical(5, 0),
        lambda: outlier_class(1.0, 2.0, 1.0),
        lambda: studentized_deviation(8, 0.6),
        lambda: studentized_deviation(8, 0),
    ],
)
def test_out_of_range_is_refused(call):
    with pytest.raises(ValueError):
        call()
