"""Two-level factorial trials against published effects."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.statistics.factorial import factorial_design, factorial_effects, lenth_margins
from tests.analysis.tables import groups, table

TRIALS = groups("factorial_trials")


@pytest.mark.parametrize("trial", TRIALS)
def test_published_effects(trial):
    expected = table("factorial_effects").query("trial == @trial").set_index("effect")["value"]
    found = factorial_effects(TRIALS[trial])
    assert_allclose(found.mean, expected["mean"], rtol=1e-12)
    effects = {effect.name: effect.value for effect in found.effects}
    assert set(effects) == set(expected.index) - {"mean"}
    assert_allclose([effects[name] for name in effects], expected[list(effects)], atol=1e-12)


def test_effects_are_twice_the_regression_coefficients():
    import statsmodels.api as sm

    values, signs = np.array(TRIALS["filtration"]), factorial_design(4)
    columns = np.column_stack([np.ones(16), signs, signs[:, 0] * signs[:, 1]])
    found = sm.OLS(values, columns).fit().params  # independent: statsmodels
    effects = {effect.name: effect.value for effect in factorial_effects(values).effects}
    assert_allclose([effects[name] for name in ("A", "B", "C", "D", "AB")], 2 * found[1:], rtol=1e-10)


def test_what_stands_out_of_the_filtration_trial():
    found = factorial_effects(TRIALS["filtration"])
    # hand: PSE 1.5·1.75 = 2.625, ME t(0.975; 5)·2.625; from memory: the same margins 6.748 and 13.699 in Montgomery
    assert_allclose((found.pseudo_standard_error, found.margin), (2.625, 6.748), atol=5e-4)
    assert_allclose(found.simultaneous_margin, 13.699, atol=5e-4)
    assert found.standing_out == ("A", "AC", "D", "AD")


def test_half_normal_quantiles_follow_the_size():
    found = factorial_effects(TRIALS["pilot"])
    ordered = sorted(found.effects, key=lambda effect: abs(effect.value))
    quantiles = [effect.half_normal for effect in ordered]
    assert quantiles == sorted(quantiles)
    assert_allclose(quantiles[0], 0.0896, atol=5e-5)  # hand: Φ⁻¹(0.5 + 0.25/7)


def test_repeated_coupons_give_a_standard_error():
    # hand: two settings, pairs (1, 3) and (6, 8): variances 2 and 2; √(4·2/4) = 1.414214
    found = factorial_effects([[1.0, 3.0], [6.0, 8.0]])
    assert [(effect.name, effect.value) for effect in found.effects] == [("A", 5.0)]
    assert_allclose((found.standard_error, found.df), (math.sqrt(2), 2))
    assert found.pseudo_standard_error is None


def test_names_of_factors():
    found = factorial_effects([1, 2, 3, 5], ["withdrawal", "heat"])
    assert [effect.name for effect in found.effects] == ["withdrawal", "heat", "withdrawal×heat"]
    assert found.effects[2].value == pytest.approx(0.5)  # hand: (5 + 1 − 2 − 3)/2


def test_aliases_of_a_half_fraction():
    # hand: D = ABC, so I = ABCD: A with BCD, AB with CD, ABC with D
    found = factorial_effects(range(8), generators=["D=ABC"])
    aliases = {effect.name: effect.aliases for effect in found.effects}
    assert aliases["A"] == ("BCD",)
    assert aliases["AB"] == ("CD",)
    assert aliases["ABC"] == ("D",)


def test_aliases_of_a_quarter_fraction():
    # hand: D = AB, E = AC; I = ABD = ACE = BCDE: A with BD, CE and ABCDE
    found = factorial_effects(range(8), generators=["D = AB", "E = AC"])
    assert {effect.name: effect.aliases for effect in found.effects}["A"] == ("BD", "CE", "ABCDE")


def test_equal_values_have_no_effects():
    found = factorial_effects([5.0] * 8)
    assert [effect.value for effect in found.effects] == [0.0] * 7
    assert found.standing_out == ()


@pytest.mark.parametrize("factor", [1e-6, 1e6])
def test_scale(factor):
    found, scaled = factorial_effects(TRIALS["pilot"]), factorial_effects(np.array(TRIALS["pilot"]) * factor)
    assert_allclose([e.value for e in scaled.effects], [e.value * factor for e in found.effects], atol=1e-9 * factor)
    assert_allclose(scaled.margin, found.margin * factor)


def test_design_is_in_standard_order_and_orthogonal():
    signs = factorial_design(4)
    assert signs[:4, 0].tolist() == [-1, 1, -1, 1]
    assert signs[-1].tolist() == [1, 1, 1, 1]
    assert_allclose(signs.T @ signs, 16 * np.eye(4))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: factorial_effects([1, 2, 3]), "no full set"),
        (lambda: factorial_effects([1]), "no full set"),
        (lambda: factorial_effects([1, 2, 3, math.nan]), "NaN"),
        (lambda: factorial_effects([1, 2, 3, 4], ["A"]), "factor names"),
        (lambda: factorial_effects([1, 2, 3, 4], ["A", "A"]), "name of its own"),
        (lambda: factorial_effects([1, 2, 3, 4], generators=["A=AB"]), "does not set"),
        (lambda: factorial_effects([1, 2, 3, 4], generators=["C"]), "does not set"),
        (lambda: factorial_design(0), "factors"),
        (lambda: lenth_margins([]), "no values"),
    ],
)
def test_what_is_no_trial_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_rounded_values_show_no_scatter_to_tell_effects_from():
    assert lenth_margins([0.0, 0.0, 0.0, 0.0, 5.0]) == (None, None, None)
    found = factorial_effects([1.0, 2.0] * 4)
    assert (found.pseudo_standard_error, found.simultaneous_margin, found.standing_out) == (None, None, ())


def test_margins_of_a_few_zeros():
    # hand: |c| 0 0 1 2 20: s0 1.5·1, kept 0 0 1 2 (below 3.75), PSE 1.5·0.5
    error, single, joint = lenth_margins([0, 0, 1, -2, 20])
    assert error == 0.75
    from scipy import stats

    quantiles = stats.t.ppf([0.975, (1 + 0.95 ** (1 / 5)) / 2], 5 / 3)  # independent: scipy
    assert_allclose((single, joint), 0.75 * quantiles, rtol=1e-10)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: factorial_design(2.5), "number of factors must be whole, not 2.5"),
        (lambda: factorial_design(13), "1 to 12 factors, not 13"),
        (lambda: lenth_margins([[1, 2], [3, 4]]), "shape"),
        (lambda: factorial_effects(np.zeros((2, 2, 2))), "one setting a row"),
    ],
)
def test_other_shapes_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_a_design_of_whole_number_given_as_float():
    assert factorial_design(2.0).tolist() == factorial_design(2).tolist()
