"""Text files are read strictly: nothing is guessed, and every refusal knows its line."""

import pytest

from labrecords.errors import FileRefused
from labrecords.exchange import tidy

REQUIRED, OPTIONAL = ("run", "value"), ("note",)


def read(data, refusals=None):
    refusals = tidy.Refusals() if refusals is None else refusals
    rows = tidy.read(
        data if isinstance(data, bytes) else data.encode(),
        required=REQUIRED, optional=OPTIONAL, refusals=refusals,
    )  # fmt: skip
    refusals.end()
    return rows


def refused(data):
    with pytest.raises(FileRefused) as refusal:
        read(data)
    return [(found["line"], found["column"], found["rule"]) for found in refusal.value.lines]


def test_columns_may_stand_in_any_order():
    assert read("value,run\n4.5,R1\n")[0].cells == {"value": "4.5", "run": "R1"}


def test_byte_order_mark_is_allowed():
    assert read("run,value\nR1,4\n".encode("utf-8-sig"))[0].text("run") == "R1"


def test_semicolons_leave_the_decimal_comma_alone():
    assert read("run;value\nR1;4,5\n")[0].text("value") == "4,5"


@pytest.mark.parametrize("word", ["NA", "null", "nan", "None", ""])
def test_words_for_nothing_stay_text(word):
    assert read(f"run,value,note\nR1,4,{word}\n")[0].text("note") == word


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_lines_are_counted_whatever_ends_them(ending):
    assert [row.line for row in read(ending.join(["run,value", "R1,4", "", "R2,5", ""]))] == [2, 4]


def test_line_break_inside_quotes_is_refused_and_later_lines_keep_their_numbers():
    found = refused('run,value,note\nR1,4,"a\nb"\nR1,5,x,y\n')
    assert [(line, column) for line, column, _ in found] == [(2, "note"), (4, "")]


@pytest.mark.parametrize(
    ("data", "line", "part"),
    [
        (b"", 1, "the file is empty"),
        (b"\xef\xbb\xbf\n\n", 3, "the file is empty"),
        (b"run,value\n", 2, "a header and no readings"),
        ("run,value\nR1,4\nR2,5 °\n".encode("cp1252"), 3, "not UTF-8"),
        ("run,value\nR1,4\n".encode("utf-16"), 1, "not UTF-8"),
        (b"run,value\nR1,4\x00\n", 2, "control character"),
        (b"run,value\nR1,4\nR2\n", 3, "has 1 fields where the header has 2; the line may be cut off"),
        (b"run,value\nR1,4,5\n", 2, "a decimal comma needs quotes"),
        (b'run,value\nR1,"4\n', 2, "may be cut off"),
        (b"run,value\nR1,4\nR2,5", 3, "may be cut off"),
        (b"run;value,note\nR1;4,5\n", 1, "separated by either commas or semicolons"),
    ],
    ids=["empty", "blank", "header only", "cp1252", "utf-16", "nul", "cut line", "decimal comma", "open quote",
         "open end", "mixed separators"],
)  # fmt: skip
def test_file_that_is_not_whole_is_refused_with_its_line(data, line, part):
    found = refused(data)
    assert found[0][0] == line
    assert part in found[0][2]


def test_unknown_missing_and_double_columns_are_all_named():
    found = refused("value,value,angle\n1,2,3\n")
    assert [(column, rule.partition(";")[0]) for _, column, rule in found] == [
        ("value", "stands twice in the header"),
        ("angle", "is no known column"),
        ("run", "is missing in the header"),
    ]


def test_larger_file_than_allowed_is_refused_unread(monkeypatch):
    monkeypatch.setattr(tidy, "MOST_BYTES", 10)
    assert "is larger than" in refused("run,value\nR1,4\n")[0][2]


def test_refusals_end_at_200():
    assert len(refused("run,value\n" + "R1\n" * 300)) == 200


def qualified(data):
    refusals = tidy.Refusals()
    rows = tidy.read(data.encode(), required=("run", "value", "qualifier"), optional=(), refusals=refusals)
    refusals.end()
    return rows


def test_last_line_that_ends_after_its_value_may_be_what_is_left_of_not_moved():
    with pytest.raises(FileRefused) as refusal:
        qualified("run,value,qualifier\nR1,30,")
    assert "may be cut off" in refusal.value.lines[0]["rule"]
    assert qualified("run,value,qualifier\nR1,30,\n")[0].text("qualifier") == ""
    assert qualified("run,value,qualifier\nR1,30,not_moved")[0].text("qualifier") == "not_moved"
