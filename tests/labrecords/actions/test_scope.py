"""A standard's own limit against what the coupon is: a caution on the run, a deviation in the report."""

import pytest

from labrecords.actions import runs
from tests.factories import (
    issue_report,
    make_criteria,
    make_method_version,
    make_person,
    make_run,
    make_tested_batch,
)

pytestmark = pytest.mark.django_db


def with_cross_cut(by, thickness_um=20):
    batch = make_tested_batch(by, n=2, drops=2)
    version = make_method_version(by, "cross_cut", {"coating_um": thickness_um})
    for member in batch.members.filter(role="treated"):
        run = make_run(by, coupon=member.coupon, method_version=version)
        typed = [runs.Typed(quantity="lost_lattice", drop=place, value=3) for place in (1, 2, 3)]
        runs.complete(by=by, run=runs.record(by=by, run=run, readings=typed))
    return batch


def test_cross_cut_on_a_textured_coupon_prints_as_a_deviation():
    # published: scope of ISO 2409:2020 (not suitable for textured coatings), as its public preview gives it
    by = make_person("quality")
    report = issue_report(with_cross_cut(by), make_criteria(by))
    [row] = [row for row in report.evidence["deviations"] if "cross-cut" in row["what"]]
    assert "not suitable for textured coatings" in row["what"]
    assert row["impact"] == "the result is outside what the cited method covers"


def test_method_within_its_scope_is_no_deviation():
    by = make_person("quality")
    report = issue_report(make_tested_batch(by, n=2, drops=2), make_criteria(by))
    assert not [row for row in report.evidence["deviations"] if "scope" in row["what"]]
