"""Several people change the same runs at once; what they sent and were told is a history that can be checked."""

import itertools
import random
import threading
import time
from dataclasses import dataclass, field

from tests.faults.load import Client, Unanswered

CHANGED = {"edit", "exclude", "include", "complete", "reopen", "review"}


@dataclass
class Operation:
    kind: str
    run: str
    sent: float
    seen: int = 0  # the run's version that the request named, or that was looked at
    value: float | None = None
    told: float = 0.0
    status: int = 0  # 0: not answered, so nobody knows
    version: int = 0  # of the run in the answer
    state: str = ""
    values: tuple = ()

    @property
    def is_done(self):
        return 200 <= self.status < 300


@dataclass
class History:
    operations: list = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def note(self, operation):
        with self._lock:
            self.operations.append(operation)

    def of(self, run):
        return [item for item in self.operations if item.run == run]


class Worker:
    """One client at work on the shared runs. What it can do is the table DOES: a new verb is one line there."""

    def __init__(self, site, history, runs, client, number):
        self.history, self.runs, self.client = history, runs, client
        self.draw, self.values = random.Random(number), itertools.count(1)
        self.number, self.trouble = number, []

    def work(self, until, least):
        try:
            while time.monotonic() < until or len(self.history.operations) < least:
                run = self.draw.choice(self.runs)
                page = self._look(run)
                if page is not None:
                    kinds, weights = zip(*DOES.items(), strict=True)
                    self.draw.choices(kinds, weights)[0](self, run, page)
        except Exception as problem:  # told in the test's own thread
            self.trouble.append(repr(problem))

    def send(self, kind, run, path, body, **seen):
        operation = Operation(kind, run, time.monotonic(), **seen)
        try:
            answer = self.client.send("GET" if body is None else "POST", path, body, timeout=60)
            operation.status = answer.status
        except Unanswered:
            answer = None
        operation.told = time.monotonic()
        if operation.is_done:
            data = answer.data
            operation.version, operation.state = data.get("version", 0), data.get("state", "")
            operation.values = tuple(row["value"] for row in data.get("readings", ()))
        self.history.note(operation)
        return answer.data if operation.is_done else None

    def _look(self, run):
        return self.send("look", run, f"runs/{run}/", None)

    def edit(self, run, page):
        value = round(1 + self.number + next(self.values) / 10000, 4)  # no two are alike
        drop = self.draw.randint(1, 6)
        body = {"version": page["version"], "why": "read once more"}
        body["readings"] = [{"quantity": "sliding_angle", "drop": drop, "value": value}]
        self.send("edit", run, f"runs/{run}/readings/", body, seen=page["version"], value=value)

    def exclude(self, run, page):
        self._mark("exclude", run, page, is_excluded=False)

    def include(self, run, page):
        self._mark("include", run, page, is_excluded=True)

    def _mark(self, kind, run, page, is_excluded):
        rows = [row["id"] for row in page["readings"] if bool(row["excluded_by"]) is is_excluded]
        if rows:
            self.send(kind, run, f"readings/{self.draw.choice(rows)}/{kind}/", {"why": "dust"})

    def complete(self, run, page):
        self.send("complete", run, f"runs/{run}/complete/", {"version": page["version"]}, seen=page["version"])

    def reopen(self, run, page):
        self.send("reopen", run, f"runs/{run}/reopen/", {"why": "one drop missing"})

    def review(self, run, page):
        if page["state"] == "complete":
            self.send("review", run, f"runs/{run}/review/", {"version": page["version"]}, seen=page["version"])


DOES = {Worker.edit: 12, Worker.exclude: 3, Worker.include: 2, Worker.complete: 2, Worker.reopen: 1, Worker.review: 0.3}


def record(site, runs, seconds, clients=16, least=300):
    """The history of so many seconds, longer on a busy machine: until it has `least` operations."""
    history, until = History(), time.monotonic() + seconds
    people = [Client(site, name) for name in site.facts["people"]]
    workers = [
        Worker(site, history, runs, Client(site, one.username, one.token), number)
        for number, one in zip(range(clients), itertools.cycle(people))
    ]
    threads = [threading.Thread(target=worker.work, args=(until, least), daemon=True) for worker in workers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(seconds + 300)
    assert [trouble for worker in workers for trouble in worker.trouble] == []
    return history


def anomalies(history, stored):
    """What no order of whole operations explains. `stored`: run -> (version, state, values ever stored)."""
    found = []
    for run, (version, state, values) in stored.items():
        operations = history.of(run)
        found += _lost_updates(run, operations, version)
        found += _dirty(run, operations, values)
        found += _stale(run, operations)
        found += _after_review(run, operations, version, state)
    return found


def _lost_updates(run, operations, version):
    done = [item for item in operations if item.is_done and item.kind in CHANGED]
    seen = [item.seen for item in done if item.seen]
    for number in sorted({number for number in seen if seen.count(number) > 1}):
        yield f"lost update: {seen.count(number)} changes of {run} were made from version {number}"
    for item in done:
        if item.seen and item.version and item.version != item.seen + 1:
            yield f"lost update: {item.kind} of {run} at version {item.seen} was answered with {item.version}"
    unknown = sum(item.status == 0 and item.kind in CHANGED for item in operations)
    if not len(done) <= version - 1 <= len(done) + unknown:
        yield f"lost update: {run} is at version {version} after {len(done)} changes and {unknown} unknown ones"


def _dirty(run, operations, stored):
    maybe = {item.value for item in operations if item.value is not None and (item.is_done or item.status == 0)}
    for item in operations:
        if item.value is not None and item.is_done and item.value not in stored:
            yield f"lost update: {item.value} of {run} was acknowledged and is not stored"
        for value in set(item.values) - maybe:
            yield f"dirty read: {value} was seen in {run} and never saved"
    for value in stored - maybe:
        yield f"{value} is stored in {run} and was refused"


def _stale(run, operations):
    """Who asks after an answer was given sees at least that."""
    for item in operations:
        if item.kind == "look" and item.is_done:
            known = max((other.version for other in operations if other.told < item.sent), default=0)
            if item.version < known:
                yield f"stale read: {run} was at {known} and was then shown at {item.version}"


def _after_review(run, operations, version, state):
    reviews = [item for item in operations if item.kind == "review" and item.is_done]
    if len(reviews) > 1:
        yield f"{run} was reviewed {len(reviews)} times"
    for review in reviews:
        if state != "reviewed" or version != review.version:
            yield f"sign against edit: {run} was changed after its review ({review.version}, now {version} {state})"
        for item in operations:
            if item.is_done and item.kind in CHANGED and item.sent > review.told:
                yield f"sign against edit: {item.kind} of {run} was taken after its review"
