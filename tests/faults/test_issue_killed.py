"""F5: kill -9 at each step of an issue: a report is there with its whole file, or not at all."""

import hashlib
import io
import subprocess
import sys
import time
from contextlib import contextmanager

import pytest
from pypdf import PdfReader

from tests.faults.figures import Figures

SEED = """
import django, itertools, time
django.setup()
from labrecords.actions import assessments
from labrecords.models import Person
from tests import factories
factories._number = itertools.count(time.monotonic_ns())  # codes that no other process has given
first, second, third = (Person.objects.get(username=name) for name in ("first", "second", "third"))
batch = factories.make_tested_batch(first, drops=3, code="{0}", reviewer=third)
for _ in range(2):  # of two specifications: one is issued to count its steps, the other is killed
    revision = factories.make_shedding_criteria(first)
    row = assessments.prepare(by=first, batch=batch, criterion_revision=revision)
    for verb, by in ((assessments.complete, first), (assessments.review, third), (assessments.approve, second)):
        verb(by=by, assessment=row, version=1, password=factories.PASSWORD)
    print(row.pk)
"""


@contextmanager
def issuing(site, removed=""):
    """A function that issues in a process of its own up to a step; how many there were, 0 when it was killed."""
    pipe = subprocess.PIPE
    arguments = [sys.executable, "-m", "tests.faults.issuing", removed]
    with subprocess.Popen(arguments, **site.surroundings(), stdin=pipe, stdout=pipe, text=True, bufsize=1) as process:

        def issue(assessment, step):
            process.stdin.write(f"issue {assessment} {step}\n")
            return int(process.stdout.readline())

        yield issue
        process.stdin.close()


def issued(site, batch):
    """Number, digest and file of every report of the batch."""
    sql = (
        "SELECT report_number, sha256, file FROM labrecords_qualification q JOIN labrecords_batch b ON b.id = batch_id"
    )
    return site.ask(f"{sql} WHERE b.code = %s ORDER BY q.id", batch)


def is_whole(number, digest, file):
    file = bytes(file)
    if hashlib.sha256(file).hexdigest() != digest or not file.startswith(b"%PDF"):
        return False
    return number in PdfReader(io.BytesIO(file)).pages[0].extract_text()


def kill_at(site, steps, removed=""):
    """Kill an issue at the steps that `steps` gives for their number; reports in the end."""
    begun, tried, half, name = time.monotonic(), 0, 0, f"F{time.monotonic_ns()}"
    one, other = site.run(["-c", SEED.format(name)]).split()
    with issuing(site, removed) as issue:
        there_are = issue(one, 0)
        for step in steps(there_are):
            assert issue(other, step) == 0, f"step {step} was never reached"
            half += sum(not is_whole(*row) for row in issued(site, name))
            tried += 1
            if half:
                break
        else:
            issue(other, 0)
    rows = issued(site, name)
    doubled = len(rows) - len({number for number, _, _ in rows})
    note = f"an issue has {there_are} steps; {len(rows)} reports in the end, two issues were let through"
    control = ", control: row and file in two transactions" if removed else ""
    seconds = time.monotonic() - begun
    fault = f"F5 kill at a step of an issue{control}"
    return Figures(fault, tried, len(rows), 0 if half else 2 - len(rows), half, doubled, 0, seconds, note).tell(), rows


@pytest.mark.parametrize(
    "every", [28, pytest.param(13, marks=pytest.mark.thorough), pytest.param(1, marks=pytest.mark.slow)]
)
def test_kill_9_at_a_step_of_an_issue_leaves_a_whole_report_or_none(site, every):
    found, rows = kill_at(site, lambda there_are: range(1, there_are + 1, every))
    assert found.tried > 4
    assert found.is_clean, found
    numbers = [int(number.rpartition("-")[2]) for number, _, _ in rows]
    assert numbers == list(range(numbers[0], numbers[0] + len(rows))), "a number was given away"


@pytest.mark.thorough
def test_a_report_whose_row_is_committed_before_its_file_is_found(site):
    """Control: the last steps, since that is where the file goes."""
    found, _ = kill_at(site, lambda there_are: range(there_are, there_are - 8, -1), "file_with_its_row")
    assert found.half > 0, found
