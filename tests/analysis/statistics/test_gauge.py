"""Gauge studies against two published data sets and a simulation."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.statistics.gauge import _categories, gauge_study, range_study
from tests.analysis.tables import table


def example():
    """Parts × appraisers × trials."""
    frame = table("gauge_crossed")
    return frame.drop(columns=["operator", "trial"]).to_numpy().reshape(3, 3, 10).transpose(2, 0, 1)


def iso_example():
    frame = table("gauge_crossed_iso")
    return frame.filter(like="trial").to_numpy().reshape(3, 10, 3).transpose(1, 0, 2)


def test_analysis_of_variance():
    # independent: recomputed apart from data read in public test files
    rows = gauge_study(example()).rows
    assert [row.source for row in rows] == ["part", "operator", "interaction", "repeatability", "total"]
    assert [row.df for row in rows] == [9, 2, 18, 60, 89]
    assert_allclose([row.ss for row in rows], [88.361934, 3.167262, 0.358982, 2.758933, 94.647112], atol=5.1e-7)
    assert_allclose([row.ms for row in rows[:4]], [9.817993, 1.583631, 0.019943, 0.045982], atol=5.1e-7)
    assert_allclose([row.f for row in rows[:3]], [492.291, 79.406, 0.4337], rtol=2e-5, atol=5e-5)
    assert_allclose(rows[2].p, 0.974, atol=5e-4)


@pytest.mark.parametrize(
    ("pool_above", "is_pooled", "ev", "av", "grr", "pv", "tv", "study", "contribution", "exact", "ndc"),
    [
        # published: AIAG MSA, interaction pooled
        (0.25, True, 0.199933, 0.226838, 0.302372, 1.042327, 1.085300, 27.86, 7.76, 4.87, 4),
        # independent: not pooled, interaction taken as 0
        (None, False, 0.214435, 0.228304, 0.313217, 1.043395, 1.089393, 28.75, 8.27, 4.71, 4),
    ],
)
def test_study(pool_above, is_pooled, ev, av, grr, pv, tv, study, contribution, exact, ndc):
    found = gauge_study(example(), pool_above)
    shares = (found.ev, found.av, found.grr, found.pv, found.tv)
    assert_allclose([share.sd for share in shares], (ev, av, grr, pv, tv), atol=5.1e-7)
    assert_allclose((found.grr.study_percent, found.grr.contribution_percent), (study, contribution), atol=5.1e-3)
    assert_allclose(found.ndc_unrounded * math.sqrt(2) / 1.41, exact, atol=5.1e-3)  # these two are printed with √2
    assert (found.ndc, found.is_pooled) == (ndc, is_pooled)
    assert found.interaction.sd == 0


def test_pooled_variances():
    found = gauge_study(example())
    expected = [0.039973, 0.051455, 0.091429, 1.086447, 1.177875]
    assert_allclose([s.sd**2 for s in (found.ev, found.av, found.grr, found.pv, found.tv)], expected, atol=5.1e-7)
    assert found.note == ""
    raw = gauge_study(example(), None)
    assert raw.raw_variances["interaction"] < 0
    assert "interaction comes out negative" in raw.note


def test_iso_example():
    # published: ISO 22514-7 Annex A.4, as printed
    found = gauge_study(iso_example(), 0.05)
    part, operator, interaction, repeat = found.rows[:4]
    assert_allclose((operator.ss, interaction.ss, repeat.ss), (0.519, 0.686, 1.917), atol=5.1e-4)
    assert_allclose(part.ss, 526.8775, atol=5e-5)
    assert_allclose((operator.ms, part.ms, interaction.ms), (0.260, 58.54, 0.0381), rtol=2e-3)
    assert_allclose(repeat.ms, 0.0320, atol=5.1e-5)
    assert_allclose(interaction.f, 1.193, atol=5e-4)
    assert found.is_pooled
    assert_allclose((found.ev.sd**2, found.av.sd, found.ev.sd), (0.0334, 0.0868, 0.1827), atol=5.1e-5)
    assert_allclose(found.pv.sd**2, 6.501, atol=5e-4)
    unpooled = gauge_study(iso_example(), None)
    assert_allclose(unpooled.raw_variances["operator"], 0.00738, atol=5e-6)
    assert_allclose(unpooled.raw_variances["interaction"], 0.00205, atol=5e-6)


def test_averages_and_ranges():
    # published: AIAG MSA with K1 0.5908, K2 0.5231, K3 0.3146
    found = range_study(example(), (0.5908, 0.5231, 0.3146))
    sds = [share.sd for share in (found.ev, found.av, found.grr, found.pv, found.tv)]
    assert_allclose(sds, (0.20186, 0.22967, 0.30577, 1.10460, 1.14613), atol=6e-6)  # rounded once more on the way
    assert_allclose((found.mean_range, found.operator_difference), (0.341667, 0.444667), atol=5.1e-7)
    assert_allclose((found.part_range, found.range_limit), (3.511111, 0.879), atol=8e-4)  # printed with D4 2.574
    assert_allclose(found.grr.study_percent, 26.68, atol=5.1e-3)
    assert_allclose(found.ndc_unrounded, 5.09, atol=5e-3)
    assert found.ndc == 5
    assert found.ranges_beyond == ((3, 1),)  # part 4, appraiser B


def test_exact_constants_differ_from_the_table_in_its_last_digit():
    # limit: K3 0.3146 is 0.31456 unrounded
    exact, rounded = range_study(example()), range_study(example(), (0.5908, 0.5231, 0.3146))
    assert_allclose(exact.ev.sd, rounded.ev.sd, rtol=1e-4)
    assert_allclose(exact.pv.sd, rounded.pv.sd, rtol=2e-4)


def test_the_method_changes_the_number_of_categories():
    assert (gauge_study(example()).ndc, range_study(example()).ndc) == (4, 5)


def test_simulated_components_come_back():
    # limit: means of 400 simulated studies against the true variances, within 4 errors
    rng = np.random.default_rng(31)
    truth = {"repeatability": 0.04, "operator": 0.09, "interaction": 0.01, "part": 1.0}
    found = {name: [] for name in truth}
    for _ in range(400):
        block = rng.normal(0, 1.0, (8, 1, 1)) + rng.normal(0, 0.3, (1, 4, 1)) + rng.normal(0, 0.1, (8, 4, 1))
        study = gauge_study(block + rng.normal(0, 0.2, (8, 4, 3)), None)
        for name, value in study.raw_variances.items():
            found[name].append(value)
    for name, value in truth.items():
        error = np.std(found[name], ddof=1) / math.sqrt(400)
        assert abs(np.mean(found[name]) - value) < 4 * error


def test_shares_add_up_in_variance_and_follow_the_unit():
    found, scaled = gauge_study(example(), None), gauge_study(1e6 + 1000 * example(), None)
    total = found.ev.contribution_percent + found.av.contribution_percent + found.pv.contribution_percent
    assert_allclose(total, 100)
    assert_allclose(scaled.ev.sd, 1000 * found.ev.sd, rtol=1e-9)
    assert scaled.ndc == found.ndc


def test_a_gauge_without_spread():
    block = np.arange(3.0)[:, None, None] + np.zeros((3, 2, 2))
    found = gauge_study(block)
    assert (found.ndc, found.grr.sd, found.rows[2].f) == (None, 0, None)
    assert range_study(block).ndc is None


@pytest.mark.parametrize(
    "block", [np.zeros((3, 2, 2)), np.ones((1, 2, 2)), np.ones((2, 1, 2)), np.ones((2, 2, 1)), np.ones((2, 2)), []]
)
@pytest.mark.parametrize("function", [gauge_study, range_study])
def test_what_makes_no_study_is_refused(function, block):
    with pytest.raises(ValueError, match="gauge study"):
        function(block)


@pytest.mark.parametrize("threshold", [-0.1, 1.1])
def test_threshold_is_a_share(threshold):
    with pytest.raises(ValueError, match="between 0 and 1"):
        gauge_study(example(), threshold)
    with pytest.raises(ValueError, match="NaN"):
        gauge_study(np.where(example() > 2, math.nan, example()))


def test_categories_are_not_cut_by_rounding():
    # hand: 1.41·(3·0.29)/(1.41·0.29) is 3, and 2.9999999999999996 in doubles
    assert 1.41 * (3 * 0.29) / (1.41 * 0.29) < 3
    assert _categories(3 * 0.29, 1.41 * 0.29)[1] == 3
    assert _categories(0.5, 1.0)[1] == 0


@pytest.mark.parametrize(
    ("constants", "words"),
    [((0.5, 0.5), "not 2"), ((0.5, -0.1, 0.3), "above 0, not -0.1"), ((0.5, 0.5, math.nan), "not nan")],
)
def test_constants_are_three_numbers_above_zero(constants, words):
    with pytest.raises(ValueError, match=words):
        range_study(example(), constants)


def test_ranges_see_nothing_of_an_interaction_alone():
    block = np.array([[[1.0, 1.0], [2.0, 2.0]], [[2.0, 2.0], [1.0, 1.0]]])  # means of parts and operators all 1.5
    with pytest.raises(ValueError, match="nothing to split"):
        range_study(block)
    found = gauge_study(block)
    # hand: MS of the interaction 2·(4·0.25)/1 = 2, less 0, over 2 trials: 1
    assert (found.interaction.sd, found.ev.sd, found.pv.sd, found.ndc) == (1, 0, 0, 0)
    assert "part" in found.note
    assert "operator" in found.note
