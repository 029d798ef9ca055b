"""Plain builders of runs for the tests; all values invented."""

from dataclasses import replace
from datetime import date, datetime

from analysis.methods import METHODS
from analysis.records import Material, Reading, Run, Value

SOURCE = "invented for the test"
WATER = Material(
    "W",
    "water",
    {
        "surface_tension": Value(72.0, "mN/m", SOURCE, 0.3),
        "dispersive_tension": Value(21.8, "mN/m", SOURCE, 1.0),
        "density": Value(997.0, "kg/m³", SOURCE),
    },
)
OIL = Material(
    "O",
    "lubricant",
    {
        "surface_tension": Value(20.0, "mN/m", SOURCE, 0.5),
        "interfacial_tension_water": Value(42.0, "mN/m", SOURCE, 1.0),
        "density": Value(960.0, "kg/m³", SOURCE),
    },
)
SETTINGS = {
    "advancing_receding": {
        "start_volume_ul": 4.0,
        "end_volume_ul": 10.0,
        "flow_rate_ul_per_s": 0.5,
        "pause_s": 10.0,
        "needle": "in",
        "fit": "Young–Laplace",
    },
    "sliding_angle": {
        "tilt_rate_deg_per_s": 1.0,
        "wait_s": 10.0,
        "stage_limit_deg": 30.0,
        "moved_rule": "both ends moved by one base width",
    },
    "static_angle": {"wait_s": 5.0, "fit": "Young–Laplace"},
    "fouling_release": {"detection_limit": 10.0},
    "lubricant_mass": {"balance_resolution_mg": 0.1, "drain_min": 60.0},
}


def example_settings(key):
    """Settings that a lab could have fixed: the usual ones where the declaration knows them, else within its bounds."""
    return {item.key: _example(item) for item in METHODS[key].settings} | SETTINGS.get(key, {})


def _example(setting):
    if setting.kind == "choice":
        return setting.choices[0][0]
    if setting.kind == "text":
        return "as invented for the test"
    if setting.usual is not None:
        return float(setting.usual)
    return float(setting.high if setting.limits_quantity else min(setting.high, max(setting.low, 50.0)))


def make_run(method, values=(), **changes):
    """A run whose drops read these values; of a pair the value is θr, and θa lies 2 to 5° above."""
    run = Run(
        code="R1",
        coupon="C1",
        method=method,
        readings=readings(method, values),
        settings=example_settings(method),
        liquid=WATER,
        drop_volume_ul=10.0,
        room_temperature_c=23.0,
        room_humidity_pct=50.0,
        observed_at=datetime(2025, 3, 1, 10),
        calibration_due=date(2025, 6, 1),
        instrument="Rig 1",
        coupon_area_mm2=1600.0,
    )
    return replace(run, **changes)


def readings(method, values):
    pair = METHODS[method].pair
    found = []
    for drop, value in enumerate(values, 1):
        if pair:
            above = value + 2 + (drop % 4)
            found += [Reading(pair[0], above, drop=drop), Reading(pair[1], value, drop=drop)]
        else:
            found += [Reading(kind.quantity, value, drop=drop) for kind in METHODS[method].readings]
    return tuple(found)


def make_angles(pairs, **changes):
    """A run with (θa, θr) of each drop."""
    found = []
    for drop, (advancing, receding) in enumerate(pairs, 1):
        found += [
            Reading("advancing_angle", advancing, drop=drop),
            Reading("receding_angle", receding, drop=drop),
        ]
    return make_run("advancing_receding", readings=tuple(found), **changes)


def make_sliding(values, **changes):
    """A run of sliding angles; the text ">30" is a drop that did not move by 30°."""
    found = tuple(
        Reading("sliding_angle", float(value[1:]), "not_moved", drop=drop)
        if isinstance(value, str)
        else Reading("sliding_angle", value, drop=drop)
        for drop, value in enumerate(values, 1)
    )
    return make_run("sliding_angle", readings=found, **changes)
