"""Exposures between runs: declared once, recorded with their conditions, refused where they do not fit."""

import pytest
from django.urls import reverse

from analysis import EXPOSURES
from labrecords.actions import analyses, runs
from labrecords.errors import ConditionMissing, ValueRefused
from labrecords.models import TestRun
from labrecords.models.run import DOSE_KINDS
from labrecords.processes import DEFER, HAZARDS
from tests.factories import make_coupon, make_method_version, make_person, make_run, sliding

pytestmark = pytest.mark.django_db
every_exposure = pytest.mark.parametrize("key", EXPOSURES)


@pytest.fixture
def quality():
    return make_person("quality")


def filled(key):
    """Something possible for each condition: invented, for the test alone."""
    return {item.key: _possible(item) for item in EXPOSURES[key].conditions}


def _possible(setting):
    if setting.kind == "choice":
        return setting.choices[0][0]
    return "invented" if setting.kind == "text" else str((setting.low + setting.high) / 2)


def opened(by, key, **changes):
    fields = {
        "dose": 5.0,
        "dose_kind": EXPOSURES[key].dose_kinds[0],
        "exposure_kind": key,
        "exposure_conditions": filled(key),
    }
    return make_run(by, make_coupon(by), **fields | changes)


@every_exposure
def test_declaration_is_complete(key):
    exposure = EXPOSURES[key]
    assert exposure.purpose.endswith(".")
    assert set(exposure.dose_kinds) <= set(DOSE_KINDS) - {""}
    assert set(exposure.hazards) <= set(HAZARDS)
    assert exposure.conditions
    assert exposure.provenance
    assert all(item.low < item.high for item in exposure.conditions if item.kind == "number")


def test_every_exposure_that_can_hurt_shows_a_caution():
    """Common practice, no source: an upright drain and a tape peel carry none."""
    assert {key for key, item in EXPOSURES.items() if not item.hazards} == {"drain", "tape"}


def test_nothing_is_proposed_where_it_could_hurt():
    proposing = {key for key, item in EXPOSURES.items() for row in item.conditions if row.usual is not None}
    assert {key for key in proposing if EXPOSURES[key].hazards} == set()


@every_exposure
def test_exposure_is_recorded_with_its_conditions_and_reaches_the_analysis(quality, key):
    run = opened(quality, key)
    assert set(run.exposure_conditions) == {item.key for item in EXPOSURES[key].conditions}
    [(_, record, _)] = analyses.records_with_baselines(TestRun.objects.filter(pk=run.pk))
    assert record.exposure == run.exposure_text
    assert run.exposure_text.startswith(EXPOSURES[key].title)


@every_exposure
def test_missing_condition_is_refused_unless_a_reason_is_given(quality, key):
    lacking = next(item for item in EXPOSURES[key].conditions if item.is_required)
    conditions = filled(key)
    del conditions[lacking.key]
    with pytest.raises(ConditionMissing) as refused:
        opened(quality, key, exposure_conditions=conditions)
    assert refused.value.field == f"exposure_{lacking.key}"
    run = opened(quality, key, exposure_conditions=conditions, not_recorded="log sheet lost")
    assert lacking.key not in run.exposure_conditions


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"dose_kind": "L"}, "dose_kind"),
        ({"exposure_conditions": filled("abrasion") | {"is_wet": "damp"}}, "exposure_is_wet"),
        ({"exposure_conditions": filled("abrasion") | {"pressure_kpa": "1e9"}}, "exposure_pressure_kpa"),
        ({"exposure_conditions": filled("abrasion") | {"colour": "red"}}, "exposure_colour"),
    ],
)
def test_what_does_not_fit_is_refused_at_its_field(quality, changes, field):
    with pytest.raises(ValueRefused) as refused:
        opened(quality, "abrasion", **changes)
    assert refused.value.field == field


def test_exposures_of_different_conditions_are_never_pooled(quality):
    texts = {opened(quality, "abrasion", exposure_conditions=filled("abrasion") | {"pressure_kpa": p}).exposure_text
             for p in ("5", "10")}  # fmt: skip
    assert len(texts) == 2


def test_form_asks_for_the_conditions_of_the_chosen_exposure_and_shows_its_caution(client, quality):
    client.force_login(quality)
    version = make_method_version(quality)
    text = client.get(reverse("run-new"), {"method_version": version.pk, "exposure_kind": "steam"}).text
    assert "Temperature of the steam [°C]" in text
    assert HAZARDS["pressure_vessel"].caution in text
    assert DEFER in text
    assert "Abradant" not in text
    for name in ("dose", "dose_kind", "exposure_kind", "exposure", "remark"):
        assert text.count(f'name="{name}"') == 1


def test_form_stores_the_conditions(client, quality):
    client.force_login(quality)
    run = make_run(quality, make_coupon(quality))
    data = {
        "coupons": make_coupon(quality).code, "method_version": run.method_version_id, "liquid_lot": run.liquid_lot_id,
        "instrument": run.instrument_id, "drop_volume_ul": "10", "room_temperature_c": "22", "room_humidity_pct": "50",
        "observed_at": "2026-03-02T10:00", "dose": "20", "dose_kind": "cycles", "exposure_kind": "tape",
        "exposure_tape_kind": "invented tape, lot 3", "exposure_press": "roller", "exposure_peel_angle_deg": "90",
    }  # fmt: skip
    refused = client.post(reverse("run-new"), data)
    assert refused.status_code == 400
    assert "exposure_dwell_s" in refused.context["form"].errors
    assert client.post(reverse("run-new"), data | {"exposure_dwell_s": "60"}).status_code == 302
    stored = TestRun.objects.exclude(pk=run.pk).get()
    assert stored.exposure_conditions == {
        "tape_kind": "invented tape, lot 3", "press": "roller", "peel_angle_deg": 90.0, "dwell_s": 60.0,
    }  # fmt: skip
    runs.record(by=quality, run=stored, readings=sliding([3.0]))
    assert "Tape peel: invented tape, lot 3, roller, 90°, 60 s" in client.get(reverse("run", args=[stored.code])).text
