"""The front door: exactly the names that are promised, and nothing that reads clock, files or Django."""

import subprocess
import sys

import analysis

PROMISED = {
    "METHODS", "QUANTITIES", "SOURCES", "CRITERION_KINDS", "CODE_VERSION", "analyse_run",
    "analyse_batch", "judge", "reading_problems", "as_data", "register_method", "citation",
    "Problem", "Method", "ReadingKind", "Setting", "Quantity", "Run", "Reading", "Material",
    "Value", "Statistic", "Check", "RunResult", "BatchResult", "BatchGroup", "CouponValue",
    "Criterion", "Outcome", "Judgement",
}  # fmt: skip


def test_promised_names_are_offered():
    assert set(analysis.__all__) >= PROMISED
    for name in analysis.__all__:
        assert getattr(analysis, name) is not None


def test_all_records_and_constants_are_offered():
    from analysis import records

    public = {name for name, thing in vars(records).items() if name[0].isalpha() and _is_own(thing, name)}
    assert public <= set(analysis.__all__)


def _is_own(thing, name):
    return name.isupper() or getattr(thing, "__module__", "") == "analysis.records"


def test_importing_the_front_door_loads_neither_scipy_nor_pandas_nor_django():
    code = "import sys, analysis; print(sorted({'scipy', 'pandas', 'django'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
