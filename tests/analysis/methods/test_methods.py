"""Every test method runs through the same properties: units, NaN, n = 1, order of readings, scaling."""

import dataclasses
import json
import math

import pytest
from numpy.testing import assert_allclose

from analysis.methods import METHODS, register
from analysis.problems import reading_problems
from analysis.quantities import QUANTITIES
from analysis.records import Reading, Run, as_data
from analysis.run import analyse_run
from analysis.sources import SOURCES
from tests.analysis.runs import OIL, example_settings, make_run

VALUES = [21.0, 19.5, 20.2, 22.4, 20.9]  # in the range of every quantity that a method reads
ORDERED = {"drift"}  # checks that look at the order of the drops

every_method = pytest.mark.parametrize("key", METHODS)


@every_method
def test_declaration_is_complete(key):
    method = METHODS[key]
    assert method.key == key
    assert {item.quantity for item in method.readings} <= set(QUANTITIES)
    assert set(method.standards) <= set(SOURCES)
    assert set(method.conditions) <= {item.name for item in dataclasses.fields(Run)}
    assert method.purpose.endswith(".")
    assert all((method.title, method.replicate_plan, method.provenance))
    limiting = [item.key for item in method.settings if item.limits_quantity]
    assert limiting == ([method.stage_limit_setting] if method.stage_limit_setting else [])


@every_method
def test_required_settings_are_met_and_within_bounds_by_the_example(key):
    """The builder's settings are what the other tests rest on."""
    given = example_settings(key)
    for item in METHODS[key].settings:
        assert item.key in given or not item.is_required
        if item.key in given and item.kind == "number":
            assert item.low <= given[item.key] <= item.high


@every_method
def test_wetting_methods_make_the_conditions_mandatory(key):
    if {"advancing_angle", "static_angle", "sliding_angle"} & {item.quantity for item in METHODS[key].readings}:
        wanted = {"liquid", "drop_volume_ul", "room_temperature_c", "room_humidity_pct", "instrument"}
        assert wanted <= set(METHODS[key].conditions)


@every_method
def test_statistics_take_label_and_unit_from_the_quantity(key):
    result = analyse_run(make_run(key, VALUES, lubricant=OIL))
    assert set(METHODS[key].coupon_statistics) <= {item.key for item in result.statistics}
    for item in result.statistics:
        quantity = next((known for known in QUANTITIES.values() if item.label.startswith(known.title)), None)
        assert quantity, item.label
        if not item.key.endswith(("_not_moved", "_not_moved_bound")):  # counts and shares of readings
            assert (item.unit, item.decimals) == (quantity.unit, quantity.decimals)
        assert item.source == "" or item.source in SOURCES


@every_method
def test_no_statistic_of_a_run_carries_an_interval_over_drops(key):
    """The coupon is the unit of replication: intervals belong to the batch."""
    result = analyse_run(make_run(key, VALUES))
    assert result.statistics
    assert {(item.low, item.high) for item in result.statistics} == {(None, None)}


@every_method
def test_checks_have_a_reason_and_a_source(key):
    checks = analyse_run(make_run(key, VALUES, lubricant=OIL, dose=20.0)).checks
    assert len({item.key for item in checks}) == len(checks) >= 3
    for item in checks:
        assert item.outcome in ("holds", "does not hold", "cannot tell")
        assert item.why.endswith(".")
        assert item.title
        assert item.source in SOURCES


@every_method
@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_numbers_that_are_none_are_refused(key, bad):
    run = make_run(key, [*VALUES, bad])
    assert "not_a_number" in {item.kind for item in reading_problems(key, run.settings, run.readings)}
    with pytest.raises(ValueError, match="finite number"):
        analyse_run(run)


@every_method
def test_good_readings_have_no_problem(key):
    run = make_run(key, VALUES)
    assert reading_problems(key, run.settings, run.readings) == ()


@every_method
def test_one_drop_has_a_value_and_no_spread(key):
    result = analyse_run(make_run(key, VALUES[:1]))
    for name in METHODS[key].coupon_statistics:
        found = result.statistic(name)
        assert found is None or math.isfinite(found.value)
    assert all(item.value is None for item in result.statistics if item.key.endswith("_sd"))


@every_method
def test_a_run_without_readings_has_no_statistics(key):
    result = analyse_run(make_run(key))
    assert (result.statistics, result.pairs, result.n_readings) == ((), (), 0)


@every_method
def test_order_of_the_readings_matters_for_drift_only(key):
    run = make_run(key, VALUES, lubricant=OIL)
    forth = analyse_run(run)
    back = analyse_run(dataclasses.replace(run, readings=run.readings[::-1]))
    for one, other in zip(forth.statistics, back.statistics, strict=True):
        assert one.key == other.key
        assert (one.value is None) == (other.value is None)
        assert one.value is None or one.value == pytest.approx(other.value, rel=1e-12, nan_ok=False)
    outcomes = [{item.key: item.outcome for item in side.checks if item.key not in ORDERED} for side in (forth, back)]
    assert outcomes[0] == outcomes[1]


@every_method
@pytest.mark.parametrize("factor", [0.5, 1.2])
def test_direct_statistics_scale_with_the_readings(key, factor):
    run = make_run(key, VALUES)
    scaled = dataclasses.replace(
        run, readings=tuple(dataclasses.replace(item, value=factor * item.value) for item in run.readings)
    )
    direct = [item.quantity for item in METHODS[key].readings]
    names = [f"{quantity}_{kind}" for quantity in direct for kind in ("mean", "median", "sd", "largest")]
    names += ["hysteresis_mean", "hysteresis_sd"] if METHODS[key].pair else []
    before, after = analyse_run(run), analyse_run(scaled)
    seen = [name for name in names if before.statistic(name)]
    assert len(seen) >= 2
    for name in seen:
        assert_allclose(after.statistic(name).value, factor * before.statistic(name).value, rtol=1e-12)


@every_method
def test_an_excluded_drop_counts_as_excluded_and_enters_no_number(key):
    run = make_run(key, VALUES)
    wrong = tuple(
        dataclasses.replace(item, value=item.value / 2, drop=99, excluded=True, reason="needle touched")
        for item in run.readings[: len(METHODS[key].readings)]
    )
    result = analyse_run(dataclasses.replace(run, readings=run.readings + wrong))
    clean = analyse_run(run)
    assert result.n_excluded == len(wrong)
    assert [item.value for item in result.statistics] == [item.value for item in clean.statistics]


@every_method
def test_a_lost_drop_counts_as_lost(key):
    run = make_run(key, VALUES)
    lost = Reading(METHODS[key].readings[0].quantity, None, "lost", drop=99, reason="dust on the lens")
    result = analyse_run(dataclasses.replace(run, readings=(*run.readings, lost)))
    assert (result.n_lost, result.n_readings) == (1, len(run.readings) + 1)


@every_method
def test_results_are_plain_data(key):
    result = analyse_run(make_run(key, VALUES, lubricant=OIL))
    assert json.loads(json.dumps(as_data(result), allow_nan=False))["coupon"] == "C1"


def test_a_key_is_never_used_twice():
    twin = dataclasses.replace(METHODS["sliding_angle"], title="another")
    with pytest.raises(ValueError, match="taken"):
        register(twin)
