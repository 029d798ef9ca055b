"""Pages of specifications and methods: forms that follow from the declarations."""

import pytest
from django.urls import reverse

from analysis import CRITERION_KINDS, METHODS
from labrecords.models import Criterion, CriterionRevision, MethodVersion
from tests.factories import make_criteria, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def person():
    return make_person("quality")


@pytest.fixture
def page(client, person):
    client.force_login(person)
    return client


HEAD = {"code": "S-1", "title": "Shedding", "fixed_on": "2026-01-31", "when_inconclusive": "six further coupons, once"}


def row(index, **fields):
    return {f"c{index}-{key}": value for key, value in fields.items()}


C1 = {"label": "C1", "kind": "mean_interval", "quantity": "hysteresis", "side": "at_most", "limit": "3,5",
      "role": "treated", "p_statistic": "mean", "p_confidence": "0,95", "drop_volume_ul": "10"}  # fmt: skip


def test_specification_with_decimal_comma_and_a_blank_row_left_out(page):
    answer = page.post(
        reverse("specification-new"), HEAD | {"rows": 2} | row(0, **C1) | row(1, label="C2", side="at_most")
    )
    assert answer.url == reverse("specification", args=["S-1"])
    stored = Criterion.objects.get()
    assert (stored.limit, stored.parameters) == (3.5, {"statistic": "mean", "confidence": 0.95})
    assert "at most 3.50°" in page.get(answer.url).text


@pytest.mark.parametrize(("change", "words"), [
    ({"limit": ""}, "Limit is missing."),
    ({"limit": "1_0"}, "is not a plain number"),
    ({"p_confidence": "2"}, "Confidence: 0.5 to 0.999"),
    ({"kind": "worst_coupon"}, "has no parameter confidence"),
])  # fmt: skip
def test_refused_criterion_keeps_what_was_typed(page, change, words):
    answer = page.post(reverse("specification-new"), HEAD | {"rows": 1} | row(0, **C1 | change))
    assert answer.status_code == 400
    assert words in answer.text
    assert 'value="S-1"' in answer.text
    assert not CriterionRevision.objects.exists()


def test_further_rows_keep_what_was_typed_and_store_nothing(page):
    answer = page.post(reverse("specification-new"), HEAD | {"rows": 1, "more": "1"} | row(0, **C1))
    assert len(answer.context["rows"]) == 3
    assert 'value="3,5"' in answer.text
    assert not CriterionRevision.objects.exists()


def test_next_revision_starts_from_the_last_and_needs_its_reason(page, person):
    first = make_criteria(person)
    url = reverse("specification-revise", args=[first.criterion_set.code])
    shown = page.get(url)
    assert shown.context["rows"][0]["limit"].value() == "10"
    data = {"fixed_on": "2026-02-28", "when_inconclusive": "stop", "rows": 1, **row(0, **C1)}
    assert page.post(url, data).status_code == 400
    assert page.post(url, data | {"why": "customer asked for hysteresis"}).status_code == 302
    assert list(first.criterion_set.revisions.values_list("number", "note")) == [
        (1, ""),
        (2, "customer asked for hysteresis"),
    ]


def test_every_declared_kind_and_parameter_is_offered(page):
    text = page.get(reverse("specification-new")).text
    for kind in CRITERION_KINDS.values():
        assert f'<option value="{kind.key}">' in text
        assert all(f'name="c0-p_{parameter.key}"' in text for parameter in kind.parameters)


@pytest.mark.parametrize("key", list(METHODS))
def test_method_version_form_asks_every_setting_and_begins_with_the_usual_value_alone(page, key):
    form = page.get(reverse("method-version-new", args=[key])).context["form"]
    assert {setting.key for setting in METHODS[key].settings} <= set(form.fields)
    for setting in METHODS[key].settings:
        usual = f"{setting.usual:g}" if isinstance(setting.usual, float) else setting.usual
        assert form[setting.key].value() == usual


def test_nothing_is_proposed_for_a_method_that_can_hurt():
    """Common practice, no source: a usual value stands only where it is a convention of optics or geometry."""
    proposing = {key for key, method in METHODS.items() if method.hazards and any(s.usual for s in method.settings)}
    assert proposing == {"probe_liquid_angles"}  # its usual value is the model of evaluation


def test_method_version_is_fixed_and_a_value_beyond_what_is_possible_refused(page):
    url = reverse("method-version-new", args=["sliding_angle"])
    data = {"tilt_rate_deg_per_s": "1,5", "wait_s": "10", "stage_limit_deg": "91", "moved_rule": "both lines moved"}
    refused = page.post(url, data)
    assert refused.status_code == 400
    assert "is above 90" in refused.text
    assert 'value="1,5"' in refused.text
    assert page.post(url, data | {"stage_limit_deg": "30"}).status_code == 302
    assert MethodVersion.objects.get().settings["tilt_rate_deg_per_s"] == 1.5
