"""Means, intervals and variance components against certified data sets (StRD) and published examples."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.replication import mean_interval, variance_components
from tests.analysis.tables import groups, table

CENTRES = (1.4, 1.3, 1.5, 1.3, 1.5, 1.3, 1.5, 1.3, 1.5)  # published: recipe of the StRD sets SmLs


def num_acc(centre):
    """published: recipe of the StRD sets NumAcc2 to NumAcc4."""
    return [centre] + [centre - 0.1, centre + 0.1] * 500


def smls(size, shift):
    treatments = ([c] + [c - 0.1, c + 0.1] * ((size - 1) // 2) for c in CENTRES)
    return {str(i): np.array(values) + shift for i, values in enumerate(treatments)}


def f_ratio(groups_):
    """F from the components: 1 + n0·between/within, the moment equations turned round (balanced)."""
    parts = variance_components(groups_)
    size = len(next(iter(groups_.values())))
    return 1 + size * parts.between_variance / parts.within_variance


def test_mean_and_sd_of_certified_beam_deflections():
    interval = mean_interval(table("strd_lew")["deflection"])
    assert_allclose(interval.mean, -177.435, rtol=1e-14)  # published: StRD Lew
    assert_allclose(interval.sd, 277.332168044316, rtol=1e-14)  # published: StRD Lew
    # independent: scipy.stats.t.interval (scipy 1.17)
    expected = stats.t.interval(0.95, 199, -177.435, 277.332168044316 / math.sqrt(200))
    assert_allclose((interval.low, interval.high), expected, rtol=1e-12)


@pytest.mark.parametrize(
    ("values", "mean", "sd", "digits"),
    [
        ([10000001, 10000003, 10000002], 10000002, 1, 14),  # published: StRD NumAcc1
        (num_acc(1.2), 1.2, 0.1, 13),  # published: StRD NumAcc2
        (num_acc(1000000.2), 1000000.2, 0.1, 9),  # published: StRD NumAcc3
        (num_acc(10000000.2), 10000000.2, 0.1, 8),  # published: StRD NumAcc4
    ],
)
def test_a_large_common_part_costs_no_digits(values, mean, sd, digits):
    interval = mean_interval(values)
    assert_allclose(interval.mean, mean, rtol=1e-14)
    assert_allclose(interval.sd, sd, rtol=10**-digits)


def test_interval_counts_groups_not_readings():
    # independent: numpy, three groups of four (invented data): 95 % interval with 2 degrees of freedom; the
    # interval over the 12 readings, 149.673 to 152.427, would be four times too narrow
    drops = [[151.2, 152.0, 150.9, 151.5], [148.1, 148.9, 148.6, 148.0], [153.3, 152.7, 153.9, 153.5]]
    interval = mean_interval([np.mean(group) for group in drops])
    assert_allclose((interval.mean, interval.low, interval.high), (151.05, 144.856, 157.244), atol=5e-4)


def test_one_coupon_has_no_interval():
    interval = mean_interval([3.2])
    assert (interval.mean, interval.low, interval.high, interval.sd, interval.n) == (3.2, None, None, None, 1)


@pytest.mark.parametrize("values", [[], [1.0, math.nan], [1.0, math.inf]])
def test_mean_refuses_nothing_nan_and_infinite(values):
    with pytest.raises(ValueError, match="value"):
        mean_interval(values)


@pytest.mark.parametrize("confidence", [0, 1, 95, math.nan])
def test_mean_refuses_a_confidence_that_is_no_share(confidence):
    with pytest.raises(ValueError, match="confidence"):
        mean_interval([1, 2, 3], confidence)


def test_interval_scales_and_ignores_order():
    values = [2.36, 1.88, 2.32, 1.66]
    plain, turned = mean_interval(values), mean_interval([10 * value for value in values[::-1]])
    assert_allclose((turned.low, turned.high), (10 * plain.low, 10 * plain.high), rtol=1e-13)


@pytest.mark.parametrize(
    ("size", "shift", "f", "tolerance"),
    [  # published: StRD SmLs01, 04, 07, 02, 08; at 1e12 the readings themselves are rounded to about 4 digits
        (21, 0, 21, 1e-12),
        (21, 1e6, 21, 1e-8),
        (21, 1e12, 21, 2e-3),
        (201, 0, 201, 1e-12),
        (201, 1e12, 201, 2e-3),
    ],
)
def test_certified_analysis_of_variance(size, shift, f, tolerance):
    assert_allclose(f_ratio(smls(size, shift)), f, rtol=tolerance)


def test_certified_analysis_of_variance_of_real_data():
    data = groups("strd_sirstv")
    assert_allclose(f_ratio(data), 1.18046237440255, rtol=1e-9)  # published: StRD SiRstv
    assert_allclose(variance_components(data).within_sd, 0.104076068334656, rtol=1e-10)  # published


def test_dyestuff_components():
    # hand: MSB 11271.5, MSW 2451.25 (Davies 1947); (11271.5 − 2451.25)/5 = 1764.05
    parts = variance_components(groups("dyestuff"))
    assert_allclose((parts.between_variance, parts.within_variance), (1764.05, 2451.25), rtol=1e-12)
    assert_allclose((parts.between_sd, parts.within_sd), (42.0006, 49.5101), atol=5e-5)
    assert (parts.n_groups, parts.n_readings, parts.note) == (6, 30, "")


def test_dyestuff_components_by_reml_equal_the_moments():
    # published: lme4's own tests assert 1764.0375 and 49.5101; limit: balanced, REML = moments
    parts = variance_components(groups("dyestuff"), reml=True)
    assert parts.method == "REML"
    assert_allclose((parts.between_variance, parts.within_sd), (1764.05, 49.5101), rtol=2e-4)


def test_a_negative_component_is_kept_named_and_has_no_negative_sd():
    # independent: numpy from MSB 8.336326 and MSW 14.945890 of Dyestuff2 (Box & Tiao 1973)
    parts = variance_components(groups("dyestuff2"))
    assert_allclose(parts.between_variance, -1.321913, atol=5e-7)
    assert_allclose(parts.within_variance, 14.945890, atol=5e-7)  # not pooled again
    assert parts.between_sd == 0
    assert "negative (-1.322)" in parts.note


def test_reml_of_a_negative_component_lies_on_its_boundary():
    # hand: with the between part at 0 the within part is the total sum of squares over 29
    data = groups("dyestuff2")
    total = np.var(np.concatenate(list(data.values())), ddof=1)
    parts = variance_components(data, reml=True)
    assert (parts.between_variance, parts.between_sd) == (0, 0)
    assert_allclose(parts.within_variance, total, rtol=1e-5)
    assert_allclose(total, 13.806309, atol=5e-7)  # published arithmetic of the same set
    assert parts.note


def test_unbalanced_groups_use_the_effective_size():
    # hand: groups (1,3), (5,7,9), (2): means 2, 7, 2, grand mean 4.5; SSW 2+8 = 10, df 3, MSW 10/3;
    # SSB 2·2.5² + 3·2.5² + 1·2.5² = 37.5, df 2, MSB 18.75; n0 = (6 − 14/6)/2 = 11/6
    parts = variance_components({"A": [1, 3], "B": [5, 7, 9], "C": [2]})
    assert_allclose(parts.within_variance, 10 / 3, rtol=1e-13)
    assert_allclose(parts.between_variance, (18.75 - 10 / 3) / (11 / 6), rtol=1e-13)


def test_components_that_cannot_be_told_are_not_given():
    single = variance_components({"A": [1.0, 2.0, 4.0]})
    assert single.between_sd is None
    assert_allclose(single.within_sd, math.sqrt(7 / 3))  # hand: deviations −4/3, −1/3, 5/3
    once = variance_components({"A": [1.0], "B": [2.0]})
    assert (once.between_sd, once.within_sd) == (None, None)
    assert "cannot be separated" in once.note


@pytest.mark.parametrize("data", [{}, {"A": []}, {"A": [1.0, math.nan]}])
def test_components_refuse_nothing_and_nan(data):
    with pytest.raises(ValueError):
        variance_components(data)
