"""The files attached to a report: open, whole, and enough to compute every number again."""

import copy
import csv
import hashlib
import io
import json
import statistics

import pytest

from labrecords.reports.qualification import columns, lines, package, replay
from labrecords.reports.qualification.columns import READINGS, PackageProblem

pytestmark = pytest.mark.django_db  # the session's report is issued in the test database


@pytest.fixture(scope="module")
def evidence(issued):
    return issued[0]


@pytest.fixture(scope="module")
def files(evidence):
    return package.files(evidence)


def as_json(thing):
    return json.loads(json.dumps(thing))


def rows_of(files, name):
    """independent: the standard library's reader, as any script without our code would use it."""
    return list(csv.DictReader(io.StringIO(files[name].decode("utf-8"), newline="")))


def test_evidence_comes_back_whole_from_the_files(evidence, files):
    assert as_json(package.evidence_of(files)) == as_json(evidence)


def test_same_evidence_gives_the_same_files_also_after_storing(evidence, files):
    assert package.files(json.loads(json.dumps(evidence, sort_keys=True))) == files
    assert package.files(package.evidence_of(files)) == files


def test_every_number_is_computed_again_from_the_files_alone(evidence, files):
    again = replay.again(package.evidence_of(files))
    assert as_json(again) == as_json(evidence)


def test_recomputation_really_uses_the_attached_readings(evidence, files):
    """hand: one receding angle of one of three coupons with six drops 3° lower raises the mean hysteresis by 3/18°."""
    changed = package.evidence_of(files)
    run = next(run for run in evidence["runs"] if run["method"] == "advancing_receding" and run["role"] == "treated")
    row = next(r for r in changed["readings"] if r["run"] == run["code"] and r["quantity"] == "receding_angle")
    row["value"] -= 3
    before, after = (part["judgement"]["outcomes"][0]["value"] for part in (evidence, replay.again(changed)))
    assert after - before == pytest.approx(3 / 18)


def test_an_exclusion_taken_back_changes_the_numbers(evidence, files):
    changed = package.evidence_of(files)
    row = next(row for row in changed["readings"] if row["excluded"])
    row |= {"excluded": False, "excluded_because": "", "excluded_by": ""}
    again = replay.again(changed)
    assert as_json(again["groups"]) != as_json(evidence["groups"])
    assert again["counts"]["excluded"] == evidence["counts"]["excluded"] - 1


def test_all_readings_are_attached_with_state_and_reason(evidence, files):
    rows = rows_of(files, "readings.csv")
    (replaced,) = [row for row in rows if row["state"] == "replaced"]
    (newer,) = [row for row in rows if row["replaces"]]
    assert newer["replaces"] == replaced["id"]
    assert (replaced["value"], newer["value"], newer["corrected_because"]) == ("3.4", "3.9", "misread the scale")
    (excluded,) = [row for row in rows if row["excluded"] == "true"]
    assert (excluded["excluded_because"], excluded["excluded_by"]) == ("dust under the drop", "Q. Uality")
    lost = [row for row in rows if row["qualifier"] == "lost"]
    assert len(lost) == 4  # hand: the last drop of the sliding run of three treated coupons and the control
    assert {(row["value"], row["reason"]) for row in lost} == {("", "rolled off the edge & gone")}
    printed = sum(len(run["readings"]) for run in evidence["runs"])
    assert len(rows) == printed + 1


def test_a_script_without_our_code_finds_the_printed_median(evidence, files):
    """independent: csv and statistics of the standard library, from the attached files alone."""
    runs = {row["code"]: row for row in rows_of(files, "runs.csv")}
    late = {}
    for row in rows_of(files, "readings.csv"):
        run = runs[row["run"]]
        if run["dose"] == "20.0" and row["state"] == "current":
            late.setdefault(run["coupon"], []).append(float(row["value"]))
    mean = statistics.mean(statistics.median(values) for values in late.values())
    (line,) = [row for row in rows_of(files, "results.csv") if row["group"] == "C3"]
    assert float(line["value"]) == pytest.approx(mean)
    assert line["printed"].startswith(f"{mean:.1f}°")


def test_description_names_length_and_sha256_of_every_file(files):
    told = json.loads(files["datapackage.json"])
    assert told["$schema"] == "https://datapackage.org/profiles/2.0/datapackage.json"
    assert {row["path"] for row in told["resources"]} == set(files) - {"datapackage.json"}
    for row in told["resources"]:
        data = files[row["path"]]
        assert (row["bytes"], row["hash"]) == (len(data), f"sha256:{hashlib.sha256(data).hexdigest()}")


@pytest.mark.parametrize("name", package.TABLES)
def test_schema_describes_the_columns_that_are_there_and_every_cell_fits(name, files):
    told = next(row for row in json.loads(files["datapackage.json"])["resources"] if row["path"] == name)
    read = {"integer": int, "number": float, "boolean": {"true": 1, "false": 0}.__getitem__, "string": str}
    fields = told["schema"]["fields"]
    lines_found = list(csv.reader(io.StringIO(files[name].decode("utf-8"), newline="")))
    assert lines_found[0] == [field["name"] for field in fields]
    assert all(field["description"] for field in fields)
    for cells in lines_found[1:]:
        for cell, field in zip(cells, fields, strict=True):
            assert cell == "" or read[field["type"]](cell) is not None
    for key in told["schema"].get("primaryKey", ()):
        values = [cells[lines_found[0].index(key)] for cells in lines_found[1:]]
        assert len(set(values)) == len(values)


def test_tables_are_csv_by_rfc_4180_in_utf_8(files):
    for name in package.TABLES:
        assert files[name].endswith(b"\r\n")
        assert not files[name].startswith(b"\xef\xbb\xbf")
    assert "µ".encode() in files["readings.csv"] or "°".encode() in files["readings.csv"]


def test_every_outcome_statistic_and_coupon_value_is_a_line(evidence):
    found = lines.of(evidence)
    for item in evidence["judgement"]["outcomes"]:
        (line,) = [row for row in found if (row["kind"], row["group"]) == ("outcome", item["label"])]
        assert (line["value"], line["outcome"]) == (item["value"], item["verdict"])
    statistics_told = sum(len(group["rows"]) + len(group["further"]) for group in evidence["groups"])
    values = sum(len(row["values"]) for group in evidence["groups"] for row in group["coupons"])
    pairs = sum(len(run["pairs"]) for run in evidence["runs"])
    kinds = [row["kind"] for row in found]
    assert [kinds.count(kind) for kind in ("statistic", "coupon", "pair")] == [statistics_told, values, pairs]


def test_printed_values_of_outcomes_stand_on_the_pages(evidence, issued):
    """independent (pypdf): the text of results.csv is the text of the pages."""
    import pypdf

    text = "".join("".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(issued[1])).pages).split())
    for row in lines.of(evidence):
        if row["kind"] == "outcome" and row.get("printed"):
            assert "".join(row["printed"].split(" [")[0].split()) in text


@pytest.mark.parametrize(
    "typed", ["=1+1", "+1", "-5", "@x", "'quoted", "a\r\nb", 'say "x", y', "θ ≥ 5", "", " spaced ", "\tx", "x;y"]
)
def test_any_text_comes_back_as_it_was_and_is_never_a_formula(typed):
    row = dict.fromkeys((column.name for column in READINGS), None)
    row |= {column.name: "" for column in READINGS if column.kind == "string"} | {"run": typed, "drop": 3, "value": 0.1}
    data = columns.written(READINGS, [row])
    (back,) = columns.read(READINGS, data, "readings.csv")
    assert back == row
    cell = next(csv.DictReader(io.StringIO(data.decode(), newline="")))["run"]
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda files: files.pop("readings.csv"), "not attached: readings.csv"),
        (lambda files: files.update({"readings.csv": b"id,run\r\n1,x\r\n"}), "other columns"),
        (lambda files: files.update({"readings.csv": files["readings.csv"].replace(b"value", b"worth", 1)}), "columns"),
        (lambda files: files.update({"readings.csv": files["readings.csv"] + b"1,2\r\n"}), "2 cells where there are"),
        (lambda files: files.update({"readings.csv": b"\xff\xfe"}), "cannot be read as a table"),
        (lambda files: files.update({"readings.csv": b""}), "other columns than it should: nothing"),
        (lambda files: files.update({"readings.csv": files["readings.csv"].replace(b",3.9,", b",x,", 1)}), "no number"),
        (lambda files: files.update({"evidence.json": b"{"}), "evidence.json cannot be read"),
        (lambda files: files.update({"evidence.json": b"[]"}), "holds no object"),
        (lambda files: files.update({"evidence.json": b"[" * 100000}), "cannot be read"),
        (lambda files: files.update({"inputs.json": b'{"runs": []}'}), "do not fit"),
        (lambda files: files.update({"criteria.json": b"{}"}), "do not fit"),
    ],
)  # fmt: skip
def test_files_of_another_form_are_refused_by_name(change, said, files):
    changed = copy.copy(files)
    change(changed)
    with pytest.raises(PackageProblem, match=said):
        package.evidence_of(changed)
