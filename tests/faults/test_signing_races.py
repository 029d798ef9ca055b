"""F6: readings are corrected while reports on them are signed and issued. The chain's order decides who was first."""

import itertools
import random
import threading
import time

import pytest

from tests.faults.figures import Figures, long
from tests.faults.load import Client

SEED = """
import django, itertools, time
django.setup()
from labrecords.models import Person, TestRun
from tests import factories
factories._number = itertools.count(time.monotonic_ns())  # codes that no other process has given
by = Person.objects.get(username="first")
batch = factories.make_tested_batch(by, drops=3)
print(batch.code, factories.make_shedding_criteria(by).criterion_set.code)
print(*TestRun.objects.for_batch(batch).filter(method_version__method="sliding_angle").values_list("code", flat=True))
"""
READINGS = """
    SELECT run.code, event.position, event.drop, event.value
    FROM labrecords_link link
    JOIN labrecords_readingevent event ON event.pgh_id = link.event
    JOIN labrecords_testrun run ON run.id = event.run_id
    WHERE link.source IN ('labrecords_reading', 'labrecords_readingevent') AND event.pgh_label = 'insert'
        AND run.code = ANY(%s) AND link.seq < %s
    ORDER BY link.seq
"""
REPORTS = """
    SELECT report.report_number, link.seq, report.evidence
    FROM labrecords_qualification report
    JOIN labrecords_batch batch ON batch.id = report.batch_id
    JOIN labrecords_qualificationevent event ON event.pgh_obj_id = report.id AND event.pgh_label = 'insert'
    JOIN labrecords_link link ON link.event = event.pgh_id
        AND link.source IN ('labrecords_qualification', 'labrecords_qualificationevent')
    WHERE batch.code = %s ORDER BY link.seq
"""


class Race:
    """Two people correct readings, three take one report after the other through its signatures."""

    def __init__(self, site):
        head, runs = site.run(["-c", SEED]).splitlines()
        self.site, self.runs = site, runs.split()
        self.batch, self.criteria = head.split()
        self.people = {name: Client(site, name) for name in site.facts["people"]}
        self.saved = self.refused = 0
        self.trouble, self._ends = [], threading.Event()

    def go(self, seconds):
        workers = [threading.Thread(target=self._guarded, args=(self._correct, number)) for number in range(2)]
        workers.append(threading.Thread(target=self._guarded, args=(self._sign, 0)))
        for worker in workers:
            worker.start()
        time.sleep(seconds)
        self._ends.set()
        for worker in workers:
            worker.join(120)
        assert self.trouble == []

    def _guarded(self, work, number):
        try:
            work(number)
        except Exception as problem:
            self.trouble.append(repr(problem))

    def _correct(self, number):
        draw, client = random.Random(number), self.people["first"]
        for count in itertools.count(1):
            if self._ends.wait(draw.uniform(0.1, 1.2)):
                return
            run = draw.choice(self.runs)
            version = client.send("GET", f"runs/{run}/").data["version"]
            value = round(2 + number * 10 + count / 1000, 4)  # no two are alike
            readings = [{"quantity": "sliding_angle", "drop": draw.randint(1, 3), "value": value}]
            body = {"version": version, "why": "read once more", "readings": readings}
            self.saved += client.send("POST", f"runs/{run}/readings/", body).is_stored

    def _sign(self, number):
        """Steps until the corrections have ended, and then the one on its way to its end."""
        earlier, page = None, None
        while True:
            if page is None:
                body = {"batch": self.batch, "criteria": self.criteria}
                if earlier:
                    body |= {"amends": earlier, "amendment": "replaces", "amendment_reason": "corrected readings"}
                page = self._must("first", "assessments/", body)
            steps = {"draft": ("first", "complete"), "complete": ("third", "review"), "reviewed": ("second", "approve"),
                     "approved": ("second", "issue")}  # fmt: skip
            who, verb = steps[page["state"]]
            address, body = f"assessments/{page['id']}", {"version": page["version"]}
            signed = {} if verb == "issue" else {"password": self.site.facts["password"]}
            answer = self.people[who].send("POST", f"{address}/{verb}/", body | signed, timeout=60)
            if answer.is_stored:
                page = answer.data
            else:
                assert answer.data["code"] == "RecordsChanged", answer.raw
                self.refused += 1
                page = self._must("first", f"{address}/prepare-again/", {"why": "a reading was corrected"})
            if page["state"] == "issued":
                earlier, page = page["report"], None
                if self._ends.is_set():
                    return

    def _must(self, who, path, body):
        answer = self.people[who].send("POST", path, body, timeout=60)
        assert answer.is_stored, answer.raw
        return answer.data


def wrong_reports(site, race):
    """Reports that print other values than were the records' when they entered the chain."""
    reports, wrong = site.ask(REPORTS, race.batch), []
    for number, seq, evidence in reports:
        stored = {}
        for run, position, drop, value in site.ask(READINGS, race.runs, seq):
            stored[run, position, drop] = value
        printed = {
            (run["code"], reading["position"], reading["drop"]): reading["value"]
            for run in evidence["runs"]
            if run["code"] in race.runs
            for reading in run["readings"]
        }
        if printed != stored:
            wrong.append(number)
    return reports, wrong


def run_race(site, seconds, removed=""):
    begun = time.monotonic()
    with site.nursery(removed) as nursery:
        site.start_web_from(nursery)
        race = Race(site)
        race.go(seconds)
    reports, wrong = wrong_reports(site, race)
    control = ", control: changed records are not noticed" if removed else ""
    note = f"{len(reports)} reports issued among {race.saved} corrections, {race.refused} steps refused"
    seconds = time.monotonic() - begun
    return Figures(
        f"F6 signing against editing{control}", len(reports), wrong=len(wrong), seconds=seconds, note=note
    ).tell()


@pytest.mark.parametrize(
    "seconds", [pytest.param(8, marks=pytest.mark.thorough), pytest.param(long(240), marks=pytest.mark.slow)]
)
def test_report_prints_the_records_as_they_were_when_it_was_issued(site, seconds):
    found = run_race(site, seconds)
    assert found.tried >= 1
    assert found.is_clean, found


@pytest.mark.slow
def test_reports_of_changed_records_are_found(site):
    """Control: signatures and issue go on with what was prepared, whatever the records say now."""
    assert run_race(site, 60, "check_of_changed_records").wrong > 0
