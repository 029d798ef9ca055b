"""Possible angles, drift, outliers, a mass that the balance can tell: each outcome, and the sentence."""

import dataclasses

from numpy.testing import assert_allclose

from analysis.checks import angles_possible, drift_over_drops, mass_resolved, outliers
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, Reading
from tests.analysis.runs import make_angles, make_run, make_sliding


def test_possible_angles_hold():
    check = angles_possible(make_angles([(113.1, 111.3), (104.0, 104.0)]))
    assert (check.outcome, check.numbers["drops with θr above θa"]) == (HOLDS, 0)


def test_receding_above_advancing_and_angles_out_of_range_do_not_hold():
    check = angles_possible(make_angles([(113.1, 114.3), (181.0, 90.0)]))
    assert check.outcome == DOES_NOT_HOLD
    assert check.why == "1 of 4 readings out of range, θr > θa in 1 of 1 drops."


def test_an_excluded_reading_no_longer_counts_against_the_run():
    run = make_angles([(113.1, 114.3), (113.0, 111.0)])
    kept = [dataclasses.replace(item, excluded=item.drop == 1) for item in run.readings]
    assert angles_possible(dataclasses.replace(run, readings=tuple(kept))).outcome == HOLDS


def test_drift_of_sliding_angles_over_the_drops():
    """Hand: Kendall's S of five falling values is −10, its exact two-sided p 2/120."""
    check = drift_over_drops(make_sliding([5.6, 5.1, 3.9, 3.7, 3.0]))
    assert check.outcome == DOES_NOT_HOLD
    assert_allclose(check.numbers["p of the rank trend"], 2 / 120)
    assert drift_over_drops(make_sliding([5.1, 3.0, 5.6, 3.7, 3.9])).outcome == HOLDS


def test_drops_that_did_not_move_rank_highest_in_the_drift():
    """Hand: 4 5 6 >30 >30 has S = 9 of ten pairs; exact p over the 60 distinct orders is 2/60."""
    check = drift_over_drops(make_sliding([4.0, 5.0, 6.0, ">30", ">30"]))
    assert check.outcome == DOES_NOT_HOLD
    assert_allclose(check.numbers["p of the rank trend"], 2 / 60)
    assert "2 of 5 not moved, which rank highest" in check.why
    assert drift_over_drops(make_sliding([">30"] * 5)).outcome == CANNOT_TELL


def test_drift_uses_the_hysteresis_of_pairs():
    check = drift_over_drops(make_angles([(112, 110), (113, 110), (114, 110), (115, 110), (116, 110)]))
    assert check.outcome == DOES_NOT_HOLD
    assert_allclose(check.numbers["slope [° a reading]"], 1.0)  # hand: 2, 3, 4, 5, 6


def test_too_few_drops_for_drift_and_outliers():
    run = make_sliding([3.0, 4.0, 5.0])
    assert (drift_over_drops(run).outcome, outliers(run).outcome) == (CANNOT_TELL, CANNOT_TELL)


def test_an_outlier_is_flagged_and_stays_in_the_run():
    """Published: uranium data of Tietjen & Moore 1972, e-Handbook 1.3.5.17.1, less 150 to be angles."""
    values = [49.31, 49.53, 50.19, 50.82, 51.92, 51.95, 52.18, 95.57]
    run = make_run("static_angle", values)
    check = outliers(run)
    assert check.outcome == DOES_NOT_HOLD
    assert check.numbers == {"readings": 8, "flagged": "95.6°"}
    assert "kept in every number" in check.why
    assert outliers(make_run("static_angle", values[:-1])).outcome == HOLDS


def test_checks_of_the_readings_do_not_apply_without_readings():
    empty = make_run("sliding_angle")
    assert [check(empty) for check in (angles_possible, drift_over_drops, outliers)] == [None, None, None]


def test_mass_against_the_balance():
    """Hand: ten steps of 0.1 mg are 1 mg."""
    assert mass_resolved(make_run("lubricant_mass", [1.0])).outcome == HOLDS
    assert mass_resolved(make_run("lubricant_mass", [0.99])).outcome == DOES_NOT_HOLD
    assert mass_resolved(make_run("lubricant_mass", [18.4], settings={})).outcome == CANNOT_TELL
    lost = Reading("lubricant_mass", None, "lost", reason="dropped")
    assert mass_resolved(make_run("lubricant_mass", readings=(lost,))) is None


def test_slope_of_a_drift_has_its_unit_and_a_minus_sign():
    """Hand: 5.6, 5.1, 3.9, 3.7, 3.0 against 1 … 5 has the least-squares slope −6.6/10 = −0.66."""
    assert "slope −0.7° a reading" in drift_over_drops(make_sliding([5.6, 5.1, 3.9, 3.7, 3.0])).why
