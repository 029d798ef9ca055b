"""Outlier flags against the published example of Rosner and of Grubbs."""

import math

import pytest
from numpy.testing import assert_allclose

from analysis.statistics.outliers import flag_outliers
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
