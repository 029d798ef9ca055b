"""One stored run, end to end, on the invented batches of dew plates."""

import dataclasses

import pytest
from numpy.testing import assert_allclose

from analysis.records import CANNOT_TELL, DOES_NOT_HOLD
from analysis.run import analyse_run
from tests.analysis.demo_batches import DROPS, split
from tests.analysis.runs import OIL, make_angles, make_sliding

# Printed with the invented scenario, coupon by coupon: mean hysteresis, median sliding angle [deg]
PRINTED = {
    "A": ("2.36 1.88 2.32 1.66 2.10 1.48", "4.0 2.9 3.9 3.7 4.0 2.9"),
    "B": ("6.68 5.76 6.74 3.42 7.94 7.54", "13.0 12.5 18.8 6.3 16.0 14.8"),
    "C": ("4.96 1.28 4.06 1.40 2.50 3.12", "9.1 2.5 8.3 2.7 4.2 5.8"),
}


def runs_of(coupon):
    drops = split(coupon)
    angles = make_angles([(advancing, receding) for advancing, receding, _ in drops], lubricant=OIL)
    tilts = [tilt if tilt.startswith(">") else float(tilt) for *_, tilt in drops]
    return angles, make_sliding(tilts, lubricant=OIL, companion=angles)


@pytest.mark.parametrize("coupon", DROPS)
def test_coupons_of_the_demo_to_the_printed_digit(coupon):
    hysteresis, sliding = (column.split()[int(coupon[1:]) - 1] for column in PRINTED[coupon[0]])
    angles, tilts = (analyse_run(run) for run in runs_of(coupon))
    assert f"{angles.statistic('hysteresis_mean').value:.2f}" == hysteresis
    assert f"{tilts.statistic('sliding_angle_median').value:.1f}" == sliding


def test_demo_sliding_angles_never_contradict_the_retention_relation():
    """They were generated from that relation with 12 % noise: a check that refused one would be too sharp."""
    outcomes = {}
    for coupon in DROPS:
        (check,) = (c for c in analyse_run(runs_of(coupon)[1]).checks if c.key == "retention_relation")
        outcomes[coupon] = check.outcome
    assert DOES_NOT_HOLD not in outcomes.values()
    too_fine = [coupon for coupon, outcome in outcomes.items() if outcome == CANNOT_TELL]
    assert {"A06", "C02", "C04"} == set(too_fine)  # hysteresis below 1.5°: the angles cannot tell


def test_the_factor_two_mistake_would_be_seen():
    """Hand: twice the measured sine of the coupon with the largest hysteresis, 2·sin 16° -> 33.5°."""
    angles, _ = runs_of("B05")
    doubled = analyse_run(make_sliding([33.0, 33.5, 34.0], companion=angles))
    (check,) = (c for c in doubled.checks if c.key == "retention_relation")
    assert check.outcome == DOES_NOT_HOLD


def test_checks_of_a_lubricated_run_in_full():
    angles, tilts = (analyse_run(run) for run in runs_of("A01"))
    shared = {
        "angles_possible",
        "drift",
        "outliers",
        "evaporation",
        "calibration",
        "film_energies",
        "cloaking",
    }
    assert {check.key for check in angles.checks} == shared | {"drop_size"}
    assert {check.key for check in tilts.checks} == shared | {"retention_relation"}


def test_counts_and_pairs():
    run, _ = runs_of("A01")
    readings = [dataclasses.replace(item, excluded=item.drop == 2, reason="scratch") for item in run.readings]
    result = analyse_run(dataclasses.replace(run, readings=tuple(readings)))
    assert (result.n_readings, result.n_excluded, result.n_lost) == (10, 2, 0)
    assert [row["excluded"] for row in result.pairs] == [False, True, False, False, False]
    # hand: 1.8, 2.1, 2.9, 2.2 without the excluded drop
    assert_allclose(result.statistic("hysteresis_mean").value, 2.25)


def test_trend_appears_with_a_dose_only():
    fresh, _ = runs_of("A01")
    worn = dataclasses.replace(runs_of("B01")[0], dose=20.0, dose_kind="cycles")
    assert "trend" not in {check.key for check in analyse_run(fresh).checks}
    (trend,) = (check for check in analyse_run(worn, baseline=fresh).checks if check.key == "trend")
    assert trend.outcome == DOES_NOT_HOLD


def test_unknown_method_is_a_mistake_of_the_caller():
    with pytest.raises(KeyError):
        analyse_run(dataclasses.replace(runs_of("A01")[0], method="no_such_method"))
