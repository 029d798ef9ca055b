"""The first command of the README, as a newcomer runs it: real processes, real PostgreSQL, the PDFs read back."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from tests.journeys.tools import needs_poppler, pdf_text

ROOT = Path(__file__).resolve().parents[2]


def manage(*arguments, data, **more):
    environment = {key: value for key, value in os.environ.items() if not key.startswith("LABRECORDS_")}
    environment |= {"LABRECORDS_THROWAWAY": "1"}
    return subprocess.Popen(
        [sys.executable, "manage.py", *arguments, "--data", str(data)],
        cwd=ROOT,
        env=environment,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        **more,
    )


@pytest.fixture(scope="module")
def demo(open_folder):
    data = open_folder / "data"
    started = time.monotonic()
    process = manage("demo", data=data)
    out, err = process.communicate(timeout=240)
    assert process.returncode == 0, err
    return {"data": data, "out": out, "seconds": time.monotonic() - started}


def test_demo_prints_path_and_verdict_of_each_batch(demo):
    told = dict(re.findall(r"(D-[ABC]): (\w+)$", demo["out"], re.M))
    assert told == {"D-A": "pass", "D-B": "fail", "D-C": "inconclusive"}
    assert len(list((demo["data"] / "reports").glob("*.pdf"))) == 3
    assert "password" in demo["out"]


@pytest.mark.alone
def test_demo_is_quick_enough_for_a_first_look(demo):
    # 30 s is the promise for an idle machine of two cores; a busy one gets twice that here.
    assert demo["seconds"] < 60


# Expected: the invented scenario's own table, whose intervals were computed apart from this project
# (Student t over coupon values, numpy and scipy).
PRINTED = {
    "D-A": ["1.97° [1.59, 2.34]°", "3.6° [3.0, 4.1]°", "91.3 % [88.9, 93.7] %"],
    "D-B": ["6.35° [4.65, 8.05]°", "13.6° [9.1, 18.0]°", "70.2 % [65.9, 74.5] %"],
    "D-C": ["2.89° [1.35, 4.42]°", "5.4° [2.5, 8.4]°", "83.7 % [79.6, 87.8] %"],
}


@needs_poppler
@pytest.mark.parametrize("batch", PRINTED)
def test_report_prints_the_scenarios_digits(batch, demo):
    (path,) = (demo["data"] / "reports").glob(f"{batch}-*.pdf")
    text = re.sub(r"\s+", " ", pdf_text(path))
    for digits in PRINTED[batch]:
        assert digits in text


def test_second_time_adds_nothing(demo):
    def counted():
        script = (
            "from django.apps import apps\n"
            "print({m.__name__: m.objects.count() for m in apps.get_app_config('labrecords').get_models()})"
        )
        environment = os.environ | {"LABRECORDS_DATA": str(demo["data"]), "LABRECORDS_THROWAWAY": "1"}
        done = subprocess.run(
            [sys.executable, "manage.py", "shell", "-v0", "-c", script],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
        return done.stdout

    before = counted()
    assert "'Reading': 608" in before
    process = manage("demo", data=demo["data"])
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    assert out == demo["out"]
    assert counted() == before


def test_serves_pages_and_ends_cleanly_on_sigterm(demo):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    process = manage("demo", "--serve", "--port", str(port), data=demo["data"])
    try:
        page = ""
        for _ in range(120):
            try:
                page = urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5).read().decode()
                break
            except OSError:
                time.sleep(0.5)
        assert "<form" in page  # the sign-in page
        busy = manage("serve", "--port", str(port), data=demo["data"])
        _, err = busy.communicate(timeout=60)
        assert busy.returncode != 0
        assert "in use" in err
        assert "Traceback" not in err
    finally:
        process.send_signal(signal.SIGTERM)
        _, err = process.communicate(timeout=60)
    assert "Traceback" not in err
    assert not (demo["data"] / "pg" / "postmaster.pid").exists()


def test_folder_that_cannot_be_written_is_refused_in_one_sentence():
    process = manage("demo", data=Path("/proc/no-such-place"))
    _, err = process.communicate(timeout=60)
    assert process.returncode != 0
    assert "cannot be written" in err
    assert "Traceback" not in err


def test_python_too_old_is_refused_in_one_sentence():
    """manage.py is read by any Python 3: the refusal comes before anything that an older one cannot parse."""
    import ast

    source = (ROOT / "manage.py").read_text()
    ast.parse(source, feature_version=(3, 6))
    script = source.replace("sys.version_info < (3, 11)", "sys.version_info < (9, 0)")
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode != 0
    assert "Python 3.11 or newer" in done.stderr
    assert "Traceback" not in done.stderr
