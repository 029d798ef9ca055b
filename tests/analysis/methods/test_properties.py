"""Property tests (Hypothesis) over all methods: what must hold whatever the readings are."""

import dataclasses
import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from analysis.batch import analyse_batch
from analysis.methods import METHODS
from analysis.problems import reading_problems
from analysis.quantities import QUANTITIES
from analysis.records import MEASURED, NOT_MOVED, Reading
from analysis.run import analyse_run
from tests.analysis.runs import OIL, WATER, make_run

every_method = pytest.mark.parametrize("key", METHODS)
CENSORED = [key for key, method in METHODS.items() if any(kind.can_be_not_moved for kind in method.readings)]
censored_method = pytest.mark.parametrize("key", CENSORED)
few = settings(max_examples=12, deadline=None)
ORDERED = {"drift"}  # the one check that looks at the order of the drops


def drawn(data, key, least=1, most=8):
    """Readings of every quantity of a method, each anywhere in its range; of a pair θr is the lower one."""
    method, found = METHODS[key], []
    count = data.draw(st.integers(least, most))
    for drop in range(1, count + 1):
        values = {kind.quantity: data.draw(_value(method, key, kind.quantity)) for kind in method.readings}
        if method.pair:
            high, low = method.pair
            values[high], values[low] = max(values[high], values[low]), min(values[high], values[low])
        found += [Reading(quantity, value, drop=drop) for quantity, value in values.items()]
    return tuple(found)


def _value(method, key, quantity):
    known = QUANTITIES[quantity]
    low = -200.0 if known.low is None else known.low
    high = 1e4 if known.high is None else known.high
    limit = make_run(key).settings.get(method.stage_limit_setting) if method.stage_limit_setting else None
    if limit is not None and method.setting(method.stage_limit_setting).limits_quantity == quantity:
        high = min(high, limit)
    return st.floats(low, high, allow_subnormal=False).map(lambda value: round(value, 4))


# Without a density the shape of the resting drop, which costs most of the time, is a thing that cannot be told.
SHAPELESS = dataclasses.replace(WATER, properties={k: v for k, v in WATER.properties.items() if k != "density"})


def run_of(key, readings, liquid=SHAPELESS, **changes):
    return dataclasses.replace(make_run(key, lubricant=OIL, liquid=liquid), readings=readings, **changes)


def values_of(result):
    return {item.key: item.value for item in result.statistics}


def same(one, other, rel=1e-9):
    if one is None or other is None:
        return one is other
    return one == other or math.isclose(one, other, rel_tol=rel, abs_tol=1e-9)


@every_method
@few
@given(data=st.data())
def test_whatever_is_read_in_range_has_no_problem_and_gives_finite_or_named_numbers(key, data):
    run = run_of(key, drawn(data, key), liquid=WATER)
    assert reading_problems(key, run.settings, run.readings) == ()
    for item in analyse_run(run).statistics:
        assert item.value is None or not math.isnan(item.value)
        assert (item.value is not None and math.isfinite(item.value)) or item.note


@every_method
@few
@given(data=st.data())
def test_order_of_the_drops_changes_no_statistic(key, data):
    readings = drawn(data, key, least=2)
    shuffled = data.draw(st.permutations(readings))
    forth, back = (values_of(analyse_run(run_of(key, tuple(rows)))) for rows in (readings, shuffled))
    assert set(forth) == set(back)
    assert all(same(forth[name], back[name], rel=1e-7) for name in forth), (forth, back)


@every_method
@few
@given(data=st.data(), factor=st.sampled_from([0.25, 0.5]))
def test_a_change_of_unit_scales_what_was_read(key, data, factor):
    """Readings in another unit: means, spreads, medians and extremes of what was read scale with it."""
    readings = tuple(item for item in drawn(data, key) if (QUANTITIES[item.quantity].low or 0) == 0)
    assume(readings)
    scaled = tuple(dataclasses.replace(item, value=factor * item.value) for item in readings)
    before, after = (values_of(analyse_run(run_of(key, rows))) for rows in (readings, scaled))
    for kind in METHODS[key].readings:
        for name in ("mean", "sd", "median", "smallest", "largest"):
            value = before.get(f"{kind.quantity}_{name}")
            if value is not None:
                assert same(after[f"{kind.quantity}_{name}"], factor * value, rel=1e-6)


@every_method
@few
@given(data=st.data())
def test_one_drop_has_a_value_and_no_spread(key, data):
    result = analyse_run(run_of(key, drawn(data, key, most=1)))
    assert result.statistics
    assert all(item.value is None for item in result.statistics if item.key.endswith("_sd"))


@every_method
@few
@given(data=st.data(), bad=st.sampled_from([math.nan, math.inf, -math.inf]))
def test_a_number_that_is_none_is_refused_wherever_it_stands(key, data, bad):
    readings = list(drawn(data, key))
    place = data.draw(st.integers(0, len(readings) - 1))
    readings[place] = dataclasses.replace(readings[place], value=bad)
    run = run_of(key, tuple(readings))
    assert "not_a_number" in {item.kind for item in reading_problems(key, run.settings, run.readings)}
    with pytest.raises(ValueError, match="finite number"):
        analyse_run(run)


@every_method
@few
@given(data=st.data())
def test_a_batch_has_one_value_a_coupon_and_no_interval_of_one_coupon(key, data):
    readings = drawn(data, key)
    [alone] = analyse_batch([run_of(key, readings)]).groups
    assert alone.coupons == ("C1",)
    for item in alone.statistics:
        if item.key.endswith(("_mean", "_median")):
            assert (item.low, item.high) == (None, None)
    more = [run_of(key, drawn(data, key), code=f"R{n}", coupon=f"C{n}") for n in (1, 2, 3)]
    [group] = analyse_batch(more).groups
    assert all(len(values) == 3 for values in group.coupon_values.values())
    for item in group.statistics:
        if item.low is not None and item.high is not None and item.value is not None and math.isfinite(item.value):
            assert item.low <= item.value <= item.high or math.isclose(item.low, item.high)


@every_method
@few
@given(data=st.data())
def test_no_interval_of_a_batch_leaves_the_physical_range(key, data):
    runs = [run_of(key, drawn(data, key), code=f"R{n}", coupon=f"C{n}") for n in (1, 2, 3)]
    for item in analyse_batch(runs).groups[0].statistics:
        quantity = item.key.rsplit("_", 1)[0]
        known = QUANTITIES.get(quantity)
        if known is None or not item.key.endswith(("_mean", "_median")):
            continue
        for end in (item.low, item.high):
            if end is not None and math.isfinite(end):
                assert known.low is None or end >= known.low - 1e-9, item
                assert known.high is None or end <= known.high + 1e-9, item


# ---- readings that stay beyond a limit ---------------------------------------------------------------


def censored(data, key, which):
    """Readings of the censored quantity: which(index) says whether the drop stayed at the limit."""
    method = METHODS[key]
    limit = make_run(key).settings[method.stage_limit_setting]
    quantity = method.setting(method.stage_limit_setting).limits_quantity
    count = data.draw(st.integers(2, 8))
    return quantity, tuple(
        Reading(quantity, limit, NOT_MOVED, drop=n)
        if which(n)
        else Reading(quantity, round(data.draw(st.floats(0.01, 0.9)) * limit, 4), drop=n)
        for n in range(1, count + 1)
    )


@censored_method
@few
@given(data=st.data())
def test_all_censored_lies_beyond_the_limit_and_never_gets_a_number(key, data):
    quantity, readings = censored(data, key, lambda n: True)
    result = analyse_run(run_of(key, readings))
    assert result.statistic(f"{quantity}_median").value == math.inf
    assert result.statistic(f"{quantity}_not_moved").value == len(readings)
    assert result.statistic(f"{quantity}_not_moved_bound").value == pytest.approx(100)
    [group] = analyse_batch([run_of(key, readings)]).groups
    assert group.statistic(f"{quantity}_median").value == math.inf


@censored_method
@few
@given(data=st.data())
def test_no_interval_of_censored_coupons_leaves_the_physical_range(key, data):
    stuck = data.draw(st.integers(0, 2))
    rows = [censored(data, key, lambda n, coupon=coupon: (n + coupon) % 3 <= stuck - 1)[1] for coupon in range(3)]
    runs = [run_of(key, row, code=f"R{n}", coupon=f"C{n}") for n, row in enumerate(rows)]
    for item in analyse_batch(runs).groups[0].statistics:
        known = next((QUANTITIES[name] for name in QUANTITIES if item.key.startswith(f"{name}_")), None)
        if known is None or item.key.endswith(("_sd", "_not_moved", "_share")):
            continue
        for end in (item.low, item.value, item.high):
            if end is not None and math.isfinite(end):
                assert known.low is None or end >= known.low - 1e-9, item
                assert known.high is None or end <= known.high + 1e-9, item


@censored_method
@few
@given(data=st.data())
def test_none_censored_gives_the_plain_median_and_no_share(key, data):
    quantity, readings = censored(data, key, lambda n: False)
    result = analyse_run(run_of(key, readings))
    ordered = sorted(item.value for item in readings)
    middle = (
        ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]
    ) / 2  # hand: the middle of the sorted values
    assert result.statistic(f"{quantity}_median").value == pytest.approx(middle, rel=1e-12)
    assert result.statistic(f"{quantity}_not_moved").value == 0
    assert {item.qualifier for item in readings} == {MEASURED}


@censored_method
@few
@given(data=st.data())
def test_a_drop_that_stayed_never_lowers_a_median(key, data):
    quantity, readings = censored(data, key, lambda n: n % 3 == 0)
    limit = make_run(key).settings[METHODS[key].stage_limit_setting]
    more = (*readings, Reading(quantity, limit, NOT_MOVED, drop=99))
    before, after = (analyse_run(run_of(key, rows)).statistic(f"{quantity}_median").value for rows in (readings, more))
    assert after >= before
