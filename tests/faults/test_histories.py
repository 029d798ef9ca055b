"""F6: sixteen clients edit, exclude, complete, reopen and review the same twenty runs; two save the same one."""

import threading
import time

import pytest

from tests.faults.figures import Figures, long
from tests.faults.histories import anomalies, record
from tests.faults.load import Client


def open_runs(site, client, count):
    facts = site.facts
    body = {"method": "sliding_angle", "method_version": facts["method_version"], "liquid_lot": facts["lot"],
            "instrument": facts["instrument"], "drop_volume_ul": 10, "room_temperature_c": 23,
            "room_humidity_pct": 50, "observed_at": "2026-03-02T09:00:00+00:00"}  # fmt: skip
    return [
        client.send("POST", "runs/", body | {"coupon": coupon}).data["code"] for coupon in facts["coupons"][-count:]
    ]


def stored(site, runs):
    rows = site.ask("SELECT code, version, state FROM labrecords_testrun WHERE code = ANY(%s)", runs)
    values = {code: set() for code, _, _ in rows}
    sql = "SELECT code, value FROM labrecords_reading r JOIN labrecords_testrun t ON t.id = r.run_id"
    for code, value in site.ask(f"{sql} WHERE code = ANY(%s)", runs):
        values[code].add(value)
    return {code: (version, state, values[code]) for code, version, state in rows}


def make_history(site, seconds, removed="", count=20):
    begun, found, checked, done = time.monotonic(), [], 0, 0
    with site.nursery(removed) as nursery:
        site.start_web_from(nursery)
        first = Client(site, site.facts["people"][0])
        end = time.monotonic() + seconds
        while checked == 0 or time.monotonic() < end:
            # Reviewed runs change no more, so that a long history goes on with fresh ones.
            runs = open_runs(site, first, count)
            history = record(site, runs, min(60, max(end - time.monotonic(), seconds / 2)))
            found += anomalies(history, stored(site, runs))
            checked += len(history.operations)
            done += sum(item.is_done and item.kind != "look" for item in history.operations)
    control = ", control: version not checked" if removed else ""
    note = f"{checked} operations checked, {done} of them changes; {'; '.join(found[:3])}"
    Figures(f"F6 histories{control}", checked, 0, len(found), seconds=time.monotonic() - begun, note=note).tell()
    return history, found


@pytest.mark.parametrize("seconds", [8, pytest.param(long(300), marks=pytest.mark.slow)])
def test_history_of_sixteen_clients_on_twenty_runs_has_no_anomaly(site, seconds):
    history, found = make_history(site, seconds)
    assert found == []
    done = {item.kind for item in history.operations if item.is_done}
    assert {"look", "edit", "complete"} <= done
    assert any(item.status == 409 for item in history.operations), "nobody ever met a conflict"


@pytest.mark.thorough
def test_without_the_check_of_versions_anomalies_are_found(site):
    """Control."""
    _, found = make_history(site, 6, "check_of_version", count=2)
    assert any("lost update" in item for item in found), found


def save_at_once(site, tries, removed=""):
    """Two clients save the same run from the same version; how often both, one or none were told that it is stored."""
    begun, told = time.monotonic(), []
    with site.nursery(removed) as nursery:
        site.start_web_from(nursery)
        clients = [Client(site, name) for name in site.facts["people"][:2]]
        for part in range(0, tries, 40):
            [run] = open_runs(site, clients[0], 1)
            for number in range(min(40, tries - part)):
                told.append(_save_both(clients, run, number + 1))
    lost = sum(max(len(good) - 1, 0) for good in told)
    neither = sum(not good for good in told)
    control = ", control: version not checked" if removed else ""
    seconds = time.monotonic() - begun
    return Figures(
        f"Two save the same run{control}", tries, sum(map(len, told)), lost, wrong=neither, seconds=seconds
    ).tell()


def _save_both(clients, run, version):
    start, answers = threading.Barrier(2), [None, None]

    def save(index):
        readings = [{"quantity": "sliding_angle", "drop": 1, "value": round(2 + index + version / 1000, 4)}]
        body = {"version": version, "readings": readings, "why": "read once more"}
        start.wait()
        answers[index] = clients[index].send("POST", f"runs/{run}/readings/", body)

    threads = [threading.Thread(target=save, args=(index,)) for index in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert {answer.status for answer in answers} <= {200, 409}, [answer.raw for answer in answers]
    return [answer for answer in answers if answer.status == 200]


@pytest.mark.parametrize(
    "tries", [15, pytest.param(40, marks=pytest.mark.thorough), pytest.param(long(800), marks=pytest.mark.slow)]
)
def test_second_of_two_who_save_the_same_run_gets_a_conflict(site, tries):
    found = save_at_once(site, tries)
    assert found.acknowledged == tries
    assert found.is_clean, found


@pytest.mark.thorough
def test_without_the_check_of_versions_both_are_stored(site):
    """Control."""
    assert save_at_once(site, 10, "check_of_version").lost > 0
