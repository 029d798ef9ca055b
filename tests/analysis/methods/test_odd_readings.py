"""Odd but possible readings of every method: nothing raises on the way to a verdict, and what is said is right."""

import dataclasses
import json
import math
import re

import pytest
from numpy.testing import assert_allclose

from analysis.batch import analyse_batch
from analysis.criteria import CRITERION_KINDS, judge
from analysis.explanation import explain_batch, explain_judgement, explain_run
from analysis.formula import FORMULAS
from analysis.methods import METHODS
from analysis.optics import colour_difference
from analysis.problems import reading_problems
from analysis.quantities import QUANTITIES
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, MOVED_ON_PLACING, NOT_MOVED, Criterion, Reading, as_data
from analysis.run import analyse_run
from tests.analysis.runs import OIL, make_run

STAYED, GONE = ((30.0, NOT_MOVED),), ((0.0, MOVED_ON_PLACING),)
LIGHT = ("incident_light", "transmitted_light", "instrument_scatter", "specimen_scatter")
COLOUR = ("lightness", "green_red", "blue_yellow")
PROBES = ("water_probe_angle", "diiodomethane_probe_angle", "ethylene_glycol_probe_angle")
PAIR, BOUNCE = ("advancing_angle", "receding_angle"), ("rebound_height", "contact_time", "bounces")
COUNTS, TRACK = ("count_before", "count_after", "covered_share"), ("track_length", "track_time")

# method -> quantities, then runs; each run a row a drop; None: not read; (limit, qualifier): not read to the end
ODD = {
    "sliding_angle": (("sliding_angle",), [
        [(0,)] * 3, [(30,)] * 3, [STAYED] * 3, [GONE] * 3, [GONE, STAYED], [GONE, (5,), STAYED], [STAYED]]),
    "advancing_receding": (PAIR, [
        [(180, 180)] * 3, [(0, 0)] * 3, [(110, 0)] * 3, [(180, 0)], [(0.01, 0)] * 2, [(110, None), (None, 100)]]),
    "advancing_receding_tilt": ((*PAIR, "sliding_angle"), [
        [(180, 180, (90.0, NOT_MOVED))] * 2, [(110, 100, 0), (112, 0, 90)], [(110, 100, None)]]),
    "static_angle": (("static_angle",), [[(0,)] * 3, [(180,)] * 4, [(179.999,)], [(0.01,)] * 2, [(0,), (180,)]]),
    "probe_liquid_angles": (PROBES, [
        [(110, None, None)] * 3, [(None, 60, None)], [(0, 0, 0)] * 2, [(180, 180, 180)] * 2, [(170, 5, 60)] * 2,
        [(5, 170, 60)], [(90, 90, 90)] * 2]),
    "lubricant_mass": (("lubricant_mass",), [[(0,)], [(0.01,)], [(12,), (13,)]]),
    "ice_adhesion": (("peak_force",), [[(0,)] * 3, [((1e5, NOT_MOVED),)] * 3, [(0,), ((1e5, NOT_MOVED),)], [(1e-3,)]]),
    "freezing_delay": (("freezing_delay",), [
        [((1e6, NOT_MOVED),)] * 4, [(0,)] * 3, [(0,), ((1e6, NOT_MOVED),)], [(1e6,)] * 3]),
    "drop_speed": (TRACK, [[(40, 0)] * 3, [(0, 1)] * 3, [(40, 0.5), (40, 0)], [(40, None), (None, 0.5)]]),
    "bounce": (BOUNCE, [
        [(0, (1e5, NOT_MOVED), 0)] * 3, [(60, 12, 1)] * 3, [(60, 12, 1), (10, 12, 2)], [(0, None, None)]]),
    "transmittance_haze": (LIGHT, [
        [(100, 0, 1, 0)] * 3, [(0, 0, 0, 0)], [(100, 90, 2, 1)] * 3, [(100, 110, 1, 2)], [(100, 90, 1, 200)],
        [(100, 0, 1, 0), (100, 90, 1, 2)], [(100, 90, None, 2)]]),
    "colour": (COLOUR, [[(0, 0, 0)] * 3, [(50, -120, -80)] * 3, [(120, -200, 200)], [(50, -5, None)]]),
    "film_thickness": (("film_thickness",), [[(0,)] * 3, [(1e-9,)], [(1e7,)]]),
    "roughness": (("mean_height", "developed_area", "texture_depth"), [
        [(0, 0, 0)] * 3, [(1, 1e6, 1)], [(1, None, None)] * 2]),
    "cross_cut": (("lost_lattice",), [[(0,)] * 3, [(100,)] * 3, [(5,), (15,), (35,), (65,), (5.0001,)]]),
    "fouling_release": (COUNTS, [
        [(0, 0, 0)] * 3, [(5, 5, 0)], [(10, 0, 100)] * 3, [(1000, 2000, 5)], [(5, 0, None), (1000, 0, None)],
        [(1e12, 1, None)], [(1000, 9.99, None), (1000, 10, None)]]),
    "water_break": (("water_break_time",), [[(0,)], [((60.0, NOT_MOVED),)], [(5,), ((60.0, NOT_MOVED),)]]),
}  # fmt: skip
CASES = [(key, index) for key, (_, runs) in ODD.items() for index in range(len(runs))]
NONSENSE = re.compile(r"\bnan\b|\binf\b|\bNone\b|float64|array\(")


def odd_run(key, rows, **changes):
    found = [
        Reading(quantity, *(cell if isinstance(cell, tuple) else (float(cell),)), drop=drop)
        for drop, row in enumerate(rows, 1)
        for quantity, cell in zip(ODD[key][0], row, strict=True)
        if cell is not None
    ]
    return make_run(key, readings=tuple(found), **changes)


def check_of(run, key, baseline=None):
    return next((item for item in analyse_run(run, baseline).checks if item.key == key), None)


def notes_of(run):
    return " ".join(METHODS[run.method].notes(run))


def said(thing):
    return json.dumps(as_data(thing), ensure_ascii=False, allow_nan=False)


def test_every_method_has_odd_readings():
    assert set(ODD) == set(METHODS)


@pytest.mark.parametrize(("key", "index"), CASES)
def test_odd_readings_go_all_the_way(key, index):
    rows = ODD[key][1][index]
    run = odd_run(key, rows, is_textured=bool(index % 2), lubricant=OIL if index % 3 == 0 else None)
    assert reading_problems(key, run.settings, run.readings) == ()
    bare = dataclasses.replace(run, settings={}, liquid=None, drop_volume_ul=None, room_temperature_c=None)
    worn = dataclasses.replace(run, dose=20.0, dose_kind="cycles")
    for each, baseline in ((run, None), (bare, None), (worn, None), (worn, run)):
        result, chains = analyse_run(each, baseline), explain_run(each, baseline)
        assert len(chains) == len(result.statistics) + len(result.checks)
        for item in result.checks:
            assert item.why.endswith(".")
            assert not NONSENSE.search(item.why), item.why


@pytest.mark.parametrize("key", ODD)
@pytest.mark.parametrize("index", [0, 1, -1])
def test_every_rule_judges_every_statistic_of_odd_readings(key, index):
    rows = ODD[key][1][index]
    runs = [odd_run(key, rows, code=f"R{n}", coupon=f"C{n}") for n in range(3)]
    quantities = {item.quantity for item in (*METHODS[key].readings, *METHODS[key].derived)}
    criteria = [
        Criterion(f"{kind.key} {quantity} {side} {limit}", kind.key, quantity, limit, side=side)
        for kind in CRITERION_KINDS.values()
        for quantity in sorted(quantities)
        for side in ("at_most", "at_least")
        for limit in (0.0, 30.0)
        if kind.quantity in ("", quantity)
    ]
    judgement = judge(criteria, runs)
    chains = explain_judgement(criteria, runs, judgement)
    assert [chain.answer for chain in chains] == [outcome.verdict for outcome in judgement.outcomes]
    for outcome in judgement.outcomes:
        assert outcome.why.endswith(".")
        assert not NONSENSE.search(outcome.why), outcome.why
    assert said(judgement)
    assert said(explain_batch(runs))


# ---- what is said ------------------------------------------------------------------------------------


def test_speeds_are_compared_and_not_lengths_of_the_track():
    fresh = odd_run("drop_speed", [(40, time) for time in (0.5, 0.51, 0.52, 0.53, 0.54)])
    worn = dataclasses.replace(odd_run("drop_speed", [(40, time) for time in (1.5, 1.6, 1.7, 1.8, 1.9)]), dose=20.0)
    trend = check_of(worn, "trend", fresh)
    assert trend.outcome == DOES_NOT_HOLD  # hand: five against five without overlap, p = 2/252
    assert_allclose(trend.numbers["p"], 2 / 252)
    assert "Drop speed: median 76.9 mm/s at dose 0, 23.5 mm/s now" in trend.why  # hand: 40/0.52 and 40/1.7
    assert check_of(worn, "drift").outcome == DOES_NOT_HOLD


def test_haze_is_compared_and_not_the_light_of_the_lamp():
    def run(scattered, **changes):
        return odd_run("transmittance_haze", [(100, 90, 1, value) for value in scattered], **changes)

    trend = check_of(run([19, 19.2, 19.1, 19.3], dose=20.0), "trend", run([1.9, 2.0, 2.1, 2.2]))
    assert trend.outcome == DOES_NOT_HOLD
    assert trend.why.startswith("Haze: median 1.28 % at dose 0")  # hand: (2.05/90 − 1/100)·100


def test_log_reductions_are_compared_and_not_the_counts_before():
    """Hand: 1000 to 10 is 2.00, 1000 to 100 is 1.00; the count before is the same in both runs."""
    fresh = odd_run("fouling_release", [(1000, 10, None), (1000, 11, None), (1000, 12, None), (1000, 13, None)])
    rows = [(1000, 100, None), (1000, 101, None), (1000, 102, None), (1000, 103, None)]
    trend = check_of(odd_run("fouling_release", rows, dose=20.0), "trend", fresh)
    assert (trend.outcome, trend.why.split(":")[0]) == (DOES_NOT_HOLD, "Log reduction")


def test_checks_do_not_depend_on_which_quantity_was_typed_first():
    rows = [(10 + n % 3, 5 + 0.1 * n, n) for n in range(6)]
    run = odd_run("bounce", rows)
    back = dataclasses.replace(run, readings=tuple(sorted(run.readings, key=lambda item: (item.quantity, item.drop))))
    for key in ("drift", "outliers"):
        assert check_of(run, key).why == check_of(back, key).why
        assert check_of(run, key).why.startswith("Rebound height: ")


@pytest.mark.parametrize(
    ("key", "rows", "words"),
    [
        ("drop_speed", [(40, 0), (40, 0.5)], "1 of 2 tracks took no time"),
        ("bounce", [(60, 12, 1), (10, 12, 2)], "1 of 2 rebounds are higher than the fall"),
        ("transmittance_haze", [(100, 0, 1, 0), (100, 90, 1, 2)], "In 1 of 2 places no light"),
        ("fouling_release", [(5, 0, None), (1000, 500, None)], "1 of 2 counts before release lie below"),
        ("fouling_release", [(1000, 0, None), (1000, 500, None)], "1 of 2 counts after release lie below"),
    ],
)
def test_readings_from_which_nothing_follows_are_told(key, rows, words):
    run = odd_run(key, rows)
    assert words in notes_of(run)
    assert any(words in note for note in explain_run(run)[0].notes)
    assert notes_of(odd_run(key, [rows[-1]])) == ""


@pytest.mark.parametrize(
    ("row", "outcome", "words"),
    [
        ((100, 0, 1, 0), CANNOT_TELL, "No light comes in or passes"),
        ((0, 90, 0, 0), CANNOT_TELL, "No light comes in or passes"),
        ((100, 110, 1, 2), DOES_NOT_HOLD, "In 1 of 1 places more light passes than comes in"),
        ((100, 90, 1, 200), DOES_NOT_HOLD, "In 1 of 1 places more light passes than comes in, or is scattered"),
        ((100, 100.5, 1, 1.1), HOLDS, "so the method applies"),  # within the noise of light read twice
        ((100, 90, 2, 1), HOLDS, "The mean haze is −0.9 %"),  # hand: (1/90 − 2/100)·100
    ],
)
def test_scope_of_haze(row, outcome, words):
    check = check_of(odd_run("transmittance_haze", [row]), "haze_in_scope")
    assert check.outcome == outcome
    assert words in check.why


def test_a_drop_that_spreads_is_no_cap_that_evaporates():
    check = check_of(odd_run("static_angle", [(0,)] * 3), "evaporation")
    assert check.outcome == CANNOT_TELL
    assert "angle 0°" in check.why
    assert check_of(odd_run("static_angle", [(0.01,)] * 3), "evaporation").numbers["contact angle taken [°]"] == 0.01


@pytest.mark.parametrize(("model", "key"), [("owrk", "owens_wendt.owens_wendt"), ("wu", "wu.wu")])
def test_the_formula_told_is_that_of_the_chosen_model(model, key):
    run = odd_run("probe_liquid_angles", [(100, 50, 75), (101, 51, 76)])
    run = dataclasses.replace(run, settings={**run.settings, "model": model})
    chain = next(chain for chain in explain_run(run) if chain.key == "surface_energy_mean")
    statement = FORMULAS[f"wetting.surface_energy.{key}"].statement
    assert chain.steps[1].formula == statement
    [batch] = explain_batch([run]).values()
    told = next(chain for chain in batch if chain.key == "surface_energy_mean")
    assert statement in [step.formula for step in told.steps]


def test_colours_in_range_can_be_compared():
    """The bounds of what may be typed are those of the colour difference."""
    bounds = [(QUANTITIES[name].low, QUANTITIES[name].high) for name in COLOUR]
    assert math.isfinite(colour_difference([low for low, _ in bounds], [high for _, high in bounds]))


def test_four_drops_of_which_some_stayed_could_never_show_a_drift():
    check = check_of(odd_run("sliding_angle", [(10,), (11,), STAYED, STAYED]), "drift")
    assert (check.outcome, check.why) == (CANNOT_TELL, "Sliding angle: 2 of 4 not moved: no drift can be told.")


def test_a_batch_of_odd_readings_keeps_its_coupons():
    runs = [odd_run("drop_speed", rows, code=f"R{n}", coupon=f"C{n}") for n, rows in enumerate(ODD["drop_speed"][1])]
    speed = analyse_batch(runs).groups[0].statistic("drop_speed_mean")
    assert speed.value is None  # a coupon that was read and gives no value is not left out
    assert "no value can be given for: C0, C3" in speed.note


def test_a_count_on_the_detection_limit_was_seen():
    run = odd_run("fouling_release", [(10, 10, None), (10, 9.9, None)])  # the limit is 10
    result = analyse_run(run)
    assert [result.statistic(f"log_reduction_{name}").value for name in ("smallest", "not_moved")] == [0, 1]
    assert "before release" not in notes_of(run)


def test_roughness_factor_of_a_flat_and_of_a_rough_field():
    result = analyse_run(odd_run("roughness", [(1, 0, None), (1, 130, None)]))
    assert_allclose(result.statistic("roughness_factor_mean").value, 1.65)  # hand: (1 + 2.3)/2
