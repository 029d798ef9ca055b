"""F1: kill -9 of the web process while people enter readings; they send again with the same key."""

import time

import pytest

from tests.faults.figures import KILLS
from tests.faults.load import Load
from tests.faults.stored import check, half_runs


def kill_web_process(site, draw, kills, removed="", with_keys=True):
    begun = time.monotonic()
    with site.nursery(removed) as nursery:
        site.start_web_from(nursery)
        half = set()
        with Load(site, with_keys=with_keys) as load:
            for _ in range(kills):
                load.wait_for_an_answer()
                time.sleep(draw.uniform(0, 0.3))
                site.kill_web()
                half |= half_runs(site, load)
                site.start_web_from(nursery)
        control = ", control: every statement commits" if removed else "" if with_keys else ", control: no keys"
        seconds, note = time.monotonic() - begun, f"{load.resent} times sent again"
        return check(site, load, f"F1 kill -9 of the web process{control}", kills, seconds, note, half).tell()


@pytest.mark.parametrize("kills", KILLS)
def test_kill_9_of_the_web_process_loses_halves_and_doubles_nothing(site, draw, kills):
    found = kill_web_process(site, draw, kills)
    assert found.acknowledged > kills
    assert found.is_clean, found


@pytest.mark.thorough
def test_without_one_transaction_half_runs_are_found(site, draw):
    """Control: every statement commits by itself, and nothing is kept of a key."""
    found = kill_web_process(site, draw, 10, "one_transaction", with_keys=False)
    assert found.half > 0, found


@pytest.mark.slow
def test_without_keys_doubled_runs_are_found(site, draw):
    """Control: what was not answered is sent again without a key."""
    found = kill_web_process(site, draw, 60, with_keys=False)
    assert found.doubled > 0, found
