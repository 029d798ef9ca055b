"""The columns of a readings file that say what a coupon went through."""

import pytest

from labrecords.models import TestRun
from tests.labrecords.exchange.test_readings import Bench

pytestmark = pytest.mark.django_db
CONDITIONS = "tape_kind=invented tape; press=roller; peel_angle_deg=90; dwell_s=60"


@pytest.fixture
def bench():
    return Bench()


def exposed(bench, **cells):
    return bench.row(**{"dose": "5 cycles", "exposure_kind": "tape", "exposure_conditions": CONDITIONS} | cells)


def test_kind_and_conditions_are_stored_as_declared(bench):
    bench.load([exposed(bench)])
    run = TestRun.objects.get()
    assert run.exposure_kind == "tape"
    assert run.exposure_conditions == {
        "tape_kind": "invented tape", "press": "roller", "peel_angle_deg": 90.0, "dwell_s": 60.0,
    }  # fmt: skip


def test_the_same_file_again_adds_nothing(bench):
    bench.load([exposed(bench)])
    report = bench.load([exposed(bench)])
    assert (report.runs_added, report.runs_known) == (0, 1)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"exposure_kind": "juggling"}, "is none of abrasion"),
        ({"exposure_conditions": "dwell_s"}, "key=value"),
        ({"exposure_conditions": f"{CONDITIONS}; colour=red"}, "is no setting"),
        ({"exposure_conditions": CONDITIONS.replace("60", "soon")}, "is not a plain number"),
        ({"dose": "5 L"}, "is not what tape peel is counted in"),
    ],
)
def test_what_does_not_fit_is_refused_with_its_line(bench, cells, words):
    [found] = bench.refused([exposed(bench, **cells)])
    assert found["line"] == 2
    assert words in found["rule"]
