"""Numbers of results as text."""

import pytest

from labrecords.web import results


@pytest.mark.parametrize(
    ("value", "text"),
    [(None, "–"), ("inf", "beyond the limit"), (-1.23456, "−1.235"), (7, 7), ("+10.0 ± 1.2", "+10.0 ± 1.2")],
)
def test_numbers_of_a_check_are_told_in_words(value, text):
    row = {"numbers": {"allowed": value}, "outcome": "cannot tell", "source": "gum"}
    assert results.check(row)["rows"] == [("allowed", text)]


def test_a_median_beyond_names_the_limit_of_its_own_quantity():
    row = {
        "key": "log_reduction_median",
        "value": "inf",
        "low": None,
        "high": None,
        "decimals": 2,
        "unit": "",
        "source": "",
    }
    assert results.statistic(row)["text"] == "beyond the detection limit"
