"""F9: Hypothesis lives the lives of records against a real PostgreSQL, and finds planted bugs."""

import time

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.faults.figures import Figures, long
from tests.faults.life import Life, Materials
from tests.faults.planted import PLANTED

pytestmark = pytest.mark.django_db(transaction=True)
QUICK = ["correction overwrites", "version is not checked", "readings can be deleted"]


def live(lives, steps, shrink=True):
    """So many lives of so many steps; how many rules were really followed."""
    followed = 0

    class Counted(Life):
        materials = Materials()

        def check_invariants(self, settings, *args, **kwargs):
            nonlocal followed
            followed += 1
            return super().check_invariants(settings, *args, **kwargs)

    phases = [Phase.explicit, Phase.generate, *([Phase.shrink] if shrink else [])]
    chosen = settings(
        max_examples=lives,
        stateful_step_count=steps,
        deadline=None,
        database=None,
        derandomize=True,
        phases=phases,
        suppress_health_check=list(HealthCheck),
    )
    begun = time.monotonic()
    run_state_machine_as_test(Counted, settings=chosen)
    return followed, time.monotonic() - begun


@pytest.mark.parametrize(
    ("lives", "steps"), [(6, 40), pytest.param(long(2300), 50, marks=pytest.mark.slow)], ids=["short", "long"]
)
def test_lives_of_records_go_as_the_model_says(lives, steps):
    followed, seconds = live(lives, steps)
    Figures("F9 lives of records", followed, seconds=seconds, note=f"{lives} lives of up to {steps} steps").tell()
    assert followed > lives * 10


LIVES_OF_CONTROL = (60, 50)


def is_noticed(name):
    with PLANTED[name]():
        try:
            live(*LIVES_OF_CONTROL, shrink=False)
        except BaseException as problem:  # an ExceptionGroup, where one bug is noticed in several ways
            if isinstance(problem, KeyboardInterrupt):
                raise
            return f"{type(problem).__name__}: {str(problem).splitlines()[0] if str(problem) else ''}"[:150]
    return ""


@pytest.mark.parametrize("name", QUICK)
def test_planted_bug_is_noticed(name):
    """Control."""
    assert is_noticed(name)


@pytest.mark.slow
def test_most_planted_bugs_are_noticed():
    """Control."""
    begun = time.monotonic()
    live(*LIVES_OF_CONTROL, shrink=False)  # the very same lives are clean when nothing is planted
    noticed = {name: is_noticed(name) for name in PLANTED}
    for name, how in noticed.items():
        print(f"{name}: {how or 'NOT NOTICED'}")
    count = sum(map(bool, noticed.values()))
    missed = ", ".join(name for name, how in noticed.items() if not how)
    note = f"{count} of {len(PLANTED)} planted bugs noticed; missed: {missed or 'none'}"
    Figures("F9 planted bugs", len(PLANTED), seconds=time.monotonic() - begun, note=note).tell()
    assert len(PLANTED) >= 20
    assert count >= 18
