"""People at work through the API: several at once, each answer that says “stored” noted on the disk at once."""

import http.client
import json
import os
import random
import threading
import time
import uuid
from dataclasses import dataclass, field

DROPS = 12
PATIENCE_S = 120


class Unanswered(Exception):
    """Nobody knows whether the request was done."""


@dataclass
class Answer:
    status: int
    raw: bytes

    @property
    def is_stored(self):
        return 200 <= self.status < 300

    @property
    def data(self):
        return json.loads(self.raw)


class Client:
    """One signed-in person."""

    def __init__(self, site, username, token=""):
        self.site, self.username, self.token = site, username, token
        if not token:
            said = {"username": username, "password": site.facts["password"]}
            self.token = self.send("POST", "sign-in/", said).data["token"]

    def send(self, method, path, body=None, key="", kind="application/json", timeout=30):
        headers = {"Content-Type": kind}
        headers |= {"Authorization": f"Token {self.token}"} if self.token else {}
        headers |= {"Idempotency-Key": f'"{key}"'} if key else {}
        data = body.encode() if isinstance(body, str) else json.dumps(body).encode() if body is not None else None
        line = http.client.HTTPConnection("127.0.0.1", self.site.port, timeout=timeout)
        try:
            line.request(method, f"/api/{path}", data, headers)
            answer = line.getresponse()
            return Answer(answer.status, answer.read())
        except (OSError, http.client.HTTPException) as problem:
            raise Unanswered(str(problem)) from None
        finally:
            line.close()


@dataclass
class Journal:
    """What was acknowledged; a line is on the disk before the next request is sent."""

    path: object
    lines: list = field(default_factory=list)

    def __post_init__(self):
        self._file, self._lock = open(self.path, "a"), threading.Lock()  # noqa: SIM115

    def note(self, **entry):
        with self._lock:
            self._file.write(json.dumps(entry) + "\n")
            self._file.flush()
            os.fsync(self._file.fileno())
            self.lines.append(entry)

    def close(self):
        self._file.close()


class Load:
    """`clients` people who enter runs of twelve readings until they are stopped.

    Every other run comes as a file in one request; the others are opened, numbered by the lab, then filled.
    Unanswered requests and 5xx are sent again until they are answered, with the same key unless `with_keys` is false.
    """

    def __init__(self, site, clients=3, with_keys=True):
        self.site, self.with_keys = site, with_keys
        self.mark = uuid.uuid4().hex[:8]
        self.journal = Journal(site.folder / f"journal-{self.mark}")
        self.failures, self.refused, self.broken, self.resent = [], [], [], 0
        self.last_stored = 0.0
        people = [Client(site, site.facts["people"][0])]
        people += [Client(site, people[0].username, people[0].token) for _ in range(clients - 1)]
        self._ends = threading.Event()
        self._threads = [
            threading.Thread(target=self._work, args=(number, one), daemon=True) for number, one in enumerate(people)
        ]

    def __enter__(self):
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, kind, problem, trace):
        """Nobody begins anything new; what was begun is sent until it is answered."""
        self._ends.set()
        if problem is not None:
            return
        for thread in self._threads:
            thread.join(PATIENCE_S * 2)
        self.journal.close()
        assert not any(thread.is_alive() for thread in self._threads), "a client is stuck"
        assert self.broken == []

    def wait_for_an_answer(self, since=None):
        """Until something sent after `since` (a time of time.monotonic) was acknowledged; how long that took."""
        since, end = time.monotonic() if since is None else since, time.monotonic() + PATIENCE_S
        while self.last_stored < since:
            assert time.monotonic() < end, f"nothing is stored any more: {self.failures[-1:]} {self.refused[-1:]}"
            time.sleep(0.005)
        return time.monotonic() - since

    def _work(self, number, client):
        draw = random.Random(f"{self.mark} {number}")
        count = 0
        try:
            while not self._ends.is_set():
                count += 1
                uid = f"{self.mark}-{number}-{count}"
                values = [round(draw.uniform(2, 29), 2) for _ in range(DROPS)]
                coupon = draw.choice(self.site.facts["coupons"])
                (self._in_one_file if count % 2 else self._in_two_steps)(client, uid, coupon, values)
        except Exception as problem:  # told by finish(), in the test's own thread
            self.broken.append(repr(problem))

    def _in_one_file(self, client, uid, coupon, values):
        facts = self.site.facts
        head = f"{uid},{coupon},sliding_angle,{facts['method_version']},{facts['lot']},10,2026-03-02T09:00:00+00:00,0"
        lines = ["run,coupon,method,method_version,liquid,drop_volume_ul,observed_at,dose,drop,position,quantity,"
                 "qualifier,value"]  # fmt: skip
        lines += [f"{head},{drop},1,sliding_angle,measured,{value}" for drop, value in enumerate(values, 1)]
        address = f"readings/import/?name=file&instrument={facts['instrument']}"
        address += "&room_temperature_c=23&room_humidity_pct=50"
        if self._deliver(client, address, "\n".join(lines) + "\n", kind="text/csv"):
            self.journal.note(kind="file", uid=uid, values=values)

    def _in_two_steps(self, client, uid, coupon, values):
        facts = self.site.facts
        body = {
            "coupon": coupon,
            "method": "sliding_angle",
            "method_version": facts["method_version"],
            "liquid_lot": facts["lot"],
            "instrument": facts["instrument"],
            "drop_volume_ul": 10,
            "room_temperature_c": 23,
            "room_humidity_pct": 50,
            "observed_at": "2026-03-02T09:00:00+00:00",
            "remark": uid,
        }
        opened = self._deliver(client, "runs/", body)
        if not opened:
            return
        self.journal.note(kind="run", uid=uid)
        readings = [{"quantity": "sliding_angle", "drop": d, "value": value} for d, value in enumerate(values, 1)]
        if self._deliver(client, f"runs/{opened.data['code']}/readings/", {"version": 1, "readings": readings}):
            self.journal.note(kind="readings", uid=uid, values=values)

    def _deliver(self, client, path, body, **options):
        key, end = uuid.uuid4().hex if self.with_keys else "", time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            sent = time.monotonic()
            try:
                answer = client.send("POST", path, body, key, **options)
            except Unanswered as problem:
                answer = None
                self.failures.append((0, str(problem)))
            if answer and answer.is_stored:
                self.last_stored = sent
                return answer
            if answer and answer.status < 500:
                self.refused.append((path, answer.status, answer.raw.decode(errors="replace")[:300]))
                return None
            if answer:
                self.failures.append((answer.status, answer.raw.decode(errors="replace")))
            self.resent += 1
            time.sleep(0.03)
        raise TimeoutError(f"{path} was never answered: {self.failures[-1]}")
