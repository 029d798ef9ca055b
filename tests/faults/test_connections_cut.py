"""F4: connections to the database are cut at random moments while people enter readings."""

import json
import signal
import time
from contextlib import suppress

import psutil
import pytest

from tests.faults.figures import long
from tests.faults.load import Load
from tests.faults.stored import check


def cut_connections(site, draw, cuts, with_keys=True):
    begun, done = time.monotonic(), 0
    with site.nursery() as nursery:
        site.start_web_from(nursery)
        with Load(site, clients=4, with_keys=with_keys) as load:
            load.wait_for_an_answer()
            head = site.database_processes()[0]
            while done < cuts:
                time.sleep(draw.uniform(0, 0.12))
                done += _cut_one(head, draw)
                assert time.monotonic() - begun < 600
        control = "" if with_keys else ", control: no keys"
        note = f"{load.resent} times sent again"
        seconds = time.monotonic() - begun
        return check(site, load, f"F4 connections cut{control}", done, seconds, note).tell(), load


def _cut_one(head, draw):
    """SIGTERM to one of the workers that serve clients: what pg_terminate_backend sends."""
    clients = []
    for worker in head.children():
        with suppress(psutil.NoSuchProcess):
            if "labrecords [local]" in " ".join(worker.cmdline()):
                clients.append(worker)
    if not clients:
        return 0
    with suppress(psutil.NoSuchProcess):
        draw.choice(clients).send_signal(signal.SIGTERM)
        return 1
    return 0


@pytest.mark.parametrize("cuts", [25, pytest.param(long(500), marks=pytest.mark.slow)])
def test_cut_connections_lose_halve_and_double_nothing_and_tell_no_trace(site, draw, cuts):
    found, load = cut_connections(site, draw, cuts)
    assert found.is_clean, (found, load.refused[:3])
    assert load.failures, "no cut hit a request"
    for status, said in load.failures:
        assert status == 503, (status, said)
        assert json.loads(said)["message"] == "The database cannot be reached."
        assert set(json.loads(said)) == {"code", "field", "message"}, "no trace, no folder, no host"


@pytest.mark.slow
def test_without_keys_doubled_runs_are_found(site, draw):
    """Control: what failed is sent again without a key."""
    found, _ = cut_connections(site, draw, 500, with_keys=False)
    assert found.doubled > 0, found
