"""F2: kill -9 of every database process while people enter readings; the web process lives and starts it again."""

import time

import pytest

from tests.faults.figures import KILLS
from tests.faults.load import Load
from tests.faults.stored import check, half_runs


def kill_database_server(site, draw, kills, removed="", until_lost=False):
    """`until_lost`: stop at the first acknowledged entry that is missing."""
    begun, recoveries = time.monotonic(), []
    with site.nursery(removed) as nursery:
        site.start_web_from(nursery)
        half, work = set(), Load(site)
        site.ask("CHECKPOINT")  # who signed in for the control stays so
        with work as load:
            while len(recoveries) < kills:
                load.wait_for_an_answer()
                time.sleep(draw.uniform(0, 0.4))
                assert site.kill_database() > 1
                recoveries.append(load.wait_for_an_answer())
                half |= half_runs(site, load)
                if until_lost and check(site, load, "", 0, 0).lost:
                    break
        control = ", control: synchronous_commit off" if removed else ""
        note = f"{load.resent} times sent again; stored again after {max(recoveries):.1f} s at most"
        seconds, name = time.monotonic() - begun, f"F2 kill -9 of the database server{control}"
        return check(site, load, name, len(recoveries), seconds, note, half).tell(), load


@pytest.mark.parametrize("kills", KILLS)
def test_kill_9_of_the_database_loses_halves_and_doubles_nothing(site, draw, kills):
    found, load = kill_database_server(site, draw, kills)
    assert found.acknowledged > kills
    assert found.is_clean, found
    assert {status for status, _ in load.failures} <= {0, 503}
    assert site.ask("SELECT coalesce(sum(checksum_failures), 0) FROM pg_stat_database")[0][0] == 0
    assert site.ask("SHOW data_checksums")[0][0] == "on"


@pytest.mark.thorough
def test_without_durable_commits_a_loss_is_found(site, draw):
    """Control: the server acknowledges before its log is written."""
    site.kill_database()
    try:
        found, _ = kill_database_server(site, draw, 15, "durable_commit", until_lost=True)
    finally:
        site.kill_web()
        site.kill_database()
    assert found.lost > 0, found
