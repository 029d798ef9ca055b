"""What the documents promise is there: commands, paths, columns, settings."""

import json
import re
from pathlib import Path

import pytest
from django.core.management import get_commands

from labrecords import history
from labrecords.exchange import conditions, readings
from labrecords.models.attachment import OWNERS
from tests.factories import make_person
from tests.labrecords.api.conftest import Caller

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_quick_start_is_two_commands_that_need_nothing_else():
    blocks = re.findall(r"^```\n(.*?)\n```$", README.split("## A tour")[0], re.M | re.S)
    start = "python3 -m venv .venv && .venv/bin/pip install -r requirements.txt && .venv/bin/python"
    assert blocks == [f"{start} manage.py demo --serve", f"{start} -m pytest"]


@pytest.mark.parametrize("name", sorted(set(re.findall(r"manage\.py (\w+)", README + GUIDE))))
def test_named_command_exists(name):
    assert name in get_commands()


@pytest.mark.parametrize(
    "path", sorted(set(re.findall(r"`((?:labrecords|analysis|tests|fixtures)/[\w/.]+)`", README + GUIDE)))
)
def test_named_path_exists(path):
    assert (ROOT / path).exists()


def test_csv_table_of_the_readme_lists_the_columns_of_the_import():
    table = README.split("## The readings file")[1].split("## REST API")[0]
    columns = re.findall(r"^\| `(\w+)` \|", table, re.M)
    assert columns[: len(readings.REQUIRED)] == list(readings.REQUIRED)
    assert sorted(columns) == sorted([*readings.REQUIRED, *readings.OPTIONAL])


def test_nouns_of_the_trail_are_the_ones_in_the_readme():
    told = README.split("The nouns of `/api/history/<noun>/` and of `copy_record`:")[1].split(".\n")[0]
    assert re.findall(r"`([\w-]+)`", told) == list(history.nouns())


def test_import_and_attachments_of_the_api_are_told_with_all_their_fields():
    told = README.split("- **`readings/import/`**")[1].split("| Address below")[0]
    imported, attached = told.split("- **`attachments/`**")
    assert [name for name in conditions.DEFAULTS if f"`{name}`" not in imported] == []
    assert [name for name in OWNERS if f"`{name}`" not in attached] == []


def test_first_day_by_the_api_runs_as_it_is_told(db):
    """Every request of the README, in an empty lab: each is taken, and they leave a batch whose step is done."""
    told = README.split("**A first day by the API**")[1].split("```sh\n")[1].split("```")[0]
    requests = re.findall(r"^post (\S+) '(.*)'$", told, re.M)
    assert len(requests) == len(told.splitlines())
    caller, codes = Caller(make_person("quality")), []
    make_person("operator", username="tavi")
    for path, body in requests:
        for number, code in enumerate(codes, start=1):
            body = body.replace(f"COUPON-{number}", code)
        status, data = caller.post(path, json.loads(body))
        assert status in (200, 201), (path, data)
        codes = [row["code"] for row in data] if path == "coupons/" else codes
    batch = caller.get("batches/B1/")[1]
    assert (batch["sampling"], len(batch["members"])) == ("all three coupons of the batch", 3)
    assert {caller.get(f"coupons/{code}/")[1]["state"] for code in codes} == {"ready"}


def test_every_setting_that_is_read_stands_in_the_example():
    read = set(re.findall(r'"((?:LABRECORDS|DATABASE)_\w+)"', (ROOT / "labrecords" / "settings.py").read_text()))
    told = set(re.findall(r"^# (\w+)=", (ROOT / ".env.example").read_text(), re.M))
    assert read <= told


def test_python_in_the_readme_runs():
    [code] = re.findall(r"^```python\n(.*?)^```$", README, re.M | re.S)
    found = {}
    *statements, last = code.split("\nfilm.")
    exec("\n".join(statements), found)  # noqa: S102
    assert round(found["wetting"].flat_tops_angle_deg(110, 0.25), 2) == 146.67  # V(calc) of the same posts: 146.668
    assert eval(f"film.{last}", found).outcome == "stable"  # noqa: S307


def test_tests_that_the_guide_names_exist():
    named = set(re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", GUIDE))
    assert len(named) > 50
    missing = [
        f"{path}::{name}"
        for path, name in sorted(named)
        if not (ROOT / path).exists() or (name and f"def {name}(" not in (ROOT / path).read_text(encoding="utf-8"))
    ]
    assert missing == []


def test_forty_statements_are_numbered_and_at_least_36_are_shown():
    rows = re.findall(r"^\| (\d+) \| .*? \| (.*) \|$", GUIDE, re.M)
    assert [int(number) for number, _ in rows] == list(range(1, 41))
    assert sum("**gap**" not in shown for _, shown in rows) >= 36
