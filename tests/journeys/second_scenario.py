"""A scenario that the demo does not have: hexadecane on a sprayed polyester, four coupons with unequal numbers of
drops, one of them where most drops did not move. All data are invented; what they mean is computed apart, with
scipy only.
"""

from __future__ import annotations

import re
from datetime import date

import numpy as np
from scipy import stats

from labrecords.actions import instruments, liquids, materials, methods, recipes
from tests.factories import make_criteria, make_lab

STAGE_LIMIT = 60
SLIDING = {
    "P1": [12.5, 14.0, 13.2, 15.1, 12.9, 14.4],
    "P2": [18.3, 17.1, 20.2, 19.5],
    "P3": [">", ">", 41.0, ">", ">"],
    "P4": [22.0, 25.4, 23.7],
}
PAIRS = {
    "P1": [(68.1, 55.0), (67.4, 54.1), (69.0, 55.3), (68.6, 54.9)],
    "P2": [(70.2, 53.8), (69.5, 52.6)],
    "P3": [(71.3, 44.1), (70.8, 45.7), (72.0, 44.9)],
    "P4": [(69.9, 50.1), (70.4, 51.2), (70.0, 50.7), (69.1, 50.0), (70.6, 51.5)],
}
TENSION = 27.47  # hexadecane at 20 °C, Jasper, J. Phys. Chem. Ref. Data 1 (1972) 841


def expected() -> dict:
    """What the readings mean, by numpy and scipy alone (independent)."""
    means = [np.mean([high - low for high, low in PAIRS[mark]]) for mark in PAIRS]
    cosines = [
        np.mean([np.cos(np.radians(low)) - np.cos(np.radians(high)) for high, low in PAIRS[mark]]) for mark in PAIRS
    ]
    medians = {mark: np.median([np.inf if v == ">" else v for v in values]) for mark, values in SLIDING.items()}
    low, high = stats.t.interval(0.95, len(means) - 1, loc=np.mean(means), scale=stats.sem(means))
    drops = [v for values in SLIDING.values() for v in values]
    stuck = drops.count(">")
    moved = [m for m in medians.values() if np.isfinite(m)]
    censored = stats.norm.fit(stats.CensoredData(uncensored=moved, right=[STAGE_LIMIT]))
    return {
        "hysteresis": (np.mean(means), low, high),
        "hysteresis_between_sd_of_means": np.std(means, ddof=1),
        "retention": TENSION * np.mean(cosines),
        "medians": medians,
        "not_moved": (stuck, len(drops)),
        "bound": 100 * stats.beta.ppf(0.95, stuck + 1, len(drops) - stuck),
        "censored_mean": censored[0],
    }


# The polyester's specification: hysteresis must stay at most 40°, sliding medians at most 30°, at most 2 drops stuck.
CRITERIA = [
    {
        "label": "H",
        "kind": "mean_interval",
        "quantity": "hysteresis",
        "limit": 40,
        "drop_volume_ul": 20,
        "parameters": {"statistic": "mean", "confidence": 0.95},
    },
    {
        "label": "S",
        "kind": "mean_interval",
        "quantity": "sliding_angle",
        "limit": 30,
        "drop_volume_ul": 20,
        "parameters": {"statistic": "median", "confidence": 0.95},
    },
    {
        "label": "N",
        "kind": "count_not_moved",
        "quantity": "sliding_angle",
        "limit": 2,
        "drop_volume_ul": 20,
        "parameters": {"confidence": 0.95},
    },
]
STEPS = [
    {"kind": "plasma_clean", "planned": {"duration_min": {"value": 5, "tolerance": 1}}},
    {
        "kind": "spray_coat",
        "planned": {"passes": {"value": 6, "tolerance": 0}, "distance_cm": {"value": 18, "tolerance": 2}},
    },
    {"kind": "bake", "planned": {"temperature_c": {"value": 80, "tolerance": 5}}},
]
SETTINGS = {
    "sliding_angle": {
        "tilt_rate_deg_per_s": 2,
        "wait_s": 5,
        "stage_limit_deg": STAGE_LIMIT,
        "moved_rule": "both contact lines moved by more than one base width",
    },
    "advancing_receding": {
        "start_volume_ul": 5,
        "end_volume_ul": 30,
        "flow_rate_ul_per_s": 0.3,
        "pause_s": 5,
        "needle": "needle in the drop",
        "fit": "tangent at the contact point",
    },
}


def surroundings(by, *, with_recipe=True):
    """Everything but coupons, batch, runs and qualification, through the actions."""
    make_lab(by)
    materials.log_lot(by=by, code="PES-3", material="Polyester", grade="plain weave", form="fabric", thickness_mm=0.3)
    liquid = liquids.create(by=by, code="HEX", name="Hexadecane")
    liquids.add_property(
        by=by, liquid=liquid, quantity="surface_tension", value=TENSION, uncertainty=0.1, source="Jasper 1972"
    )
    liquids.log_lot(by=by, code="HEX-1", liquid=liquid, prepared_on=date(2026, 5, 1), expires_on=date(2026, 12, 31))
    rig = instruments.create(by=by, code="RIG-9", title="Tilt stage")
    instruments.calibrate(by=by, instrument=rig, done_on=date(2026, 1, 2), due_on=date(2027, 1, 2), result="in order")
    for method, settings in SETTINGS.items():
        methods.fix_version(by=by, method=method, settings=settings, liquid=liquid, drop_volume_ul=20)
    if with_recipe:
        recipes.create(by=by, code="F-SH", title="Sprayed polyester", steps=STEPS)
    make_criteria(by, rows=CRITERIA, code="OIL-1", fixed_on=date(2026, 5, 2))


def readings_csv(codes: dict) -> bytes:
    """The readings as the tidy file, with semicolons and decimal commas as an instrument's export might have them."""
    lines = [
        "run;coupon;method;liquid;drop_volume_ul;dose;position;drop;quantity;value;qualifier;observed_at;instrument;room_temperature_c;room_humidity_pct"
    ]
    conditions = "2026-05-04T10:00;RIG-9;22,5;45"

    def line(run, mark, method, drop, quantity, value, qualifier=""):
        text = str(value).replace(".", ",")
        lines.append(f"{run};{codes[mark]};{method};HEX-1;20;0;{drop};1;{quantity};{text};{qualifier};{conditions}")

    for mark, values in SLIDING.items():
        for drop, value in enumerate(values, 1):
            stuck = value == ">"
            line(
                f"S-{mark}",
                mark,
                "sliding_angle",
                drop,
                "sliding_angle",
                "" if stuck else value,
                "not_moved" if stuck else "",
            )
    for mark, pairs in PAIRS.items():
        for drop, (high, low) in enumerate(pairs, 1):
            line(f"A-{mark}", mark, "advancing_receding", drop, "advancing_angle", high)
            line(f"A-{mark}", mark, "advancing_receding", drop, "receding_angle", low)
    return ("\n".join(lines) + "\n").encode()


def check_results(result: dict, codes: dict) -> None:
    """A batch result as JSON data, against the numbers computed apart."""
    want = expected()
    groups = {group["method"]: group for group in result["groups"]}

    def statistic(method, key):
        return next(item for item in groups[method]["statistics"] if item["key"] == key)

    hysteresis = statistic("advancing_receding", "hysteresis_mean")
    got = (hysteresis["value"], hysteresis["low"], hysteresis["high"])
    np.testing.assert_allclose(got, want["hysteresis"], rtol=1e-9)
    assert (hysteresis["n_coupons"], hysteresis["n_drops"]) == (4, 14)
    np.testing.assert_allclose(
        statistic("advancing_receding", "retention_per_width_mean")["value"], want["retention"], rtol=1e-9
    )
    medians = {row["coupon"]: row["value"] for row in groups["sliding_angle"]["coupon_values"]["sliding_angle_median"]}
    assert {mark: float(medians[code]) for mark, code in codes.items()} == want["medians"]
    stuck = statistic("sliding_angle", "sliding_angle_not_moved")
    assert (stuck["value"], stuck["n_drops"]) == want["not_moved"]
    np.testing.assert_allclose(
        statistic("sliding_angle", "sliding_angle_not_moved_share")["high"], want["bound"], rtol=1e-6
    )
    np.testing.assert_allclose(
        statistic("sliding_angle", "sliding_angle_censored_coupons")["value"], want["censored_mean"], rtol=1e-3
    )


def check_report(text: str) -> None:
    """The words of the issued PDF: the same numbers to the printed digits, and the verdict that follows from them."""
    want, text = expected(), re.sub(r"\s+", " ", text)
    mean, low, high = want["hysteresis"]
    assert f"{mean:.2f}° [{low:.2f}, {high:.2f}]°" in text
    assert "4 of 18" in text
    assert f"{want['bound']:.1f} %" in text
    assert "FAIL" in text  # 4 drops stuck, at most 2 allowed
