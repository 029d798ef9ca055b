"""F10, second half: the clock of the web process is wrong; the trail's order and times are the database's."""

import itertools
import time
from datetime import UTC, datetime

import pytest

from tests.faults.figures import Figures
from tests.faults.load import Client
from tests.faults.test_histories import open_runs

AUTUMN = datetime(2026, 10, 25, 0, 59, 59, tzinfo=UTC)  # one second before central Europe sets its clocks back
STEPS = {
    "as it is": {},
    "an hour back": {"LABRECORDS_CLOCK_STEP": "-3600"},
    "a day ahead": {"LABRECORDS_CLOCK_STEP": "86400"},
    "another zone": {"LABRECORDS_TIME_ZONE": "Pacific/Auckland"},
    "end of summer time": {
        "LABRECORDS_TIME_ZONE": "Europe/Vienna",
        "LABRECORDS_CLOCK_STEP": str(AUTUMN.timestamp() - time.time()),
    },
}
EVENTS = """
    SELECT pgh_created_at FROM labrecords_testrunevent WHERE pgh_obj_id IN (
        SELECT id FROM labrecords_testrun WHERE code = ANY(%s)) ORDER BY pgh_id
"""
STAMPS = """
    SELECT created_at, completed_at, reviewed_at FROM labrecords_testrun WHERE code = ANY(%s)
    UNION ALL SELECT r.created_at, NULL, NULL FROM labrecords_reading r JOIN labrecords_testrun t ON t.id = r.run_id
    WHERE t.code = ANY(%s)
"""


def live_through(site, removed=""):
    """A run's life under each clock, one after the other; runs, and real time before and after."""
    begun, runs = datetime.now(UTC), []
    for environment in STEPS.values():
        steps = {"LABRECORDS_CLOCK_STEP": "0"} | environment
        with site.nursery(",".join(filter(None, ["steady_clock", removed])), **steps) as nursery:
            site.start_web_from(nursery)
            first, second = (Client(site, name) for name in site.facts["people"][:2])
            [run] = open_runs(site, first, 1)
            runs.append(run)
            readings = [{"quantity": "sliding_angle", "drop": 1, "value": 5}]
            for client, verb, body in (
                (first, "readings", {"version": 1, "readings": readings}),
                (first, "complete", {}),
                (second, "review", {}),
            ):
                answer = client.send("POST", f"runs/{run}/{verb}/", body)
                assert answer.is_stored, answer.raw
    return runs, begun, datetime.now(UTC)


def findings(site, runs, begun, ended):
    """How often the trail goes back, and how many stamps lie outside the time in which it really happened."""
    events = [at for (at,) in site.ask(EVENTS, runs)]
    assert len(events) >= 5 * len(STEPS) - len(STEPS)
    backward = sum(later < earlier for earlier, later in itertools.pairwise(events))
    stamps = [stamp for row in site.ask(STAMPS, runs, runs) for stamp in row if stamp] + events
    return backward, sum(not begun <= stamp <= ended for stamp in stamps), len(stamps)


@pytest.mark.thorough
@pytest.mark.parametrize("removed", ["", "server_clock"], ids=["", "control"])
def test_trail_keeps_its_order_and_nothing_is_dated_by_a_wrong_clock(site, removed):
    """Control: the stamps are those of the process."""
    began = time.monotonic()
    backward, misdated, count = findings(site, *live_through(site, removed))
    control = ", control: stamps of the process" if removed else ""
    note = f"{count} stamps; “half”: trail goes back; “wrong”: stamps outside the real time"
    seconds = time.monotonic() - began
    Figures(f"F10 clock steps{control}", len(STEPS), half=backward, wrong=misdated, seconds=seconds, note=note).tell()
    if removed:
        assert misdated > 0
    else:
        assert (backward, misdated) == (0, 0)
